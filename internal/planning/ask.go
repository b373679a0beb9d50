package planning

import (
	"context"
	"math"
	"slices"
	"sort"
)

// Wish is a kind of fabric to ask donors for, and what it would bring.
type Wish struct {
	Group  string  `json:"group"`  // like the fabrics of this group
	Length Decimal `json:"length"` // of one more piece: a yard or half a metre
	Width  Decimal `json:"width"`  // as most fabrics of the group
	Gained int     `json:"gained"` // pillowcases more, from a re-solve with that piece
	Weight Decimal `json:"weight"` // weight more
	Quotas []Moved `json:"quotas"` // whose numbers change
}

// Moved tells how a quota's number changes.
type Moved struct {
	ID   string `json:"id"`
	From int    `json:"from"`
	To   int    `json:"to"`
}

// wishesTried is how many kinds of fabric are re-solved: those that the relaxation's prices
// think most of.
const wishesTried = 16

// Ask tells which kinds of fabric would help most: for each, what one more piece of a yard
// (half a metre in metric problems) makes beyond the plan, from a re-solve, best first. Kinds
// that bring nothing are left out. plan must be a plan of p, as Solve gives it.
func Ask(ctx context.Context, p *Problem, plan *Plan) ([]Wish, error) {
	m, err := modelOf(p)
	if err != nil {
		return nil, err
	}
	more := map[string]Decimal{"in": Whole(36), "cm": Whole(50), "mm": Whole(500)}[p.Unit]
	var wishes []Wish
	for _, f := range m.promising(plan, more) {
		moved, gained, weight, err := gain(ctx, p, plan, []Fabric{f}, 6)
		if err != nil {
			return nil, err
		}
		if gained > 0 || weight.Sign() > 0 {
			wishes = append(wishes, Wish{f.Group, f.Length, f.Width, gained, weight, moved})
		}
		if ctx.Err() != nil {
			break
		}
	}
	sort.SliceStable(wishes, func(i, j int) bool {
		if c := wishes[i].Weight.Cmp(wishes[j].Weight); c != 0 {
			return c > 0
		}
		return wishes[i].Gained > wishes[j].Gained
	})
	return wishes, nil
}

func modelOf(p *Problem) (*model, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	return newModel(p)
}

// promising lists one piece more of each group, those first whose piece holds most at the
// prices that proved the plan's bound.
func (m *model) promising(plan *Plan, length Decimal) []Fabric {
	type rated struct {
		f     Fabric
		worth float64
	}
	price := m.certifiedPrices(plan)
	var list []rated
	first := map[string]*Fabric{}
	widths := map[string][]Decimal{}
	var names []string
	for i := range m.p.Fabrics {
		f := &m.p.Fabrics[i]
		if first[f.Group] == nil {
			first[f.Group] = f
			names = append(names, f.Group)
		}
		widths[f.Group] = append(widths[f.Group], f.Width)
	}
	for _, name := range names {
		w := widths[name]
		slices.SortFunc(w, Decimal.Cmp)
		f := *first[name]
		f.ID, f.Length, f.Width, f.Pieces = freshFabric(m.p), length, w[len(w)/2], 1
		var worth float64
		for k, mk := range m.kinds {
			area := length.Float() * f.Width.Float() * math.Pow(10, 2*float64(m.places))
			if slices.Contains(f.Roles, mk.role) {
				worth = max(worth, area/(float64(mk.around)*float64(mk.along))*price[[2]string{name, m.kindName(k)}])
			}
		}
		list = append(list, rated{f, worth})
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].worth > list[j].worth })
	var out []Fabric
	for _, r := range list[:min(len(list), wishesTried)] {
		out = append(out, r.f)
	}
	return out
}

func (m *model) kindName(k int) string {
	mk := &m.kinds[k]
	return mk.role + " " + mk.kind.around.String() + " " + mk.kind.along.String()
}

// certifiedPrices reads the prices of the plan's certificate; without one all are 1.
func (m *model) certifiedPrices(plan *Plan) map[[2]string]float64 {
	price := map[[2]string]float64{}
	for g := range m.groups {
		for k := range m.kinds {
			price[[2]string{m.groups[g].name, m.kindName(k)}] = 1e-6
		}
	}
	if plan.Certificate == nil {
		return price
	}
	n := plan.Certificate.Tree
	for n != nil && n.Split != nil {
		n = n.High
	}
	if n == nil || len(n.Price) != len(plan.Certificate.Panels) {
		return price
	}
	for i, x := range plan.Certificate.Panels {
		if k := m.kindOf(kind{x.Role, x.Around, x.Along}); k >= 0 {
			price[[2]string{x.Group, m.kindName(k)}] += float64(n.Price[i]) / float64(plan.Certificate.Unit)
		}
	}
	return price
}

// gain re-solves the problem with more fabric, starting from the plan.
func gain(ctx context.Context, p *Problem, plan *Plan, more []Fabric, moves int) (moved []Moved, gained int, weight Decimal, err error) {
	q := *p
	q.Fabrics = append(p.Fabrics[:len(p.Fabrics):len(p.Fabrics)], more...)
	m, err := modelOf(&q)
	if err != nil {
		return nil, 0, Decimal{}, err
	}
	sewn := m.resolve(ctx, m.recalled(plan), len(p.Fabrics), moves)
	var steps int64
	for i, n := range m.made(sewn) {
		was := plan.Made(p.Quotas[i].ID)
		if n != was {
			moved = append(moved, Moved{p.Quotas[i].ID, was, n})
		}
		gained += n - was
		steps += int64(n-was) * m.quotas[i].weight
	}
	if steps <= 0 {
		return nil, 0, Decimal{}, nil
	}
	return moved, gained, m.weightDecimal(steps), nil
}

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
	y := &Yielded{}
	alone := Problem{Unit: p.Unit, Fabrics: []Fabric{lot}, Cases: p.Cases, Trims: map[string][]string{}, Kit: p.Kit}
	for _, c := range p.Cases {
		alone.Quotas = append(alone.Quotas, Quota{ID: c.ID, Cases: []string{c.ID}, Wanted: 1, Weight: Whole(1), Bodies: []string{lot.Group}})
	}
	m, err := modelOf(&alone)
	if err != nil {
		return nil, err
	}
	for _, c := range p.Cases {
		for _, l := range c.Panels {
			y.Alone = append(y.Alone, Alone{c.ID, l.Role, m.holds(m.kindOf(kind{l.Role, l.Around, l.Along}))})
		}
	}
	y.Quotas, y.Completes, y.Weight, err = gain(ctx, p, plan, []Fabric{lot}, 6)
	return y, err
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
