package words

import (
	"fmt"
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every language says all that the pages of a personal link need, for every kit.
func TestEveryVisitInEveryLanguage(t *testing.T) {
	kits := []VisitKitFacts{
		{Kit: "7", Cases: 1, Size: "Standard"},
		{Kit: "8", Cases: 6, Size: "Standard", Due: "14 Dec 2026", Finished: 2, Until: "20 Dec 2026", Cannot: true},
		{Kit: "9-2", Cases: 6, Size: "Standard", Due: "14 Dec 2026", Late: true, OwnFabric: true, Finished: 6},
	}
	for _, l := range Languages() {
		for n := range len(kits) + 1 {
			require.Empty(t, l.Visit(VisitFacts{Kits: kits[:n]}).Ask)
			v := l.Visit(VisitFacts{Name: "Mary", Drive: "Spring", Ask: "Rosa, 555 0100", Kits: kits[:n]})
			require.Equal(t, l.Tag, v.Lang)
			require.Contains(t, v.Ask, "Rosa, 555 0100", "whoever has no kit wants to know too")
			require.Len(t, v.Kits, n)
			require.Contains(t, v.Lead, "Mary")
			said := reflect.ValueOf(v.Words)
			for i := range said.NumField() {
				require.NotEmpty(t, said.Field(i).String(), "%s: %s", l.Tag, said.Type().Field(i).Name)
			}
			for i, k := range v.Kits {
				require.Contains(t, k.Title, kits[i].Kit)
				require.NotEmpty(t, k.Due)
				require.Equal(t, kits[i].Finished > 0, k.Said.Finished != "")
				require.Equal(t, kits[i].Until != "", k.Said.Longer != "")
				require.Equal(t, kits[i].Cannot, k.Said.Cannot != "")
			}
			require.NotContains(t, fmt.Sprintf("%+v", v), "%!")
		}
		for _, wrong := range []string{"gone", "none", "more", "no day", "past", "far", "too long"} {
			require.NotEmpty(t, l.Fault(wrong, 6), wrong)
		}
		// Whoever has said of a late kit how it goes is not asked.
		due := func(k VisitKitFacts) string {
			k.Cases, k.Due, k.Late = 6, "14 Dec 2026", true
			return l.Visit(VisitFacts{Kits: []VisitKitFacts{k}}).Kits[0].Due
		}
		for _, said := range []VisitKitFacts{{Finished: 6}, {Until: "20 Dec 2026"}, {Cannot: true}} {
			require.NotEqual(t, due(VisitKitFacts{}), due(said), "%+v", said)
			require.Contains(t, due(said), "14 Dec 2026")
		}
		require.Equal(t, due(VisitKitFacts{}), due(VisitKitFacts{Finished: 5}))
		asked := VisitFacts{Kits: []VisitKitFacts{{Kit: "7", Cases: 6, Until: "20 Dec 2026", Needed: "16 Dec 2026"}}}
		require.Contains(t, l.Visit(asked).Kits[0].Said.Longer, "16 Dec 2026")
		m := l.LinkMessage("Mary", "Spring", "https://example.org/v/x")
		require.Contains(t, m.Text, "https://example.org/v/x")
		require.NotEmpty(t, m.Subject)
	}
}
