package planning

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAskNamesWhatIsShort(t *testing.T) {
	p := teaTable(t)
	plan := solved(t, p, Options{})
	wishes, err := Ask(context.Background(), p, plan)
	require.NoError(t, err)
	require.NotEmpty(t, wishes, "the tea table drive is short of %v", plan.Quotas)
	for i, w := range wishes {
		if i > 0 {
			require.GreaterOrEqual(t, wishes[i-1].Weight.Cmp(w.Weight), 0, "best first")
		}
		q := *p
		q.Fabrics = append(append([]Fabric(nil), p.Fabrics...), Fabric{
			ID: "more", Length: w.Length, Width: w.Width, Pieces: 1, Group: w.Group,
			Roles: fabricOf(p, w.Group).Roles, Turn: fabricOf(p, w.Group).Turn,
		})
		more := solved(t, &q, Options{})
		require.GreaterOrEqual(t, more.Summary.WeightBound.Float(), plan.Summary.WeightMade.Float()+w.Weight.Float(), "%s cannot bring what it is said to", w.Group)
	}
}

func fabricOf(p *Problem, group string) *Fabric {
	for i := range p.Fabrics {
		if p.Fabrics[i].Group == group {
			return &p.Fabrics[i]
		}
	}
	return nil
}

func TestYieldOfALot(t *testing.T) {
	p := teaTable(t)
	plan := solved(t, p, Options{})
	lot := Fabric{ID: "new", Length: Whole(60), Width: Whole(42), Pieces: 1, Group: "white", Roles: []string{"body", "cuff", "accent"}, Turn: Either}
	y, err := Yield(context.Background(), p, plan, lot)
	require.NoError(t, err)
	require.Contains(t, y.Alone, Alone{"standard", "body", 2}, "60 in hold two bodies of 27 in")
	require.Contains(t, y.Alone, Alone{"standard", "cuff", 6})
	sum := 0
	for _, q := range y.Quotas {
		sum += q.To - q.From
	}
	require.Equal(t, y.Completes, sum)
}
