package main

import (
	"context"
	"encoding/json"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

func TestUserCommand(t *testing.T) {
	db := pgtest.New(t)
	settings := map[string]string{"DATABASE_URL": db.URL, "BOLTWARD_URL": "https://drive.example.org"}
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, settings)
		env.Args = append([]string{"user"}, args...)
		code := dispatch(context.Background(), env, commands())
		return code, out.String(), errs.String()
	}
	env, _, _ := testEnv(t, settings)
	_, err := postgres.New(db.Pool, env.Now).CreateDrive(context.Background(), commandAct(env, ""), drive.Drive{
		ID: "spring", Name: "Spring drive", Zone: "Europe/Dublin", Unit: length.CM, Washing: drive.WashedFirst, KitCases: 4,
		KeepWidth: 9 * length.Inch, KeepLength: 18 * length.Inch,
	})
	require.NoError(t, err)

	code, out, errs := say("list")
	require.Zero(t, code)
	require.Empty(t, out)
	require.Contains(t, errs, "Nobody signs in yet")

	code, out, errs = say("add", "--name", "Rosa Lind", "--email", "Rosa@Example.org", "--drive", "spring", "--role", "organiser")
	require.Zero(t, code, errs)
	link, err := url.Parse(strings.TrimSpace(out))
	require.NoError(t, err)
	require.Equal(t, "drive.example.org", link.Host)
	require.True(t, strings.HasPrefix(link.Path, "/sign-in/link/"), link.Path)

	settings["BOLTWARD_URL"] = "drive.example.org"
	code, _, errs = say("add", "--name", "Ines Roth", "--email", "ines@example.org")
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "BOLTWARD_URL")
	settings["BOLTWARD_URL"] = "https://drive.example.org"

	code, out, _ = say("list", "--json")
	require.Zero(t, code)
	var users []map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &users))
	require.Equal(t, []map[string]any{{
		"name": "Rosa Lind", "email": "rosa@example.org", "password": false, "second_step": false, "opens": false,
		"roles": []any{map[string]any{"drive": "spring", "role": "organiser"}},
	}}, users)
	_, out, _ = say("list")
	require.Contains(t, out, "spring: organiser")

	store := postgres.New(db.Pool, env.Now)
	rosa := drive.Act{Who: onlyAccount(t, store), Key: "second-step-of-rosa", At: env.Now()}
	require.NoError(t, store.BeginSecondStep(context.Background(), rosa, []byte("sealed")))
	rosa.Key = "second-step-of-rosa-on"
	require.NoError(t, store.ConfirmSecondStep(context.Background(), rosa, postgres.SecondCode{Secret: []byte("sealed"), Step: 1, Recovery: [][]byte{[]byte("one")}}))
	_, out, _ = say("list", "--json")
	require.Contains(t, out, `"second_step": true`)
	code, _, errs = say("second-step", "--email", "rosa@example.org", "--off")
	require.Zero(t, code, errs)
	require.Contains(t, errs, "signed out everywhere")
	_, out, _ = say("list", "--json")
	require.Contains(t, out, `"second_step": false`)

	for name, test := range map[string]struct {
		args []string
		code int
		says string
	}{
		"not said to be off": {[]string{"second-step", "--email", "rosa@example.org"}, exitBad, "--off"},
		"nobody's second":    {[]string{"second-step", "--email", "nobody@example.org", "--off"}, exitFailed, "Nobody signs in"},
		"nothing said":       {nil, exitBad, "add, list, link, role"},
		"no address":         {[]string{"link"}, exitBad, "--email"},
		"no name":            {[]string{"add", "--email", "a@b.example"}, exitBad, "--name"},
		"taken":              {[]string{"add", "--name", "R", "--email", "rosa@example.org"}, exitBad, "signs in with this address already"},
		"no such role":       {[]string{"role", "--email", "rosa@example.org", "--drive", "spring", "--role", "queen"}, exitBad, "organiser, desk"},
		"no such person":     {[]string{"link", "--email", "nobody@example.org"}, exitFailed, "Nobody signs in"},
		"no such drive":      {[]string{"role", "--email", "rosa@example.org", "--drive", "autumn", "--role", "desk"}, exitFailed, "no drive"},
		"the last organiser": {[]string{"role", "--email", "rosa@example.org", "--drive", "spring", "--role", "none"}, exitFailed, "only organiser"},
		"erase nobody":       {[]string{"erase", "--email", "nobody@example.org"}, exitFailed, "Nobody signs in"},
		"erase without":      {[]string{"erase"}, exitBad, "--email"},
		"erase the last":     {[]string{"erase", "--email", "rosa@example.org"}, exitFailed, "Spring drive has no other organiser"},
		"a role alone":       {[]string{"add", "--name", "Ines", "--email", "ines@example.org", "--role", "desk"}, exitBad, "go together"},
	} {
		code, _, errs := say(test.args...)
		require.Equal(t, test.code, code, "%s: %s", name, errs)
		require.Contains(t, errs, test.says, name)
	}

	code, _, errs = say("add", "--name", "Ines Roth", "--email", "ines@example.org", "--drive", "spring", "--role", "organiser")
	require.Zero(t, code, errs)
	code, _, errs = say("erase", "--email", "rosa@example.org")
	require.Zero(t, code, errs)
	require.Contains(t, errs, "Account 1 is erased")
	_, out, errs = say("list")
	require.NotContains(t, out+errs, "osa")
	_, out, _ = say("list", "--json")
	require.NotContains(t, out, "osa")
	env, out2, errs2 := testEnv(t, settings)
	env.Args = []string{"about", "--email", "rosa@example.org"}
	require.Equal(t, exitFailed, dispatch(context.Background(), env, commands()))
	require.Empty(t, out2.String())
	require.Contains(t, errs2.String(), "Nobody signs in")
	require.Equal(t, exitFailed, func() int { code, _, _ := say("erase", "--email", "rosa@example.org"); return code }())
}

// onlyAccount gives the number of the only account.
func onlyAccount(t *testing.T, store *postgres.Store) int64 {
	t.Helper()
	lines, err := store.Accounts(context.Background())
	require.NoError(t, err)
	require.Len(t, lines, 1)
	return lines[0].ID
}

// lockedBuffer is a buffer that a running program and its test share.
type lockedBuffer struct {
	mu   sync.Mutex
	text strings.Builder
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.String()
}
