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

func TestWhyNotSaysWhatIsMissing(t *testing.T) {
	p := teaTable(t)
	p.Quotas[0].Wanted = 40
	delete(p.Trims, "owls")
	p.Quotas = append(p.Quotas,
		Quota{ID: "giants", Cases: []string{"huge"}, Wanted: 1, Weight: Whole(1), Bodies: []string{"owls"}},
		Quota{ID: "nobody", Cases: []string{"child"}, Wanted: 1, Weight: Whole(1), Bodies: []string{"velvet"}},
		Quota{ID: "owls", Cases: []string{"standard"}, Wanted: 2, Weight: Whole(1), Bodies: []string{"owls"}})
	p.Cases = append(p.Cases, Case{ID: "huge", Panels: []Panel{{Role: Body, Around: Whole(200), Along: Whole(90), Pieces: 1}}})
	reasons, err := WhyNot(p, solved(t, p, Options{Effort: 50}))
	require.NoError(t, err)
	text := map[string]string{}
	for _, r := range reasons {
		text[r.Quota] = r.Text
	}
	require.Contains(t, text["giants"], "no piece of owls is large enough for a body of 200 × 90 in")
	require.Contains(t, text["nobody"], "no fabric on the shelf suits it")
	require.Contains(t, text["owls"], "nothing on the shelf goes with owls as cuff: 2 bodies wait for about 1/2 yd of cuff")
}
