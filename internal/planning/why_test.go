package planning

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// given is the problem with the cloth that a lack says it needs: bodies that suit the quota and
// go with all that trims its other bodies, trims that go with all of them.
func given(p *Problem, quota string, l Lack) *Problem {
	q := *p
	q.Fabrics, q.Quotas, q.Trims = slices.Clone(p.Fabrics), slices.Clone(p.Quotas), map[string][]string{}
	for b, list := range p.Trims {
		q.Trims[b] = slices.Clone(list)
	}
	at := slices.IndexFunc(q.Quotas, func(x Quota) bool { return x.ID == quota })
	bodies := slices.Clone(q.Quotas[at].Bodies)
	for i, n := range l.Needs {
		if n.Panels == 0 {
			continue
		}
		group := fmt.Sprint("given ", n.Role)
		q.Fabrics = append(q.Fabrics, Fabric{
			ID: fmt.Sprint("given ", i), Length: n.Length, Width: n.Width, Pieces: 1, Group: group, Roles: []string{n.Role}, Turn: Either,
		})
		if n.Role == Body && !slices.Contains(bodies, group) {
			for _, b := range bodies {
				q.Trims[group] = append(q.Trims[group], q.Trims[b]...)
			}
			bodies = append(bodies, group)
		}
	}
	for _, n := range l.Needs {
		for _, b := range bodies {
			if n.Role != Body {
				q.Trims[b] = append(q.Trims[b], fmt.Sprint("given ", n.Role))
			}
		}
	}
	q.Quotas[at].Bodies = bodies
	return &q
}

// requireTrue holds each lack against the problem with what it says it needs: that much more
// is made then.
func requireTrue(t require.TestingT, p *Problem, plan *Plan, reasons []Reason) {
	missing := map[string]int{}
	for i := range p.Quotas {
		if n := p.Quotas[i].Wanted - plan.Made(p.Quotas[i].ID); n > 0 {
			missing[p.Quotas[i].ID] = n
		}
	}
	require.Len(t, reasons, len(missing))
	for _, r := range reasons {
		require.Equal(t, missing[r.Quota], r.Missing)
		sum := 0
		for _, l := range r.Lacks {
			sum += l.Cases
			if l.Why == LackCase {
				continue
			}
			q := given(p, r.Quota, l)
			require.NoError(t, q.Validate())
			weight := p.Quotas[slices.IndexFunc(p.Quotas, func(x Quota) bool { return x.ID == r.Quota })].Weight.Float()
			least := plan.Summary.WeightMade.Float() + weight*float64(l.Cases)
			more, err := Solve(context.Background(), q, Options{Effort: 150})
			require.NoError(t, err)
			require.GreaterOrEqual(t, more.Summary.WeightBound.Float(), least, "%s: %s", r.Quota, r.Text)
			if more.Summary.Stopped == Closed {
				require.GreaterOrEqual(t, more.Summary.WeightMade.Float(), least, "%s: %s", r.Quota, r.Text)
			}
		}
		require.Equal(t, r.Missing, sum, r.Text)
	}
}

