package truth

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
)

// fourSizes is a drive of one piece and bodies of four sizes, nine of each asked for: too many parts
// to try them all. Each takes the whole width; on nine of each ninety of the length go.
func fourSizes(length int64) *planning.Problem {
	p := &planning.Problem{Unit: "cm", Trims: map[string][]string{}, Kit: planning.KitRule{Cases: 3}}
	for i, size := range [][2]int64{{10, 1}, {10, 2}, {10, 3}, {6, 4}} {
		id := fmt.Sprint("size", i)
		p.Cases = append(p.Cases, planning.Case{ID: id, Panels: []planning.Panel{{Role: "body", Around: planning.Whole(size[0]), Along: planning.Whole(size[1]), Pieces: 1}}})
		p.Quotas = append(p.Quotas, planning.Quota{ID: id, Cases: []string{id}, Wanted: 9, Weight: planning.Whole(1), Bodies: []string{"a"}})
	}
	p.Fabrics = []planning.Fabric{{ID: "a", Group: "a", Turn: planning.Across, Roles: []string{"body"}, Pieces: 1, Length: planning.Whole(length), Width: planning.Whole(10)}}
	return p
}

// The second checker knows of many panels that together leave little of a piece, too, whether they
// can be cut: a claim that they cannot holds where one more row would be needed, though cloth is
// left beside the narrow ones, and no sooner.
func TestWhatNearlyFillsAPieceIsJudged(t *testing.T) {
	for _, x := range []struct {
		length int64
		cannot []int
		says   string
	}{
		{89, []int{0, 1, 2, 3}, "the certificate proves"},
		{89, []int{3, 1, 0, 2}, "the certificate proves"},
		{90, []int{0, 1, 2, 3}, "can give together what the certificate says it cannot"},
		{95, []int{3, 1, 0, 2}, "can give together what the certificate says it cannot"},
		{89, []int{0, 1, 2}, "can give together what the certificate says it cannot"},
		{89, []int{0, 1, 2, 2}, "what cannot be cut together names panel 2"},
	} {
		p := fourSizes(x.length)
		plan := planned(t, p, planning.Options{})
		require.Equal(t, planning.Closed, plan.Summary.Stopped)
		requireProven(t, p, plan)
		c := plan.Certificate
		require.Len(t, c.Panels, 4)
		nothing := &planning.CertifiedNode{Price: make([]int64, 4), Trim: []int64{}}
		for range c.Quotas {
			nothing.Quota = append(nothing.Quota, c.Unit) // no less than any is worth
		}
		c.Tree = &planning.CertifiedNode{Cannot: x.cannot}
		for panel := range c.Panels {
			c.Tree = &planning.CertifiedNode{Split: &planning.Quantity{Of: "panel", Panel: panel}, At: 8, Low: nothing, High: c.Tree}
		}
		plan.Summary.WeightBound, plan.Summary.CasesBound = planning.Whole(0), 0
		require.ErrorContains(t, checked(t, text(t, p), text(t, plan)), x.says, "%v of a length of %d", x.cannot, x.length)
	}
}
