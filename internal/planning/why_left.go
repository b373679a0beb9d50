package planning

import (
	"fmt"
	"math"
	"slices"
)

// leftOver is a problem with only the fabric that a plan leaves: pieces it does not cut, and
// the uncut length of the others. It asks for nothing.
func leftOver(p *Problem, plan *Plan) *Problem {
	rest := *p
	rest.Fabrics, rest.Fixed, rest.Quotas = nil, nil, nil
	places := finest(p, plan)
	used := map[string]map[int]Decimal{}
	for _, l := range plan.Layouts {
		if used[l.Fabric] == nil {
			used[l.Fabric] = map[int]Decimal{}
		}
		used[l.Fabric][l.Piece] = l.Used
	}
	known := map[string]bool{}
	for _, f := range p.Fabrics {
		known[f.ID] = true
	}
	for _, f := range p.Fabrics {
		whole := f
		whole.Pieces = f.Pieces - len(used[f.ID])
		if whole.Pieces > 0 {
			rest.Fabrics = append(rest.Fabrics, whole)
		}
		all, _ := f.Length.units(places)
		for n := 1; n <= f.Pieces; n++ {
			u, cut := used[f.ID][n]
			if !cut {
				continue
			}
			if taken, _ := u.units(places); taken < all {
				end := f
				end.ID, end.Pieces, end.Length = fmt.Sprintf("%s end of piece %d", f.ID, n), 1, scaled(all-taken, places)
				for known[end.ID] {
					end.ID += "'" // an end of an end that was left before
				}
				known[end.ID] = true
				rest.Fabrics = append(rest.Fabrics, end)
			}
		}
	}
	return &rest
}

// found is what could be sewn of what is left.
type found struct {
	cases  map[string]int // pillowcases by case
	bodies []string       // groups of their bodies
}

func (f *found) total() int {
	n := 0
	for _, k := range f.cases {
		n += k
	}
	return n
}

// most gives the case that most are made by.
func (f *found) most() string {
	best := ""
	for id, n := range f.cases {
		if best == "" || n > f.cases[best] || n == f.cases[best] && id < best {
			best = id
		}
	}
	return best
}

// sewn plans up to n pillowcases of a quota from what is left, its cases without some roles,
// and gives what is left then.
func (w *inquiry) sewn(left *Problem, q *Quota, n int, without []string) (*found, *Problem, error) {
	out := &found{cases: map[string]int{}}
	if w.solves <= 0 || w.ctx.Err() != nil {
		return out, left, nil
	}
	small := *left
	small.Cases = nil
	for _, id := range unique(q.Cases) {
		c := *w.p.CaseByID(id)
		c.Panels = slices.DeleteFunc(slices.Clone(c.Panels), func(l Panel) bool { return slices.Contains(without, l.Role) })
		small.Cases = append(small.Cases, c)
	}
	only := *q
	only.Wanted, only.Weight = n, Whole(1)
	small.Quotas = []Quota{only}
	small.Fabrics = usable(left, &small)
	if len(small.Fabrics) == 0 {
		return out, left, nil
	}
	w.solves--
	plan, err := Solve(w.ctx, &small, Options{Effort: whyEffort})
	if err != nil {
		return out, left, fmt.Errorf("what is left of the fabric: %w", err)
	}
	group := map[string]string{}
	for _, f := range small.Fabrics {
		group[f.ID] = f.Group
	}
	places := plan.Panels()
	for _, k := range plan.Kits {
		out.cases[k.Case] += len(k.Pillowcases)
		for _, one := range k.Pillowcases {
			if g := group[places[one[Body][0]].Layout.Fabric]; !slices.Contains(out.bodies, g) {
				out.bodies = append(out.bodies, g)
			}
		}
	}
	slices.Sort(out.bodies)
	return out, leftOver(left, plan), nil
}

