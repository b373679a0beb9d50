package planning

import (
	"context"
	"math/rand/v2"
	"slices"

	"boltward/internal/planning/lp"
)

// Gained tells what a lot of fabric brings to a plan.
type Gained struct {
	Cases  int     // pillowcases more
	Weight Decimal // weight more
	Quotas []Moved // whose numbers change; one that matters less may lose for one that matters more
}

// Moved tells how a quota's number changes.
type Moved struct {
	ID   string `json:"id"`
	From int    `json:"from"`
	To   int    `json:"to"`
}

// Gains tells what each of some lots would bring to a plan, one without the others. p is the
// problem with the fabric of all lots in it, each lot named by the ids of its fabrics; plan is
// a plan of p that cuts none of them. Fabric that came since the plan was made is named too:
// what it brings by itself is counted for no lot.
//
// What is said can be made: each figure is the difference between two whole sewings, one with
// the lot and one that does without, after moves dives for the lot and pieces that its panels
// can meet. More may be possible. The same input gives the same figures; when ctx ends the
// lots not looked into bring nothing.
func Gains(ctx context.Context, p *Problem, plan *Plan, since []string, lots [][]string, moves int) ([]Gained, error) {
	m, err := modelOf(p)
	if err != nil {
		return nil, err
	}
	o := newOutlook(ctx, m, plan, lots)
	o.settle(since, moves)
	out := make([]Gained, len(lots))
	for i := range lots {
		out[i] = o.gained(i, moves)
	}
	return out, nil
}

// Lost tells what the plan would make less without a lot that it may cut: the difference
// between its own sewing and the best found without the lot, after moves dives for the pieces
// that its panels can meet. More than what is said is not lost.
func Lost(ctx context.Context, p *Problem, plan *Plan, lot []string, moves int) (Gained, error) {
	m, err := modelOf(p)
	if err != nil {
		return Gained{}, err
	}
	o := newOutlook(ctx, m, plan, [][]string{lot})
	take := o.lot[0]
	rest := m.assemble(o.lieWithout(take), 60)
	without, plain := rest.made, rest.value
	for _, k := range take {
		o.h.recut(k, nil)
	}
	o.h.need = m.needs(rest)
	if near := o.near(take); len(near) > 0 {
		o.dives(nil, near, moves, &plain, func(sewn *sewing) { without = sewn.made })
	}
	return o.difference(without, o.made, o.value-plain), nil
}

// outlook re-solves one model with this lot or that. All lots stand in the model, so that it,
// the programmes of its groups and the sewing to begin with are made once; a lot is of no
// effect until its pieces are taken up.
type outlook struct {
	h        *hunt
	fabricOf []string // of the hunt's pieces
	lot      [][]int  // indexes of pieces, by lot
	any      []int    // pieces that are in no lot
	base     [][]*strip
	made     []int64 // of the sewing to begin with, by making
	value    int64   // what it is worth
	need     []int64 // panels that it takes
}

func newOutlook(ctx context.Context, m *model, plan *Plan, lots [][]string) *outlook {
	s := &search{m: m, ctx: ctx}
	o := &outlook{h: &hunt{s: s, m: m, near: &master{lp: lp.New()}, footing: newFooting(m), strips: make([]map[string]*strip, len(m.groups)), related: m.relatedGroups()}}
	of := map[string]int{}
	for i, ids := range lots {
		for _, id := range ids {
			of[id] = i
		}
	}
	o.lot = make([][]int, len(lots))
	at := map[[2]int]int{}
	for i, st := range m.stock {
		for _, p := range st.pieces {
			k := len(o.h.stock)
			o.h.stock = append(o.h.stock, i)
			o.fabricOf = append(o.fabricOf, m.p.Fabrics[p.fabric].ID)
			at[[2]int{p.fabric, p.number}] = k
			if lot, is := of[o.fabricOf[k]]; is {
				o.lot[lot] = append(o.lot[lot], k)
			} else {
				o.any = append(o.any, k)
			}
		}
	}
	ms := &master{m: m, strips: o.h.strips, counts: make([]int64, len(m.supply))}
	o.base = make([][]*strip, len(o.h.stock))
	for _, c := range m.recalled(plan) {
		for _, layout := range c.pattern {
			k := at[[2]int{c.fabric, c.number}]
			o.base[k] = append(o.base[k], ms.intern(c.group, layout))
		}
	}
	o.h.pool = make([][]*column, len(m.stock))
	for k, strips := range o.base {
		if i := o.h.stock[k]; len(strips) > 0 && len(o.h.pool[i]) == 0 {
			o.h.pool[i] = append(o.h.pool[i], &column{strips: inOrder(strips), counts: ms.sum(strips)})
		}
	}
	o.restore()
	sewn := m.assemble(o.h.lie, 60)
	o.made, o.value, o.need = sewn.made, sewn.value, m.needs(sewn)
	o.price(plan)
	return o
}

// restore makes the plan's cuts those in hand again.
func (o *outlook) restore() {
	o.h.cut, o.h.need, o.h.lie = slices.Clone(o.base), o.need, make([]int64, len(o.h.m.supply))
	for _, strips := range o.base {
		for _, st := range strips {
			for _, n := range st.counts {
				o.h.lie[n.row] += int64(n.n)
			}
		}
	}
}

// beside are how many other pieces the dives for a lot take up, in turn.
var beside = [...]int{6, 12, 24, 4, 40, 16, 8, 10}

