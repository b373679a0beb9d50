package truth

import (
	"fmt"
	"math/big"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/planning"
)

// scope says how large drawn problems are.
type scope struct {
	groups, fabrics, pieces int
	length, width           int
	cases, wanted, quotas   int
	around, along           int
}

var (
	tiny   = scope{groups: 3, fabrics: 2, pieces: 2, length: 9, width: 7, cases: 2, wanted: 3, quotas: 2, around: 5, along: 4}
	middle = scope{groups: 4, fabrics: 3, pieces: 3, length: 14, width: 11, cases: 3, wanted: 7, quotas: 3, around: 7, along: 5}
)

// draw draws a problem in whole numbers.
func draw(t *rapid.T, s scope) *planning.Problem {
	p := &planning.Problem{Unit: "cm", Trims: map[string][]string{}, Kit: planning.KitRule{Cases: rapid.IntRange(1, 3).Draw(t, "kit")}}
	groups := []string{"a", "b", "c", "d"}[:rapid.IntRange(1, s.groups).Draw(t, "groups")]
	for _, g := range groups {
		turn := rapid.SampledFrom([]planning.Turn{planning.Across, planning.Along, planning.Either}).Draw(t, "turn")
		roles := rapid.SampledFrom([][]string{{"body"}, {"body", "cuff"}, {"cuff", "accent"}, {"body", "cuff", "accent"}}).Draw(t, "roles")
		for n := range rapid.IntRange(1, s.fabrics).Draw(t, "fabrics") {
			p.Fabrics = append(p.Fabrics, planning.Fabric{
				ID: fmt.Sprint(g, n), Group: g, Turn: turn, Roles: roles, Pieces: rapid.IntRange(0, s.pieces).Draw(t, "pieces"),
				Length: drawWhole(t, 2, s.length, "length"), Width: drawWhole(t, 2, s.width, "width"),
			})
		}
		p.Trims[g] = rapid.SliceOfNDistinct(rapid.SampledFrom(groups), 0, len(groups), rapid.ID[string]).Draw(t, "trims")
		if rapid.IntRange(0, 3).Draw(t, "narrow") == 0 && len(p.Trims[g]) > 0 {
			if p.TrimRoles == nil {
				p.TrimRoles = map[string]map[string][]string{}
			}
			role := rapid.SampledFrom([]string{"cuff", "accent"}).Draw(t, "narrowed")
			p.TrimRoles[g] = map[string][]string{role: p.Trims[g][:rapid.IntRange(0, len(p.Trims[g])-1).Draw(t, "only")]}
		}
	}
	for c := range rapid.IntRange(1, s.cases).Draw(t, "cases") {
		one := planning.Case{ID: fmt.Sprint("case", c)}
		for _, role := range []string{"body", "cuff", "accent"}[:rapid.IntRange(1, 3).Draw(t, "panels")] {
			one.Panels = append(one.Panels, planning.Panel{
				Role: role, Pieces: rapid.IntRange(1, 2).Draw(t, "count"),
				Around: drawWhole(t, 1, s.around, "around"), Along: drawWhole(t, 1, s.along, "along"),
			})
		}
		p.Cases = append(p.Cases, one)
	}
	weights := rapid.SampledFrom([][]string{{"1"}, {"1", "2", "3"}, {"100", "10", "1"}, {"0.4", "2.125", "7.5", "12"}}).Draw(t, "weights")
	for q := range rapid.IntRange(1, s.quotas).Draw(t, "quotas") {
		quota := planning.Quota{
			ID: fmt.Sprint("q", q), Wanted: rapid.IntRange(0, s.wanted).Draw(t, "wanted"),
			Weight: decimal(t, rapid.SampledFrom(weights).Draw(t, "weight")), Kit: rapid.IntRange(0, 2).Draw(t, "own kit"),
		}
		for _, c := range p.Cases {
			if rapid.Bool().Draw(t, "takes") || len(quota.Cases) == 0 {
				quota.Cases = append(quota.Cases, c.ID)
			}
		}
		quota.Bodies = rapid.SliceOfNDistinct(rapid.SampledFrom(groups), 1, len(groups), rapid.ID[string]).Draw(t, "bodies")
		p.Quotas = append(p.Quotas, quota)
	}
	require.NoError(t, p.Validate())
	return p
}

func drawWhole(t *rapid.T, low, high int, label string) planning.Decimal {
	return planning.Whole(int64(rapid.IntRange(low, high).Draw(t, label)))
}

// stretched draws the same problem in another measure: every side a multiple of what one was, and
// pieces a little longer and wider, by less than that. The same can be cut from it.
func stretched(t *rapid.T, p *planning.Problem) *planning.Problem {
	one := rapid.SampledFrom([]string{"1", "0.25", "2.54", "6.35", "12.5", "0.125", "1000", "0.000000007"}).Draw(t, "one")
	more := rapid.SampledFrom([]string{"0", "0", "0.5", "0.9"}).Draw(t, "more")
	if one == "0.000000007" {
		more = "0"
	}
	grow := func(d planning.Decimal, more string) planning.Decimal {
		n := new(big.Rat).Mul(new(big.Rat).Add(d.Rat(), decimal(t, more).Rat()), decimal(t, one).Rat())
		return decimal(t, n.FloatString(9))
	}
	out := *p
	out.Fabrics = append([]planning.Fabric(nil), p.Fabrics...)
	for i := range out.Fabrics {
		f := &out.Fabrics[i]
		f.Length, f.Width = grow(f.Length, more), grow(f.Width, more)
	}
	out.Cases = nil
	for _, c := range p.Cases {
		c.Panels = append([]planning.Panel(nil), c.Panels...)
		for j := range c.Panels {
			c.Panels[j].Around, c.Panels[j].Along = grow(c.Panels[j].Around, "0"), grow(c.Panels[j].Along, "0")
		}
		out.Cases = append(out.Cases, c)
	}
	require.NoError(t, out.Validate())
	return &out
}

func decimal(t require.TestingT, text string) planning.Decimal {
	d, err := planning.ParseDecimal(text)
	require.NoError(t, err)
	return d
}