// usable gives the pieces that hold some panel which their group may serve as for the quota of
// a small problem: what is left is mostly ends that hold nothing.
func usable(left, small *Problem) []Fabric {
	bodies := asSet(small.Quotas[0].Bodies)
	trims := map[string]bool{}
	for _, b := range bodies {
		for _, t := range left.Trims[b] {
			trims[t] = true
		}
	}
	var out []Fabric
	for _, f := range left.Fabrics {
		body, trim := slices.Contains(bodies, f.Group), trims[f.Group]
		if (body || trim) && slices.ContainsFunc(small.Cases, func(c Case) bool {
			return slices.ContainsFunc(c.Panels, func(l Panel) bool {
				return (l.Role == Body && body || l.Role != Body && trim) && slices.Contains(f.Roles, l.Role) && f.holds(l)
			})
		}) {
			out = append(out, f)
		}
	}
	return out
}

// holds says whether a panel fits on one of the pieces.
func (f *Fabric) holds(l Panel) bool {
	across := l.Around.Cmp(f.Width) <= 0 && l.Along.Cmp(f.Length) <= 0
	along := l.Along.Cmp(f.Width) <= 0 && l.Around.Cmp(f.Length) <= 0
	return f.Turn != Along && across || f.Turn != Across && along
}

// usualWidth is the usable width of most quilting cloth, 42 in or 107 cm (common practice, no
// source): what is asked for is counted in cloth of it.
func usualWidth(unit string) Decimal {
	switch unit {
	case "in":
		return Whole(42)
	case "cm":
		return Whole(107)
	}
	return Whole(1070)
}

// needsOf gives the cloth that pillowcases by case need, in the roles given or in all, the
// panels of one size together.
func needsOf(p *Problem, cases map[string]int, roles []string) []Need {
	var out []Need
	var sizes []Panel
	for i := range p.Cases {
		for _, l := range p.Cases[i].Panels {
			n := cases[p.Cases[i].ID] * l.Pieces
			if n == 0 || len(roles) > 0 && !slices.Contains(roles, l.Role) {
				continue
			}
			at := slices.IndexFunc(sizes, func(o Panel) bool { return o.Role == l.Role && o.Around == l.Around && o.Along == l.Along })
			if at < 0 {
				at = len(out)
				out, sizes = append(out, Need{Role: l.Role, Around: l.Around, Along: l.Along}), append(sizes, l)
			}
			out[at].Panels += n
		}
	}
	places := finest(p, nil)
	for i := range out {
		out[i].Length, out[i].Width = clothFor(sizes[i], out[i].Panels, usualWidth(p.Unit), places)
	}
	return out
}

// Takes gives the cloth that n pillowcases of a quota take when none of it lies here: each role
// in a piece of the usual width, by the case with the least body. None where no case is chosen.
func (p *Problem) Takes(q *Quota, n int) []Need {
	c := p.smallest(q)
	if c == nil || n <= 0 {
		return nil
	}
	return needsOf(p, map[string]int{c.ID: n}, nil)
}

// clothFor gives the shortest piece of the width given that n panels are cut from in rows, in
// whichever turn takes less; a wider one where the width holds none.
func clothFor(l Panel, n int, width Decimal, places int) (long, wide Decimal) {
	around, _ := l.Around.units(places)
	along, _ := l.Along.units(places)
	w, ok := width.units(places)
	if !ok || w < min(around, along) {
		w = min(around, along)
		width = scaled(w, places)
	}
	best := int64(math.MaxInt64)
	for _, turn := range [][2]int64{{around, along}, {along, around}} {
		if a := w / turn[0]; a > 0 {
			if rows := (int64(n) + a - 1) / a; rows <= math.MaxInt64/turn[1] {
				best = min(best, rows*turn[1])
			}
		}
	}
	return scaled(best, places), width
}

func freshGroup(p *Problem) string {
	name := "more"
	for slices.ContainsFunc(p.Fabrics, func(f Fabric) bool { return f.Group == name }) {
		name += "'"
	}
	return name
}

func freshFabric(p *Problem) string {
	id := "more"
	for slices.ContainsFunc(p.Fabrics, func(f Fabric) bool { return f.ID == id }) {
		id += "'"
	}
	return id
}
