package drive

import (
	"testing"

	"boltward/internal/apperr"

	"github.com/stretchr/testify/require"
)

func TestReadCode(t *testing.T) {
	for typed, want := range map[string]Code{
		"https://drive.example.org/l/spring/lot/42":       {"https://drive.example.org", "spring", CodeLot, "42"},
		" http://boltward.test/l/lantern-row/kit/107-2\n": {"http://boltward.test", "lantern-row", CodeKit, "107-2"},
		"http://x/l/spring/piece/42-3":                    {"http://x", "spring", CodePiece, "42-3"},
		"http://x/l/spring/tag/17":                        {"http://x", "spring", CodeTag, "17"},
		"http://x/l/l/lot/4":                              {},
		"/l/spring/box/3":                                 {"", "spring", CodeBox, "3"},
		"42":                                              {"", "", CodeBare, "42"},
		"lot 42":                                          {"", "", CodeLot, "42"},
		"Kit no. 107-2":                                   {"", "", CodeKit, "107-2"},
		"42/3":                                            {"", "", CodePiece, "42-3"},
		"piece 42/3":                                      {"", "", CodePiece, "42-3"},
		"tag A-117":                                       {"", "", CodeTag, "A-117"},
		"A-117":                                           {"", "", CodeBare, "A-117"},
	} {
		got, err := ReadCode(typed)
		if want == (Code{}) {
			require.Error(t, err, typed)
			continue
		}
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	for typed, says := range map[string]string{
		"":                                     "Scan a label",
		"http://x/l/spring/lo":                 "not whole",
		"http://x/l/spring/lot/":               "not whole",
		"http://x/l/spring/lot/4x":             "not whole",
		"http://x/l/spring/lot/42/9":           "not whole",
		"http://x/l/SPRING/lot/42":             "not whole",
		"http://x/l/spring/planet/4":           "not whole",
		"https://shop.example/sale?x=1":        "no label of this program",
		"httpÖ--boltward.test-l-spring-lot-42": "another keyboard",
		"piece 42":                             "not whole",
		"lot zephyr":                           "not whole",
	} {
		_, err := ReadCode(typed)
		require.Contains(t, apperr.Fields(err)["code"], says, typed)
	}
}

func FuzzReadCode(f *testing.F) {
	for _, seed := range []string{"https://x/l/spring/lot/42", "42/3", "kit 107-2", "/l///", "http:", "A-117"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		c, err := ReadCode(typed)
		if err != nil {
			require.NotEmpty(t, apperr.Fields(err)["code"])
			return
		}
		require.NotEmpty(t, c.Number)
		require.Equal(t, c.Kind == CodeBare, c.check() != nil, "%+v", c)
	})
}

// FuzzParseGift and FuzzParseClothID read what forms and plans name things by.
func FuzzParseGift(f *testing.F) {
	f.Add("4@2026-10-24")
	f.Add("04@2026-10-24@x")
	f.Fuzz(func(t *testing.T, typed string) {
		g, err := ParseGift(typed)
		if err != nil {
			require.NotNil(t, apperr.Fields(err))
			return
		}
		again, err := ParseGift(g.String())
		require.NoError(t, err)
		require.Equal(t, g, again)
		require.Positive(t, g.Donor)
	})
}

func FuzzParseClothID(f *testing.F) {
	f.Add("42/1")
	f.Add("42/1 sheet 7")
	f.Add("42/1 sheet 7 rest")
	f.Fuzz(func(t *testing.T, id string) {
		lot, piece, err := ParseClothID(id)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		again, onward, err := ParseClothID(ClothID(lot, piece))
		require.NoError(t, err)
		require.Equal(t, []any{lot, piece}, []any{again, onward})
	})
}
