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

// Cloth that quotas and trims name and of which none is there is asked for too, and what one
// yard cannot hold is asked for by two.
func TestAskForWhatIsNotThere(t *testing.T) {
	p := teaTable(t)
	p.Trims = map[string][]string{}
	for i := range p.Quotas {
		for _, b := range p.Quotas[i].Bodies {
			p.Trims[b] = []string{"of another shop"}
		}
	}
	plan := solved(t, p, Options{})
	require.Zero(t, plan.Summary.CasesMade, "no trim is there")
	wishes, err := Ask(context.Background(), p, plan)
	require.NoError(t, err)
	require.NotEmpty(t, wishes)
	require.Equal(t, "of another shop", wishes[0].Group)
	require.Positive(t, wishes[0].Gained)

	long := *p
	long.Cases = append([]Case(nil), p.Cases...)
	for i := range long.Cases {
		long.Cases[i].Panels = append([]Panel(nil), long.Cases[i].Panels...)
		for k := range long.Cases[i].Panels {
			if l := &long.Cases[i].Panels[k]; l.Role != Body {
				l.Around, l.Along = Whole(40), Whole(50)
			}
		}
	}
	wishes, err = Ask(context.Background(), &long, solved(t, &long, Options{}))
	require.NoError(t, err)
	for _, w := range wishes {
		require.GreaterOrEqual(t, w.Length.Float(), 50.0, "a yard of %s holds no trim", w.Group)
	}
}

// What a lot brings is found with the lot alone, whichever other lots are looked into.
func TestGainsOfManyLotsAreThoseOfEach(t *testing.T) {
	p := teaTable(t)
	plan := solved(t, p, Options{})
	with := *p
	var lots [][]string
	for _, id := range []string{"one", "two", "three"} {
		with.Fabrics = append(with.Fabrics[:len(with.Fabrics):len(with.Fabrics)], Fabric{
			ID: id, Length: Whole(60), Width: Whole(42), Pieces: 1, Group: "white", Roles: []string{"body", "cuff", "accent"}, Turn: Either,
		})
		lots = append(lots, []string{id})
	}
	all, err := Gains(context.Background(), &with, plan, nil, lots, 8)
	require.NoError(t, err)
	require.Positive(t, all[0].Cases)
	for _, g := range all {
		require.Equal(t, all[0], g, "three lots that are alike bring the same")
	}
	y, err := Yield(context.Background(), p, plan, with.Fabrics[len(with.Fabrics)-1])
	require.NoError(t, err)
	require.Equal(t, all[0].Cases, y.Completes)

	ended, end := context.WithCancel(context.Background())
	end()
	none, err := Gains(ended, &with, plan, nil, lots, 8)
	require.NoError(t, err)
	require.Equal(t, make([]Gained, 3), none)
}

// Asking takes a set amount of work, however large the drive is.
func TestAskKeepsToItsEffort(t *testing.T) {
	p := drive(t, "1", "300")
	plan, err := Solve(context.Background(), p, Options{Effort: 120})
	require.NoError(t, err)
	wishes, spent, offers := askedFor(t, p, plan)
	t.Logf("%d of %d kinds bring something, effort %d", len(wishes), offers, spent)
	require.NotEmpty(t, wishes)
	require.Less(t, spent, int64(askEffort+400), "one kind more at most is begun when the effort is spent")
}

func BenchmarkAsk(b *testing.B) {
	for _, fabrics := range []string{"60", "300", "3000"} {
		b.Run(fabrics, func(b *testing.B) {
			p := drive(b, "1", fabrics)
			plan, err := Solve(context.Background(), p, Options{Effort: 1000})
			require.NoError(b, err)
			var spent int64
			for b.Loop() {
				_, spent, _ = askedFor(b, p, plan)
			}
			b.ReportMetric(float64(spent), "effort/op")
		})
	}
}

func askedFor(t testing.TB, p *Problem, plan *Plan) (wishes []Wish, spent int64, offers int) {
	with, list := p.asking()
	o, fabric, list, err := asking(context.Background(), with, plan, list)
	require.NoError(t, err)
	wishes = o.wishes(list, fabric)
	return wishes, o.h.s.work(), len(list)
}

// What came since the plan was made counts for itself, not for the lot that comes after it; and
// a plan loses without a lot what the lot brought.
func TestGainsBesideWhatCameSince(t *testing.T) {
	p := teaTable(t)
	plan := solved(t, p, Options{})
	with := *p
	more := func(id string) Fabric {
		return Fabric{ID: id, Length: Whole(60), Width: Whole(42), Pieces: 1, Group: "white", Roles: []string{"body", "cuff", "accent"}, Turn: Either}
	}
	with.Fabrics = append(p.Fabrics[:len(p.Fabrics):len(p.Fabrics)], more("before"), more("lot"))
	alone, err := Gains(context.Background(), &with, plan, nil, [][]string{{"before"}, {"lot"}}, 8)
	require.NoError(t, err)
	beside, err := Gains(context.Background(), &with, plan, []string{"before"}, [][]string{{"lot"}}, 8)
	require.NoError(t, err)
	both, err := Gains(context.Background(), &with, plan, nil, [][]string{{"before", "lot"}}, 8)
	require.NoError(t, err)
	require.LessOrEqual(t, alone[0].Weight.Float()+beside[0].Weight.Float(), both[0].Weight.Float()+1e-9, "together they bring what one brings after the other")

	one := *p
	one.Fabrics = with.Fabrics[:len(p.Fabrics)+1]
	cut := solved(t, &one, Options{})
	lost, err := Lost(context.Background(), &one, cut, []string{"before"}, 8)
	require.NoError(t, err)
	require.GreaterOrEqual(t, lost.Weight.Float(), cut.Summary.WeightMade.Float()-plan.Summary.WeightBound.Float(), "without it nothing is worth more than %s", plan.Summary.WeightBound)
	require.LessOrEqual(t, lost.Weight.Float(), cut.Summary.WeightMade.Float())
}
