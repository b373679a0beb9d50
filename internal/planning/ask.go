package planning

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// Wish is a kind of fabric to ask donors for, and what it would bring.
type Wish struct {
	Group  string  `json:"group"`  // like the fabrics of this group
	Length Decimal `json:"length"` // of one more piece: one, two or three yards or half metres
	Width  Decimal `json:"width"`  // as most fabrics of the group
	Gained int     `json:"gained"` // pillowcases more, from a re-solve with that piece
	Weight Decimal `json:"weight"` // weight more
	Quotas []Moved `json:"quotas"` // whose numbers change
}

const (
	// wishesTried is how many kinds of fabric are re-solved: those that the prices think most of.
	wishesTried = 24
	// firstMoves dives are tried for each, wishMoves for the wishesSure that bring most.
	firstMoves, wishMoves, wishesSure = 2, 8, 8
	// askEffort is how much work that may take, in the units of Options.Effort. What is most
	// promising comes first, so what is left out is worth least.
	askEffort = 1200
)

// AskSteps gives the lengths that are asked for: one, two and three yards, or half metres in
// metric problems. A shorter one that brings something stands for the longer ones.
func AskSteps(unit string) []Decimal {
	step := map[string]int64{"in": 36, "cm": 50, "mm": 500}[unit]
	return []Decimal{Whole(step), Whole(2 * step), Whole(3 * step)}
}

// Ask tells which kinds of fabric would help most: for each, what one more piece of a yard
// (half a metre in metric problems), or of two or three where one brings nothing, makes beyond
// the plan, from a re-solve; best first, by weight for each length. Kinds are the groups of the
// fabrics, and those that only quotas and trims name. Kinds that bring nothing are left out.
// plan must be a plan of p, as Solve gives it.
func Ask(ctx context.Context, p *Problem, plan *Plan) ([]Wish, error) {
	with, offers := p.asking()
	return AskOf(ctx, with, plan, offers)
}

// AskOf is Ask among given offers: of each, fabrics of one kind, the shortest first, that with
// holds beside those of the problem that plan is a plan of.
func AskOf(ctx context.Context, with *Problem, plan *Plan, offers [][]string) ([]Wish, error) {
	o, fabric, offers, err := asking(ctx, with, plan, offers)
	if err != nil {
		return nil, err
	}
	return o.wishes(offers, fabric), nil
}

// asking gives the problem with a piece of each length of each kind that could be asked for.
func (p *Problem) asking() (with *Problem, offers [][]string) {
	more := *p
	more.Fabrics = slices.Clone(p.Fabrics)
	for _, f := range p.askable() {
		var ids []string
		for _, f.Length = range AskSteps(p.Unit) {
			f.ID = freshFabric(&more)
			more.Fabrics = append(more.Fabrics, f)
			ids = append(ids, f.ID)
		}
		offers = append(offers, ids)
	}
	return &more, offers
}

// asking prepares the offers that are tried, the most promising first.
func asking(ctx context.Context, with *Problem, plan *Plan, offers [][]string) (*outlook, map[string]*Fabric, [][]string, error) {
	m, err := modelOf(with)
	if err != nil {
		return nil, nil, nil, err
	}
	fabric := map[string]*Fabric{}
	for i := range with.Fabrics {
		fabric[with.Fabrics[i].ID] = &with.Fabrics[i]
	}
	offers = m.promising(plan, offers, fabric)
	return newOutlook(ctx, m, plan, single(offers)), fabric, offers, nil
}

// wishes tries the offers one by one, then those that bring most for longer, until that is
// done or the effort is spent.
func (o *outlook) wishes(offers [][]string, fabric map[string]*Fabric) []Wish {
	var found []tried
	at := 0
	for _, ids := range offers {
		for k, id := range ids {
			if o.h.s.work() >= askEffort {
				break
			}
			if g := o.gained(at+k, firstMoves); g.Cases >= 0 && g.Weight.Sign() > 0 {
				found = append(found, tried{at + k, g, fabric[id]})
				break
			}
		}
		at += len(ids)
	}
	slices.SortStableFunc(found, tried.compare)
	for i := range found[:min(len(found), wishesSure)] {
		if o.h.s.work() >= askEffort {
			break
		}
		if g := o.gained(found[i].lot, wishMoves); g.Cases >= 0 && g.Weight.Cmp(found[i].Weight) > 0 {
			found[i].Gained = g
		}
	}
	slices.SortStableFunc(found, tried.compare)
	var out []Wish
	for _, t := range found {
		out = append(out, Wish{t.fabric.Group, t.fabric.Length, t.fabric.Width, t.Cases, t.Weight, t.Quotas})
	}
	return out
}

