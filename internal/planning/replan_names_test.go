package planning

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The old kit that a new one is likest to is the one that is found by looking at them all.
func TestLikestKitIsThatOfALookAtAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		panel := 0
		kits := func(name string, panels func() string) []Kit {
			list := make([]Kit, rapid.IntRange(0, 12).Draw(t, name))
			for i := range list {
				k := &list[i]
				k.ID, k.Quota, k.Case = fmt.Sprint(name, i), rapid.SampledFrom([]string{"A", "B"}).Draw(t, "quota"), rapid.SampledFrom([]string{"standard", "child"}).Draw(t, "case")
				for range rapid.IntRange(1, 4).Draw(t, "pillowcases") {
					k.Pillowcases = append(k.Pillowcases, map[string][]string{"body": {panels()}, "cuff": {panels()}})
				}
			}
			return list
		}
		old := kits("old", func() string {
			panel++
			return fmt.Sprint("P", panel)
		})
		free := newFreeKits()
		left := map[string]bool{}
		for i := range old {
			free.add(&old[i])
			left[old[i].ID] = true
		}
		for _, k := range kits("new", func() string { return fmt.Sprint("P", rapid.IntRange(1, panel+3).Draw(t, "panel")) }) {
			mine := map[string]int{}
			for _, id := range k.panels() {
				mine[id]++
			}
			var want *Kit
			most, near := -1, 0
			for i := range old {
				o := &old[i]
				if !left[o.ID] || o.Quota != k.Quota || o.Case != k.Case {
					continue
				}
				shared := 0
				for _, id := range o.panels() {
					shared += mine[id]
				}
				apart := max(len(o.Pillowcases)-len(k.Pillowcases), len(k.Pillowcases)-len(o.Pillowcases))
				if want == nil || shared > most || shared == most && apart < near {
					want, most, near = o, shared, apart
				}
			}
			got := free.likest(&k)
			require.Same(t, want, got, "of %v", k)
			if got != nil {
				free.take(got)
				delete(left, got.ID)
			}
		}
	})
}
