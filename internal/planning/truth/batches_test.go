package truth

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
)

// halves is a drive of three looks, each of which gives three bodies, asked for in pairs: by the
// relaxation three looks make four and a half pillowcases, in truth one each. singly asks for some
// that take one body besides.
func halves(singly int) *planning.Problem {
	p := &planning.Problem{
		Unit: "cm", Trims: map[string][]string{}, Kit: planning.KitRule{Cases: 2},
		Cases: []planning.Case{
			{ID: "pair", Panels: []planning.Panel{{Role: "body", Around: planning.Whole(40), Along: planning.Whole(50), Pieces: 2}}},
			{ID: "one", Panels: []planning.Panel{{Role: "body", Around: planning.Whole(40), Along: planning.Whole(50), Pieces: 1}}},
		},
	}
	looks := []string{"a", "b", "c"}
	for _, g := range looks {
		p.Fabrics = append(p.Fabrics, planning.Fabric{
			ID: g, Group: g, Turn: planning.Across, Roles: []string{"body"}, Pieces: 1, Length: planning.Whole(155), Width: planning.Whole(42),
		})
	}
	p.Quotas = []planning.Quota{{ID: "pairs", Cases: []string{"pair"}, Wanted: 9, Weight: planning.Whole(10), Bodies: looks}}
	if singly > 0 {
		p.Quotas = append(p.Quotas, planning.Quota{ID: "ones", Cases: []string{"one"}, Wanted: singly, Weight: planning.Whole(1), Bodies: looks})
	}
	return p
}

// A body too few for another pair is known to be of no use, and the second checker knows it too;
// where something takes single ones it counts.
func TestPanelsTakenByTwosAreCountedByTwos(t *testing.T) {
	for _, x := range []struct {
		singly int
		best   int64
	}{{0, 30}, {1, 31}, {3, 33}, {9, 33}} {
		plan := planned(t, halves(x.singly), planning.Options{})
		require.Equal(t, planning.Closed, plan.Summary.Stopped, "with %d single ones", x.singly)
		require.Equal(t, planning.Whole(x.best).String(), plan.Summary.WeightMade.String(), "with %d single ones", x.singly)
		requireProven(t, halves(x.singly), plan)
	}
}

// That a look cannot give three proves nothing of two where single ones are asked for: the second
// checker rounds a limit only where every way takes panels by twos.
func TestLimitsAreRoundedOnlyWhereAllWaysTakeTwo(t *testing.T) {
	for _, x := range []struct {
		singly int
		says   string
	}{{0, "the certificate proves"}, {3, "can give together what the certificate says it cannot"}} {
		p := halves(x.singly)
		plan := planned(t, p, planning.Options{})
		c := plan.Certificate
		nothing := &planning.CertifiedNode{Price: make([]int64, len(c.Panels)), Trim: []int64{}}
		for range c.Quotas {
			nothing.Quota = append(nothing.Quota, 10*c.Unit) // no less than any is worth
		}
		c.Tree = &planning.CertifiedNode{
			Split: &planning.Quantity{Of: "panel", Panel: 0}, At: 2,
			Low: nothing, High: &planning.CertifiedNode{Cannot: []int{0}},
		}
		require.ErrorContains(t, checked(t, text(t, p), text(t, plan)), x.says, "with %d single ones", x.singly)
	}
}