// With the trim that bodies are said to wait for, and no more, exactly they are sewn.
func TestWhyNotSaysWhatIsMissing(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Problem)
		quota  string
		why    []LackKind
		says   string
	}{
		{"nothing goes with it", func(p *Problem) {
			delete(p.Trims, "owls")
			p.Quotas = []Quota{{ID: "owls", Cases: []string{"standard"}, Wanted: 2, Weight: Whole(1), Bodies: []string{"owls"}}}
			p.Cases[0].Panels = p.Cases[0].Panels[:2]
		}, "owls", []LackKind{LackTrim}, "Nothing on the shelf goes with owls as cuff: 2 bodies wait for about 1/2 yd of cuff."},
		{"no trim of either role", func(p *Problem) {
			delete(p.Trims, "owls")
			p.Quotas = []Quota{{ID: "owls", Cases: []string{"standard"}, Wanted: 9, Weight: Whole(1), Bodies: []string{"owls"}}}
			p.Fabrics[2].Pieces = 3
		}, "owls", []LackKind{LackTrim}, "Nothing on the shelf goes with owls as cuff and accent: 9 bodies wait for about 2 1/4 yd of cuff and 1/2 yd of accent."},
		{"trim ran out", func(p *Problem) {
			p.Fabrics = p.Fabrics[:3]
			p.Fabrics = append(p.Fabrics, Fabric{ID: "T", Length: Whole(11), Width: Whole(42), Pieces: 1, Group: "white", Roles: []string{"cuff", "accent"}, Turn: Either})
			p.Quotas = []Quota{{ID: "owls", Cases: []string{"standard"}, Wanted: 3, Weight: Whole(1), Bodies: []string{"owls"}}}
		}, "owls", []LackKind{LackTrimOut}, "What goes with owls as cuff and accent is used up: 2 bodies wait"},
		{"too small", func(p *Problem) {
			p.Cases = append(p.Cases, Case{ID: "huge", Panels: []Panel{{Role: Body, Around: Whole(200), Along: Whole(90), Pieces: 1}}})
			p.Quotas = []Quota{{ID: "giants", Cases: []string{"huge"}, Wanted: 1, Weight: Whole(1), Bodies: []string{"owls"}}}
		}, "giants", []LackKind{LackSize}, "No piece of owls is large enough for a body of 200 in × 90 in. 1 more takes about"},
		{"nothing suits", func(p *Problem) {
			p.Quotas = []Quota{{ID: "nobody", Cases: []string{"child"}, Wanted: 1, Weight: Whole(1), Bodies: []string{"velvet"}}}
		}, "nobody", []LackKind{LackSuits}, "No cloth on the shelf suits it. 1 more takes about 1/2 yd for bodies and 1/4 yd of cuff."},
		{"no case", func(p *Problem) {
			p.Quotas = []Quota{{ID: "any", Wanted: 2, Weight: Whole(1), Bodies: []string{"owls"}}}
		}, "any", []LackKind{LackCase}, "No size is chosen"},
		{"went to one that matters more", func(p *Problem) {
			p.Fabrics = p.Fabrics[2:]
			p.Cases[0].Panels = p.Cases[0].Panels[:1]
			p.Quotas = []Quota{
				{ID: "first", Cases: []string{"standard"}, Wanted: 3, Weight: Whole(10), Bodies: []string{"owls"}},
				{ID: "second", Cases: []string{"standard"}, Wanted: 2, Weight: Whole(1), Bodies: []string{"owls"}},
			}
		}, "second", []LackKind{LackCloth}, "The cloth that suits it is used up, by first (3). 2 more take about 1 1/2 yd for bodies."},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := teaTable(t)
			c.change(p)
			plan := solved(t, p, Options{Effort: 100})
			reasons, err := WhyNot(context.Background(), p, plan)
			require.NoError(t, err)
			at := slices.IndexFunc(reasons, func(r Reason) bool { return r.Quota == c.quota })
			require.GreaterOrEqual(t, at, 0, "%v", reasons)
			var why []LackKind
			for _, l := range reasons[at].Lacks {
				why = append(why, l.Why)
			}
			require.Equal(t, c.why, why, reasons[at].Text)
			require.Contains(t, reasons[at].Text, c.says)
			requireTrue(t, p, plan, reasons)
		})
	}
}

// Cloth that went elsewhere is there again when nobody else asks for it.
func TestWhyNotNamesWhoHasTheCloth(t *testing.T) {
	p := teaTable(t)
	p.Fabrics, p.Cases[0].Panels = p.Fabrics[2:], p.Cases[0].Panels[:1]
	p.Quotas = []Quota{
		{ID: "first", Cases: []string{"standard"}, Wanted: 3, Weight: Whole(10), Bodies: []string{"owls"}},
		{ID: "second", Cases: []string{"standard"}, Wanted: 2, Weight: Whole(1), Bodies: []string{"owls"}},
	}
	reasons, err := WhyNot(context.Background(), p, solved(t, p, Options{}))
	require.NoError(t, err)
	require.Equal(t, []Took{{"first", 3}}, reasons[0].Lacks[0].Went)
	p.Quotas[0].Wanted = 0
	require.Equal(t, 2, solved(t, p, Options{}).Made("second"))
}

// A plan that a person stopped says what its search has not found yet.
func TestWhyNotTellsOfASearchThatEnded(t *testing.T) {
	p := teaTable(t)
	nothing := &Plan{Unit: p.Unit, Summary: Summary{WeightBound: Whole(100), Stopped: StoppedByPerson}}
	for i := range p.Quotas {
		nothing.Quotas = append(nothing.Quotas, QuotaMade{ID: p.Quotas[i].ID})
	}
	reasons, err := WhyNot(context.Background(), p, nothing)
	require.NoError(t, err)
	require.Equal(t, LackSearch, reasons[0].Lacks[0].Why, "%v", reasons)
	requireTrue(t, p, nothing, reasons)
	ended, cancel := context.WithCancel(context.Background())
	cancel()
	reasons, err = WhyNot(ended, p, nothing)
	require.NoError(t, err)
	require.Equal(t, LackUnseen, reasons[0].Lacks[0].Why)
}

func TestReasonsAreTrueOnSmallProblems(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t)
		for i := range p.Quotas {
			p.Quotas[i].Wanted *= 2
		}
		plan, err := Solve(context.Background(), p, Options{Effort: 60})
		require.NoError(t, err)
		reasons, err := WhyNot(context.Background(), p, plan)
		require.NoError(t, err)
		requireTrue(t, p, plan, reasons)
	})
}

func TestWhoseClothItWasIsNamedOnce(t *testing.T) {
	lack := Lack{
		Why: LackCloth, Cases: 2, Groups: []string{"plain"},
		Went: []Took{{Quota: "3", Cases: 5}, {Quota: "1", Cases: 4}, {Quota: "2", Cases: 3}},
	}
	names := Names{Quota: func(id string) string {
		return map[string]string{"1": "hospice", "2": "hospice", "3": "ward"}[id]
	}}
	r := Reason{Quota: "4", Missing: 2, Lacks: []Lack{lack}}
	require.Contains(t, r.Words("in", names), ", by hospice (7) and ward (5)")
}
