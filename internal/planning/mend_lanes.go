package planning

import "slices"

// A large plan is improved in two lanes, each with a model of its own. Where they meet, one takes
// over what the other has mended: a move takes up little, so most moves of one lane can be done
// again on the plan of the other.
type bigLane struct {
	s     *search
	known []map[string]*strip
	pool  [][][]*strip
	turns *turns
	tree  *tree // that proves the bound besides, nil for none
	met   int64 // what the plan was worth when the lanes met
}

// deed is what a move did to a plan.
type deed struct {
	groups []bool
	bodies []bool
	stocks []int
	idle   []int          // by stocks: pieces taken up that nothing was cut from
	was    [][]cutPattern // by stocks
	cuts   [][]cutPattern // by stocks: what was cut instead
}

// deed tells what a move did that took this up.
func (t *taken) deed(n *nearby, cuts [][]cutPattern) *deed {
	x := &deed{groups: t.groups, bodies: n.bodies, stocks: t.stocks, idle: make([]int, len(t.stocks)), was: make([][]cutPattern, len(t.stocks)), cuts: cuts}
	for _, l := range t.loose {
		k := slices.Index(t.stocks, l.stock)
		x.was[k] = append(x.was[k], l.was...)
		x.idle[k] += l.pieces - len(l.was)
	}
	return x
}

// again does to the plan in hand what a move did to another, where what it took up is there.
func (d *mend) again(x *deed, ms *master) {
	t := &taken{groups: x.groups, stocks: x.stocks, rest: map[int][]cutPattern{}, lie: slices.Clone(d.lie)}
	cuts := make([][]cutPattern, len(x.stocks))
	for k, i := range x.stocks {
		idle := len(d.m.stock[i].pieces)
		for _, c := range d.cuts[i] {
			idle -= c.pieces
		}
		rest := slices.Clone(d.cuts[i])
		for _, c := range ms.adoptedList(d.m.stock[i].group, x.was[k]) {
			at := slices.IndexFunc(rest, func(o cutPattern) bool { return sameStrips(inOrder(o.strips), inOrder(c.strips)) })
			if at < 0 || rest[at].pieces < c.pieces {
				return
			}
			for _, st := range rest[at].strips {
				for _, n := range st.counts {
					t.lie[n.row] -= int64(n.n) * int64(c.pieces)
				}
			}
			if rest[at].pieces -= c.pieces; rest[at].pieces == 0 {
				rest = slices.Delete(rest, at, at+1)
			}
		}
		if idle < x.idle[k] {
			return
		}
		t.rest[i], cuts[k] = rest, ms.adoptedList(d.m.stock[i].group, x.cuts[k])
	}
	d.m.assembled += 4 * int64(len(d.m.makes)+len(d.m.supply))
	d.change(t, d.around(t, x.bodies), cuts)
}

func (ms *master) adoptedList(g int, list []cutPattern) []cutPattern {
	var out []cutPattern
	for _, c := range list {
		out = append(out, cutPattern{ms.adopted(g, c.strips), c.pieces})
	}
	return out
}

// bigTwin begins a second lane with what the first has, and moves to its strips where a dive begins.
func (s *search) bigTwin(pool [][][]*strip, from *start) *bigLane {
	b := s.again()
	ms := &master{m: b.m, strips: make([]map[string]*strip, len(b.m.groups))}
	b.cuts, from.cuts = ms.adopt(s.cuts), ms.adopt(from.cuts)
	o := &bigLane{s: b, known: ms.strips, pool: make([][][]*strip, len(pool))}
	for i, list := range pool {
		for _, strips := range list {
			o.pool[i] = append(o.pool[i], inOrder(ms.adopted(b.m.stock[i].group, strips)))
		}
	}
	return o
}

// halve gives another search half of the effort that is left, and of the effort beyond it.
func (s *search) halve(o *search) {
	each := max(s.effort-s.work(), 0) / 2
	s.effort, o.effort = s.work()+each, o.work()+each
	s.more /= 2
	o.more = s.more
}

// meetBig brings both lanes to the lower bound and to one plan: the better one, with what the other
// has mended besides.
func meetBig(a, b *bigLane) {
	a.s.bound = min(a.s.bound, b.s.bound)
	b.s.bound = a.s.bound
	from, to := a, b
	if b.s.sewn.value > a.s.sewn.value {
		from, to = b, a
	}
	if from.s.sewn.value == to.s.sewn.value && (to.gained() == 0 || !to.turns.mended) {
		return
	}
	if to.turns.mended && to.gained() > 0 {
		ms := &master{m: from.s.m, strips: from.known}
		for _, x := range to.turns.mend.deeds {
			from.turns.mend.again(x, ms)
		}
	}
	ms := &master{m: to.s.m, strips: to.known}
	to.s.keep(ms.adopt(from.s.cuts), from.s.sewn)
	to.turns.mend.take()
	to.turns.mend.weigh()
	a.met, b.met = a.s.sewn.value, b.s.sewn.value
}

// gained is by how much the plan has become better since the lanes met.
func (l *bigLane) gained() int64 { return l.s.sewn.value - l.met }
