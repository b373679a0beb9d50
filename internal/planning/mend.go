package planning

import (
	"math/rand/v2"
	"slices"

	"boltward/internal/planning/lp"
)

// mend improves a large plan a little at a time: it takes up a few pieces of groups that meet
// in pillowcases, or a few strips of each where pieces are long, lets the pillowcases of the
// bodies they can serve be sewn anew, and leaves everything else as it is. The programme of a
// move knows only those bodies, so that its work does not grow with the drive.
type mend struct {
	s     *search
	m     *model
	known []map[string]*strip
	pool  [][][]*strip // patterns of the relaxation, by stock, which dives begin with
	rng   *rand.Rand
	last  *master        // the programme of the last move, whose memory the next one takes over
	cuts  [][]cutPattern // by stock
	lie   []int64        // panels of all cuts, by supply row
	used  []int64        // those that something is sewn from
	made  []int64        // pillowcases by making
	trims [][]int64
	quota []int64 // pillowcases by quota
	value int64

	makesOf [][]int // makings by body group
	trimsOf [][]int // trimmings by body group
	touch   [][]int // by group: the body groups whose pillowcases its panels may go into
	groups  []int   // those that something can be cut from
	losses  []float64
	strips  float64 // how many strips are taken up at most
	moves   int
	thrift  *thrift
	best    []int64 // what a piece of each stock holds at most at the prices that prove the bound
	deeds   []*deed // that changed the plan in the last share of work
}

const (
	fewStrips  = 20  // that a move takes up at first
	mostStrips = 240 // that it ever takes up
	mostBodies = 8   // of other groups that it sews anew, up to eight times as many at times
	longPiece  = 8   // how many of the highest strips make a piece that is taken up in part
)

func newMend(s *search, known []map[string]*strip, pool [][][]*strip, seed uint64) *mend {
	d := &mend{s: s, m: s.m, known: known, pool: pool, rng: rand.New(rand.NewPCG(seed, 8)), groups: s.m.stocked(), strips: fewStrips, last: &master{lp: lp.New()}}
	d.makesOf, d.trimsOf, d.touch = make([][]int, len(s.m.groups)), make([][]int, len(s.m.groups)), make([][]int, len(s.m.groups))
	reach := func(g, body int) {
		if !slices.Contains(d.touch[g], body) {
			d.touch[g] = append(d.touch[g], body)
		}
	}
	for i := range s.m.makes {
		mk := &s.m.makes[i]
		d.makesOf[mk.group] = append(d.makesOf[mk.group], i)
		for _, u := range mk.uses {
			reach(s.m.supply[u.row].group, mk.group)
		}
	}
	for t := range s.m.trims {
		tr := &s.m.trims[t]
		d.trimsOf[tr.body] = append(d.trimsOf[tr.body], t)
		for _, r := range tr.rows {
			reach(s.m.supply[r].group, tr.body)
		}
	}
	d.take()
	d.price()
	return d
}

// take makes the best plan so far the one to improve.
func (d *mend) take() {
	s := d.s
	d.cuts = slices.Clone(s.cuts)
	for len(d.cuts) < len(d.m.stock) {
		d.cuts = append(d.cuts, nil)
	}
	d.lie, d.used = d.m.panels(d.cuts), d.m.needs(s.sewn)
	d.made, d.value = slices.Clone(s.sewn.made), s.sewn.value
	d.trims = make([][]int64, len(s.sewn.trims))
	for t := range d.trims {
		d.trims[t] = slices.Clone(s.sewn.trims[t])
	}
	d.quota = make([]int64, len(d.m.quotas))
	for i, n := range d.made {
		d.quota[d.m.makes[i].quota] += n
	}
}

// price notes what each stock could hold at the prices that prove the bound.
func (d *mend) price() {
	d.m.fabricSide(d.s.proof)
	d.best = make([]int64, len(d.m.stock))
	for i, st := range d.m.stock {
		d.best[i] = d.m.groups[st.group].prog.Best(st.point, st.width)
	}
	d.weigh()
}

// weigh tells for each group how much its cuts stay behind the bound: what they hold less than
// they could, and panels that nothing is sewn from.
func (d *mend) weigh() {
	unit := float64(d.m.unit)
	d.losses = make([]float64, len(d.m.groups))
	for i, list := range d.cuts {
		st := d.m.stock[i]
		loss := d.best[i] * int64(len(st.pieces))
		for _, c := range list {
			loss -= d.s.proof.worth(c.strips) * int64(c.pieces)
		}
		d.losses[st.group] += max(float64(loss)/unit, 0)
		d.m.assembled += int64(10 * len(list))
	}
	for r := range d.m.supply {
		if over := d.lie[r] + d.m.supply[r].given - d.used[r]; over > 0 {
			d.losses[d.m.supply[r].group] += float64(over) * float64(d.s.proof[r]) / unit
		}
	}
}

