package drive

import (
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

func TestKitsThatSuitComeFirst(t *testing.T) {
	day := func(d int) *time.Time { at := time.Date(2026, 12, d, 0, 0, 0, 0, time.UTC); return &at }
	kit := func(n int64, cases int, since int) KitHere {
		return KitHere{Kit: Kit{KitRef: KitRef{n, 1}, Cases: cases, Size: 1, State: KitReady, Since: day(since)}, KitHereFacts: KitHereFacts{Spec: sizing.Spec{Seam: sizing.Seam{Kind: sizing.Plain}}}}
	}
	old, french, small, ward, near, urgent := kit(1, 4, 1), kit(2, 4, 2), kit(3, 2, 3), kit(4, 4, 4), kit(5, 4, 5), kit(6, 4, 6)
	french.Spec.Seam.Kind = sizing.French
	ward.Homes = []string{HomeNoSmoke}
	near.Place, urgent.NeededBy = "Library", day(20)
	all := []KitHere{old, french, small, ward, near, urgent}
	order := func(w Sewist) string {
		var names []string
		for _, s := range w.Suits(all) {
			names = append(names, s.String())
		}
		return strings.Join(names, " ")
	}
	volunteer := Person{Kind: PersonVolunteer, Pickup: "library"}
	beginner, sews, smokes, home := volunteer, volunteer, volunteer, volunteer
	beginner.Beginner = true
	sews.FrenchSeam = true
	smokes.Smoke, home.Smoke = DeclaredYes, DeclaredNo
	// The near one, then by when it is needed, then the longest lying.
	require.Equal(t, "5 6 1 3 2 4", order(Sewist{Person: volunteer}))
	require.Equal(t, "3 5 6 1 2 4", order(Sewist{Person: beginner}))
	require.Equal(t, "5 6 1 2 3 4", order(Sewist{Person: sews}))
	require.Equal(t, "5 6 1 4 3 2", order(Sewist{Person: home}))
	suits := Sewist{Person: smokes}.Suits(all)
	last := suits[len(suits)-1]
	require.Equal(t, "4", last.String())
	require.True(t, last.Against)
	require.Contains(t, last.Why[0], "asks for no smoke, which they say is not so")
	pace := 1
	sews.Pace = &pace
	slow := Sewist{Person: sews, Weeks: 3, Sizes: []int64{1}}.Suits(all)
	require.Equal(t, "3", slow[1].String(), "what is done in time: %v", slow)
	require.Contains(t, slow[1].Why, "a size they have sewn")
}

func TestKitsAreReadOffLabels(t *testing.T) {
	const base = "https://drive.example.org"
	refs, err := ReadKitCodes("107, 108-2\nkit 9 "+base+"/l/spring/kit/110", "spring", base+"/")
	require.NoError(t, err)
	require.Equal(t, []KitRef{{107, 1}, {108, 2}, {9, 1}, {110, 1}}, refs)
	for typed, says := range map[string]string{
		base + "/l/autumn/kit/1":                  "another drive",
		"https://other.example/l/spring/kit/1":    "another installation",
		base + "/l/spring/lot/42":                 "the label of a lot, not of a kit",
		base + "/l/spring/ki":                     "not whole",
		"https://drive.exam":                      "no label of this program",
		"seven":                                   "no kit's number",
		"107 " + base + "/l/spring/sheet/3 seven": "no kit's number",
	} {
		_, err := ReadKitCodes(typed, "spring", base)
		require.Contains(t, apperr.Fields(err)["kit"], says, typed)
	}
}

func FuzzReadKitCodes(f *testing.F) {
	f.Add("107, 108-2 kit 9")
	f.Add("https://drive.example.org/l/spring/kit/110")
	f.Fuzz(func(t *testing.T, typed string) {
		refs, err := ReadKitCodes(typed, "spring", "https://drive.example.org")
		if err != nil {
			require.NotEmpty(t, apperr.Fields(err)["kit"])
		}
		for _, ref := range refs {
			require.Positive(t, ref.Number)
			require.Positive(t, ref.Part)
		}
	})
}