// tried is an offer and what it was found to bring.
type tried struct {
	lot int
	Gained
	fabric *Fabric
}

// compare puts first what brings most weight for its length.
func (t tried) compare(o tried) int {
	each := func(t tried) float64 { return t.Weight.Float() / t.fabric.Length.Float() }
	return cmp.Or(cmp.Compare(each(o), each(t)), cmp.Compare(o.Cases, t.Cases))
}

func modelOf(p *Problem) (*model, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	return newModel(p)
}

// promising gives the offers whose cloth holds most at the prices that proved the plan's bound,
// the best first. Panels that the bound knew nothing of are taken for as dear as the dearest
// of their kind.
func (m *model) promising(plan *Plan, offers [][]string, fabric map[string]*Fabric) [][]string {
	price, dearest := m.certifiedPrices(plan), map[int]float64{}
	for at, p := range price {
		for k := range m.kinds {
			if at[1] == m.kindName(k) {
				dearest[k] = max(dearest[k], p)
			}
		}
	}
	worth := map[string]float64{}
	for _, ids := range offers {
		f := fabric[ids[0]]
		for k, mk := range m.kinds {
			if slices.Contains(f.Roles, mk.role) {
				of, known := price[[2]string{f.Group, m.kindName(k)}]
				if !known {
					of = dearest[k]
				}
				area := float64(mk.around) * float64(mk.along)
				worth[ids[0]] = max(worth[ids[0]], of*f.Width.Float()*math.Pow10(m.places)/area)
			}
		}
	}
	offers = slices.Clone(offers)
	slices.SortStableFunc(offers, func(a, b []string) int { return cmp.Compare(worth[b[0]], worth[a[0]]) })
	return offers[:min(len(offers), wishesTried)]
}

// askable gives a piece of each group, without a length: of those that have fabric, and of
// those that quotas and trims name and that have none, as wide as most fabric is.
func (p *Problem) askable() []Fabric {
	first := map[string]*Fabric{}
	widths := map[string][]Decimal{}
	var names []string
	var all []Decimal
	for i := range p.Fabrics {
		f := &p.Fabrics[i]
		if first[f.Group] == nil {
			first[f.Group] = f
			names = append(names, f.Group)
		}
		widths[f.Group], all = append(widths[f.Group], f.Width), append(all, f.Width)
	}
	if len(all) == 0 {
		return nil
	}
	var out []Fabric
	for _, name := range names {
		f := *first[name]
		f.Pieces, f.Width = 1, usual(widths[name])
		out = append(out, f)
	}
	absent := map[string]*Fabric{}
	miss := func(group string, roles ...string) {
		if first[group] != nil {
			return
		}
		if absent[group] == nil {
			absent[group] = &Fabric{Group: group, Pieces: 1, Width: usual(all), Turn: Either}
			names = append(names, group)
		}
		absent[group].Roles = unique(append(absent[group].Roles, roles...))
	}
	var trims []string
	for i := range p.Cases {
		for _, l := range p.Cases[i].Panels {
			if l.Role != Body {
				trims = append(trims, l.Role)
			}
		}
	}
	for i := range p.Quotas {
		for _, b := range p.Quotas[i].Bodies {
			miss(b, Body)
			for _, t := range p.Trims[b] {
				miss(t, trims...)
			}
		}
	}
	for _, name := range names {
		if f := absent[name]; f != nil && len(f.Roles) > 0 {
			out = append(out, *f)
		}
	}
	return out
}

// usual gives the commonest of some widths, the middle one of those where several are.
func usual(widths []Decimal) Decimal {
	slices.SortFunc(widths, Decimal.Cmp)
	count := map[Decimal]int{}
	most := 0
	for _, w := range widths {
		count[w]++
		most = max(most, count[w])
	}
	if most == 1 {
		return widths[(len(widths)-1)/2]
	}
	common := slices.DeleteFunc(slices.Compact(slices.Clone(widths)), func(w Decimal) bool { return count[w] < most })
	return common[(len(common)-1)/2]
}

func (m *model) kindName(k int) string {
	mk := &m.kinds[k]
	return mk.role + " " + mk.kind.around.String() + " " + mk.kind.along.String()
}

// certifiedPrices reads the prices of the plan's certificate, by group and kind.
func (m *model) certifiedPrices(plan *Plan) map[[2]string]float64 {
	price := map[[2]string]float64{}
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
			price[[2]string{x.Group, m.kindName(k)}] = float64(n.Price[i]) / float64(plan.Certificate.Unit)
		}
	}
	return price
}

// single makes a lot of each fabric.
func single(offers [][]string) [][]string {
	var lots [][]string
	for _, ids := range offers {
		for _, id := range ids {
			lots = append(lots, []string{id})
		}
	}
	return lots
}