// worth gives what strips hold at prices.
func (p prices) worth(strips []*strip) int64 {
	var sum int64
	for _, s := range strips {
		for _, n := range s.counts {
			sum += p[n.row] * int64(n.n)
		}
	}
	return sum
}

// move takes some cloth up and cuts it anew. It always has more to do.
func (d *mend) move() bool {
	if d.moves++; d.moves%64 == 0 {
		d.weigh()
	}
	d.m.assembled += 100_000 + int64(4*(len(d.m.makes)+len(d.m.supply))) // what a move costs at least
	t := d.pick()
	if len(t.loose) == 0 {
		return true
	}
	n := d.near(t)
	cutoff := float64(n.value) + 1 - 1e-3
	if d.rng.IntN(4) == 0 {
		cutoff = float64(n.value) - 1e-3
	}
	if d.most(t, n) < cutoff {
		d.strips = min(d.strips*1.01, mostStrips)
		return true
	}
	before := d.last.lp.Work
	ms := d.programme(t, n)
	defer func() { d.m.assembled += ms.lp.Work - before }()
	if !ms.dive(cutoff, d.s.halt) {
		d.adapt(ms)
		return true
	}
	if cuts := ms.cutsOf(t.stocks); d.change(t, n, cuts) {
		d.deeds = append(d.deeds, t.deed(n, cuts))
	}
	return true
}

// adapt takes up more after the relaxation has said at once that nothing can come of so
// little, and less where a dive got lost among too much.
func (d *mend) adapt(ms *master) {
	if ms.settled == 0 {
		d.strips = min(d.strips*1.02, mostStrips)
	} else {
		d.strips = max(d.strips*0.97, fewStrips/2)
	}
}

// change cuts the cloth taken up as given, by its stocks, where that sews no less, and says
// whether it did.
func (d *mend) change(t *taken, n *nearby, cuts [][]cutPattern) bool {
	lie := n.lie
	for _, list := range cuts {
		for _, c := range list {
			for _, st := range c.strips {
				for _, k := range st.counts {
					lie[k.row] += int64(k.n) * int64(c.pieces)
				}
			}
		}
	}
	for _, r := range n.owed {
		if lie[r]+d.m.supply[r].given < 0 {
			return false
		}
	}
	sewn := d.m.assembleNear(lie, n.wanted, n.reach(d.m, lie, nil), 30)
	if sewn.value < n.value {
		return false
	}
	for k, i := range t.stocks {
		d.cuts[i] = joined(t.rest[i], cuts[k])
	}
	for r := range d.lie {
		d.lie[r] = lie[r] + n.usedElsewhere[r]
	}
	d.sew(n, sewn)
	if d.value > d.s.sewn.value {
		d.give()
	}
	return true
}

// joined adds patterns to a list, those that it has to their number.
func joined(list, more []cutPattern) []cutPattern {
	for _, c := range more {
		at := slices.IndexFunc(list, func(o cutPattern) bool { return sameStrips(o.strips, c.strips) })
		if at < 0 {
			list = append(list, c)
		} else {
			list[at].pieces += c.pieces
		}
	}
	return list
}

// fits says whether what strips add to those of a unit is within what is left of it.
func (ms *master) fits(u *unit, strips []*strip) bool {
	left := ms.m.groups[u.group].prog.Length(u.left)
	for _, st := range strips {
		left -= st.height
	}
	for _, st := range u.begun {
		left += st.height
	}
	return left >= 0
}

// give makes the plan in hand the best so far.
func (d *mend) give() {
	sewn := &sewing{made: slices.Clone(d.made), trims: slices.Clone(d.trims), value: d.value}
	d.s.keep(slices.Clone(d.cuts), sewn)
}

// programme lays out what the cloth taken up can reach.
func (d *mend) programme(t *taken, n *nearby) *master {
	ms := d.last.renewed(d.m, n.lie, d.known)
	ms.wanted, d.last, ms.enough = n.wanted, ms, 0.05
	ms.start(n.reach(d.m, n.lie, t.groups), true)
	for _, r := range n.owed {
		ms.supplyRow(r)
	}
	ms.lp.Stop, ms.thrift = d.s.interrupted, d.thrift
	ms.noise = [...]func() float64{nil, d.rng.Float64, wild(d.rng), wild(d.rng)}[d.rng.IntN(4)]
	for _, l := range t.loose {
		u := ms.addUnit(l.stock, l.pieces)
		if len(l.kept) > 0 {
			ms.begin(u, l.kept)
		}
		if l.room > 0 {
			u.left = min(u.left, d.m.groups[u.group].prog.Point(l.room))
		}
		for _, c := range l.was {
			ms.addColumn(u, c.strips)
		}
		for _, strips := range d.pool[l.stock] {
			if contains(strips, u.begun) && ms.fits(u, strips) {
				ms.addColumn(u, strips)
			}
		}
	}
	ms.price = append(ms.price[:0], d.s.proof...)
	ms.priceAll()
	return ms
}
