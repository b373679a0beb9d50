package planning

import "context"

// yieldMoves is how many dives look for what a lot completes: somebody waits for it.
const yieldMoves = 8

// Yielded tells what a lot of fabric would make.
type Yielded struct {
	Alone     []Alone `json:"alone"`     // panels that it holds of one kind, were it cut for nothing else
	Completes int     `json:"completes"` // pillowcases more with what is on the shelf, from a re-solve
	Weight    Decimal `json:"weight"`
	Quotas    []Moved `json:"quotas"` // whose numbers change
}

// Alone tells how many panels of one kind a lot holds.
type Alone struct {
	Case   string `json:"case"`
	Role   string `json:"role"`
	Panels int    `json:"panels"`
}

// Yield tells what a lot at intake would make: of each panel alone, and beyond the plan with
// what is on the shelf. plan must be a plan of p; lot must not be among its fabrics, though its
// group may be.
func Yield(ctx context.Context, p *Problem, plan *Plan, lot Fabric) (*Yielded, error) {
	with := *p
	with.Fabrics = append(p.Fabrics[:len(p.Fabrics):len(p.Fabrics)], lot)
	return YieldOf(ctx, &with, plan, nil, []string{lot.ID})
}

// YieldOf is Yield of a lot of several fabrics, which with holds beside those of the problem
// that plan is a plan of, and beside those that have come since.
func YieldOf(ctx context.Context, with *Problem, plan *Plan, since, lot []string) (*Yielded, error) {
	alone, err := HoldsAlone(with, lot)
	if err != nil {
		return nil, err
	}
	g, err := Gains(ctx, with, plan, since, [][]string{lot}, yieldMoves)
	if err != nil {
		return nil, err
	}
	y := &Yielded{Alone: alone, Completes: g[0].Cases, Weight: g[0].Weight, Quotas: g[0].Quotas}
	if y.Quotas == nil {
		y.Quotas = []Moved{} // a list for programs to read, also where nothing moves
	}
	return y, nil
}

// HoldsAlone tells how many panels of each kind the fabrics of a lot hold, were they cut for
// nothing else.
func HoldsAlone(p *Problem, lot []string) ([]Alone, error) {
	alone := Problem{Unit: p.Unit, Cases: p.Cases, Trims: map[string][]string{}, Kit: p.Kit}
	is := map[string]bool{}
	for _, id := range lot {
		is[id] = true
	}
	var bodies []string
	for i := range p.Fabrics {
		if f := p.Fabrics[i]; is[f.ID] {
			alone.Fabrics = append(alone.Fabrics, f)
			bodies = append(bodies, f.Group)
		}
	}
	bodies = unique(bodies)
	for _, c := range p.Cases {
		alone.Quotas = append(alone.Quotas, Quota{ID: c.ID, Cases: []string{c.ID}, Wanted: 1, Weight: Whole(1), Bodies: bodies})
	}
	m, err := modelOf(&alone)
	if err != nil {
		return nil, err
	}
	out := []Alone{}
	for _, c := range p.Cases {
		for _, l := range c.Panels {
			out = append(out, Alone{c.ID, l.Role, m.holds(m.kindOf(kind{l.Role, l.Around, l.Along}))})
		}
	}
	return out, nil
}

// holds gives how many panels of a kind all pieces hold where nothing else is cut.
func (m *model) holds(k int) int {
	var sum int64
	for g, gr := range m.groups {
		if gr.prog == nil {
			continue
		}
		values := make([]int64, len(gr.forms))
		for f := range values {
			if gr.kind[f] == k {
				values[f] = 1
			}
		}
		gr.prog.Price(values, nil)
		sum += m.held(g)
	}
	return int(sum)
}
