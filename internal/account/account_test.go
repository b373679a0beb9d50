package account_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/apperr"
)

// safetyTable is who may what, word for word as the project's safety rules have it.
const safetyTable = `
| | organiser | desk | cutting | packing | reader | volunteer link | recipient link |
| --- | --- | --- | --- | --- | --- | --- | --- |
| drive, asked for, sizes, people who sign in | write | read | read | read | read | – | own, read |
| fabric in, labels | write | write | read | read | read | – | – |
| plan, accept, change | write | read | write | read | read | – | – |
| sign out sheets, mark cut, short | write | – | write | – | read | – | – |
| hand out, take back | write | write | write | write | read | own kits | – |
| check, pack, deliver | write | – | – | write | read | – | confirm own |
| volunteers' addresses and phones | write | read | – | read | – | own | – |
| the books | write | – | – | – | read, without addresses | – | – |
| import, backup | write | – | – | – | – | – | – |
`

// Cell by cell: the code's table against the words.
func TestWhoMayWhat(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(safetyTable), "\n")
	cells := func(line string) []string {
		parts := strings.Split(strings.Trim(line, "| "), "|")
		for i := range parts {
			parts[i] = strings.TrimSpace(parts[i])
		}
		return parts
	}
	words := map[string]account.Access{
		"–": account.None, "read": account.Read, "write": account.Write,
		"own": account.Own, "own kits": account.Own, "confirm own": account.Own,
		"own, read":               account.Own,  // what is theirs, on a page of their own
		"read, without addresses": account.Read, // addresses are another line: contacts
	}
	heads := strings.Split(lines[0], "|")[2:]
	for i, role := range account.Roles() {
		require.Equal(t, string(role), strings.TrimSpace(heads[i]), "the roles stand in this order")
	}
	require.Len(t, lines[2:], len(account.Areas()))
	compared := 0
	for i, area := range account.Areas() {
		row := cells(lines[2+i])
		require.Len(t, row[1:], len(account.Roles()), row[0])
		for j, role := range account.Roles() {
			want, known := words[row[1+j]]
			require.True(t, known, "%q", row[1+j])
			require.Equal(t, want, role.Allows(area), "%s: %s as %s", row[0], area, role)
			compared++
		}
	}
	require.Equal(t, 63, compared)
	require.Equal(t, account.None, account.Reader.Allows(account.Contacts), "the books of a reader hold no addresses")
	require.Equal(t, account.None, account.Role("").Allows(account.Drive))
	require.Equal(t, account.None, account.Role("queen").Allows(account.Drive))
	require.Equal(t, account.None, account.Organiser.Allows("attic"))
}

func TestParseRole(t *testing.T) {
	for _, role := range account.Roles() {
		got, err := account.ParseRole(string(role))
		if role.SignsIn() {
			require.NoError(t, err)
			require.Equal(t, role, got)
			continue
		}
		require.True(t, apperr.Is(err, apperr.KindInvalid), "%s belongs to a link, nobody signs in as it", role)
	}
}

func TestPasswords(t *testing.T) {
	h := account.NewHasherAt(64, 1)
	for password, good := range map[string]bool{
		"heron lamp seventeen":        true,
		"twelve chars":                true,
		"eleven char":                 false,
		"":                            false,
		"            ":                false,
		"aaaaaaaaaaaaaaaa":            false,
		"żółć i gęś, 7 łąk":           true,
		"x rosa@example.org x":        false,
		strings.Repeat("a b ", 300):   false,
		"\xff\xfe not text, but long": false,
		"password1234":                false,
		"passwordpassword":            false,
		"P@ssw0rd2026":                false,
		"123456789012":                false,
		"qwertyuiop12":                false,
		"iloveyou1234":                false,
		"abcabcabcabc":                false,
		"Sunshine2026":                false,
		"29.11.2026!!":                false,
		"rosarosarosa":                false,
		"Boltward1234":                false,
		"kqzvwxjtrpmn":                true,
		"correct owl on a battery":    true,
		"日本語の鷺は夜明けに飛ぶよね":                    true,
		strings.Repeat("owl at dusk, ", 40): true,
	} {
		hash, err := h.Hash(password, "rosa@example.org")
		if !good {
			require.NotEmpty(t, apperr.Fields(err)["password"], "Hash(%q) is refused with a reason", password)
			continue
		}
		require.NoError(t, err, "Hash(%q)", password)
		require.NotContains(t, hash, password)
		ok, err := h.Check(password, hash)
		require.NoError(t, err)
		require.True(t, ok, "Check(%q)", password)
		ok, err = h.Check(password+"x", hash)
		require.NoError(t, err)
		require.False(t, ok)
	}
	ok, err := h.Check("heron lamp seventeen", "")
	require.NoError(t, err)
	require.False(t, ok, "no hash opens to no password")
}