// gained takes the lot's pieces up with others that they can meet, again and again, and gives
// what the best sewing found is worth more than the best without the lot.
func (o *outlook) gained(lot, moves int) Gained {
	m := o.h.m
	o.restore()
	best, value, without, plain := o.made, o.value, o.made, o.value
	take := o.lot[lot]
	if len(take) == 0 {
		return Gained{}
	}
	o.dives(take, o.near(take), moves, &value, func(sewn *sewing) {
		best = sewn.made
		if rest := m.assemble(o.lieWithout(take), 20); rest.value > plain {
			without, plain = rest.made, rest.value
		}
	})
	return o.difference(without, best, value-plain)
}

// settle takes up pieces that are in no lot, and keeps what can be made of them besides.
func (o *outlook) settle(ids []string, moves int) {
	is := map[string]bool{}
	for _, id := range ids {
		is[id] = true
	}
	var take []int
	for _, k := range o.any {
		if is[o.fabricOf[k]] {
			take = append(take, k)
		}
	}
	if len(take) > 0 {
		o.restore()
		o.dives(take, o.near(take), moves, &o.value, func(sewn *sewing) {
			o.made, o.base, o.need = sewn.made, slices.Clone(o.h.cut), o.h.need
		})
	}
}

// dives takes up the given pieces and some near, again and again, and calls better with each
// sewing that is worth more than the best so far.
func (o *outlook) dives(take, near []int, moves int, value *int64, better func(*sewing)) {
	h, m := o.h, o.h.m
	h.rng = rand.New(rand.NewPCG(5, 6))
	for move := 0; move < moves && h.s.ctx.Err() == nil; move++ {
		m.assembled += 100_000 // what a move costs at least
		free, before := o.choose(take, near, beside[move%len(beside)]), h.near.lp.Work
		ms := h.programme(free)
		done := ms.dive(float64(*value)+1-1e-3, h.s.interrupted)
		m.assembled += h.near.lp.Work - before
		if !done {
			continue
		}
		old := h.change(ms, free)
		sewn := m.assemble(h.lie, 20)
		if sewn.value <= *value {
			h.undo(free, old)
			continue
		}
		*value, h.need = sewn.value, m.needs(sewn)
		better(sewn)
	}
}

// near lists the pieces in no lot that may meet panels of the given ones in a pillowcase.
func (o *outlook) near(take []int) []int {
	groups, taken := map[int]bool{}, map[int]bool{}
	for _, k := range take {
		taken[k] = true
		for _, g := range o.h.related[o.groupOf(k)] {
			groups[g] = true
		}
	}
	var out []int
	for _, k := range o.any {
		if groups[o.groupOf(k)] && !taken[k] {
			out = append(out, k)
		}
	}
	return out
}

func (o *outlook) groupOf(k int) int { return o.h.m.stock[o.h.stock[k]].group }

// mostTaken is how many of the pieces that dives are for are taken up at once.
const mostTaken = 12

// choose takes up the given pieces, a few of them where they are many, at times one, and n of those near:
// half the time any, else those sooner that lose more.
func (o *outlook) choose(take, near []int, n int) []int {
	loss := make([]float64, len(o.h.stock))
	if o.h.rng.IntN(2) == 0 {
		all := o.h.losses()
		for _, k := range near {
			loss[k] = all[k]
		}
	} else {
		for _, k := range near {
			loss[k] = 1
		}
	}
	free := slices.Clone(take)
	o.h.rng.Shuffle(len(free), func(i, j int) { free[i], free[j] = free[j], free[i] })
	if len(free) > 1 && o.h.rng.IntN(2) == 0 {
		free = free[:1] // what one alone brings is a step to what they bring together
	}
	free = free[:min(len(free), mostTaken)]
	for range min(n, len(near)) {
		k := o.h.draw(loss, nil)
		if k < 0 {
			break
		}
		free = append(free, k)
		loss[k] = 0
	}
	slices.Sort(free)
	return free
}

// price takes the prices that proved the plan's bound, by which pieces are chosen. Panels that
// it knew nothing of have none.
func (o *outlook) price(plan *Plan) {
	m := o.h.m
	known := m.certifiedPrices(plan)
	o.h.prices = make(prices, len(m.supply))
	for r, s := range m.supply {
		o.h.prices[r] = m.toPrice(known[[2]string{m.groups[s.group].name, m.kindName(s.kind)}])
	}
	m.priceGroups(m.stocked(), o.h.prices, nil, nil, nil)
	o.h.best = make([]int64, len(m.stock))
	for i, st := range m.stock {
		o.h.best[i] = m.groups[st.group].prog.Best(st.point, st.width)
	}
}

// lieWithout gives the panels that lie cut but for those of some pieces.
func (o *outlook) lieWithout(pieces []int) []int64 {
	lie := slices.Clone(o.h.lie)
	for _, k := range pieces {
		for _, st := range o.h.cut[k] {
			for _, n := range st.counts {
				lie[n.row] -= int64(n.n)
			}
		}
	}
	return lie
}

func (o *outlook) difference(from, to []int64, value int64) Gained {
	if value <= 0 {
		return Gained{}
	}
	m := o.h.m
	g := Gained{Weight: m.weightDecimal(value)}
	was, is := m.filled(from), m.filled(to)
	for q := range was {
		if was[q] != is[q] {
			g.Quotas = append(g.Quotas, Moved{m.p.Quotas[q].ID, was[q], is[q]})
			g.Cases += is[q] - was[q]
		}
	}
	return g
}

// filled counts the pillowcases of a sewing by quota, fixed ones included.
func (m *model) filled(made []int64) []int {
	out := slices.Clone(m.fixed)
	for i, n := range made {
		out[m.makes[i].quota] += int(n)
	}
	return out
}
