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
			v := l.Visit(VisitFacts{Name: "Mary", Drive: "Spring", Kits: kits[:n]})
			require.Equal(t, l.Tag, v.Lang)
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
		m := l.LinkMessage("Mary", "Spring", "https://example.org/v/x")
		require.Contains(t, m.Text, "https://example.org/v/x")
		require.NotEmpty(t, m.Subject)
	}
}