// Whatever is chosen as a password is judged without a fault, and within what one request may take.
func FuzzPassword(f *testing.F) {
	h := account.NewHasherAt(64, 1)
	for _, password := range []string{"heron lamp seventeen", "4@8({[<369|1!|7$5+7%2" + strings.Repeat("4@8({[<369|1!|7$5+7%2", 4), "ａｂｃ１２３４５６７８９", "\U0001F9F5\U0001F9F5 20.11.1999 \u0000\u0301x", strings.Repeat("pa55w0rd1", 100)} {
		f.Add(password, "rosa@example.org")
	}
	f.Fuzz(func(t *testing.T, password, email string) {
		hash, err := h.Hash(password, email)
		if err != nil {
			require.NotEmpty(t, apperr.Fields(err)["password"])
			return
		}
		fits, err := h.Check(password, hash)
		require.NoError(t, err)
		require.True(t, fits)
	})
}

func TestCostOfAPassword(t *testing.T) {
	h := account.NewHasher()
	hash, err := h.Hash("heron lamp seventeen", "")
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(hash, "$argon2id$v=19$m=19456,t=2,p=1$"), "19 MiB, two passes, one lane (OWASP; from memory): %s", hash)
}

func TestNamesAndAddresses(t *testing.T) {
	for name, want := range map[string]string{
		"Rosa Lind":               "RL",
		"Rosa van der Berg":       "RVB",
		"Anne-Marie":              "AM",
		"ines":                    "I",
		"Åsa Öberg":               "ÅÖ",
		"  (Kim)  Park ":          "KP",
		"!!":                      "?",
		"A B C D E":               "ABE",
		"3rd floor sewing circle": "3FC",
	} {
		require.Equal(t, want, account.Initials(name), "Initials(%q)", name)
	}
	for typed, want := range map[string]string{
		" Rosa@Example.org ": "rosa@example.org",
		"a+b@example.org":    "a+b@example.org",
	} {
		got, err := account.CleanEmail(typed)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	for _, typed := range []string{
		"", "rosa", "rosa@", "@example.org", "Rosa <rosa@example.org>", "a@b.example, c@d.example",
		"rosa@example.org\nBcc: x@y.example", strings.Repeat("a", 250) + "@example.org",
	} {
		_, err := account.CleanEmail(typed)
		require.NotEmpty(t, apperr.Fields(err)["email"], "CleanEmail(%q) is refused with a reason", typed)
	}
	for _, typed := range []string{"", "  ", strings.Repeat("a", 101), "Ro\x07sa"} {
		_, err := account.CleanName(typed)
		require.NotEmpty(t, apperr.Fields(err)["name"], "CleanName(%q) is refused with a reason", typed)
	}
}

func TestLinks(t *testing.T) {
	key := testKey(t, "5e")
	id, err := account.NewLinkID()
	require.NoError(t, err)
	token := key.Sign(id)
	require.Equal(t, token, key.Sign(id), "a link can be printed again")
	got, ok := key.Open(strings.ToUpper(token))
	require.True(t, ok)
	require.Equal(t, id, got)
	for i := range len(token) {
		changed := []byte(token)
		changed[i] ^= 1
		_, ok := key.Open(string(changed))
		require.False(t, ok, "one letter changed at %d", i)
	}
	_, ok = testKey(t, "ab").Open(token)
	require.False(t, ok, "another installation's key")
	require.NotContains(t, fmt.Sprintf("%v %+v %s %x", key, key, key, key), "5e5e")
}

func TestTheKeyIsMadeOnce(t *testing.T) {
	file := filepath.Join(t.TempDir(), "data", "key")
	var wg sync.WaitGroup
	tokens := make([]string, 8)
	errs := make([]error, len(tokens))
	for i := range tokens {
		wg.Go(func() {
			key, err := account.LoadKey(file)
			tokens[i], errs[i] = key.Sign("abcdefghijkmnpqr"), err
		})
	}
	wg.Wait()
	for i := range tokens {
		require.NoError(t, errs[i])
		require.Equal(t, tokens[0], tokens[i], "two processes that start at once have the same key")
	}
	info, err := os.Stat(file)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	rest, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	require.Len(t, rest, 1, "no drafts are left behind")

	require.NoError(t, os.WriteFile(file, []byte("half a key"), 0o600))
	_, err = account.LoadKey(file)
	require.ErrorContains(t, err, file, "a damaged key is named, not replaced")
}

func TestTries(t *testing.T) {
	for name, test := range map[string]struct {
		tries account.Tries
		want  bool
	}{
		"none":                          {account.Tries{}, true},
		"a few":                         {account.Tries{Pair: 4, Who: 19, Source: 99}, true},
		"many from here":                {account.Tries{Pair: 5}, false},
		"many at this account":          {account.Tries{Who: 20}, false},
		"a busy hall":                   {account.Tries{Source: 100}, false},
		"known here, attacked outside":  {account.Tries{Who: 1000, Known: true}, true},
		"known here, busy hall":         {account.Tries{Source: 1000, Known: true}, true},
		"known here, guessed from here": {account.Tries{Pair: 5, Known: true}, false},
		"digits tried from everywhere":  {account.Tries{Digits: 1000, Known: true}, false},
	} {
		require.Equal(t, test.want, test.tries.Allowed(), name)
	}
}

func FuzzOpen(f *testing.F) {
	key := testKey(f, "5e")
	f.Add(key.Sign("abcdefghijkmnpqr"))
	f.Add("abcdefghijkmnpqr.")
	f.Add("..")
	f.Fuzz(func(t *testing.T, token string) {
		if id, ok := key.Open(token); ok {
			require.Equal(t, key.Sign(id), strings.ToLower(token), "what opens was signed")
		}
	})
}

func FuzzCleanEmail(f *testing.F) {
	f.Add("Rosa@example.org")
	f.Add("\"a b\"@example.org")
	f.Fuzz(func(t *testing.T, typed string) {
		email, err := account.CleanEmail(typed)
		if err != nil {
			require.NotNil(t, apperr.Fields(err))
			return
		}
		again, err := account.CleanEmail(email)
		require.NoError(t, err)
		require.Equal(t, email, again)
		require.NotContains(t, email, "\n")
	})
}

func testKey(t testing.TB, pair string) account.Key {
	t.Helper()
	key, err := account.ParseKey(strings.Repeat(pair, 32))
	require.NoError(t, err)
	return key
}

func Example() {
	fmt.Println(account.Desk.Allows(account.Fabric), account.Desk.Allows(account.Books))
	fmt.Println(account.Initials("Rosa van der Berg"))
	// Output:
	// write none
	// RVB
}

func FuzzParseKey(f *testing.F) {
	f.Add(strings.Repeat("5e", 32) + "\n")
	f.Add("zz")
	f.Fuzz(func(t *testing.T, text string) {
		key, err := account.ParseKey(text)
		if err != nil {
			return
		}
		id, ok := key.Open(key.Sign("abcdefghijkmnpqr"))
		require.True(t, ok && id == "abcdefghijkmnpqr")
	})
}
