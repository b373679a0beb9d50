package planning

import "math"

// Where pieces are hundreds, plans are parted by halves too: by totals of quotas, panels used and
// sums of these. There are few quotas, so a few nodes lower the bound, most of all where weights are
// steep. The programme has a row a group, as that of the relaxation has, which makes nodes cheap; it
// cuts no single piece, so plans come from elsewhere.

// mostParted is the number of different pieces up to which plans are parted: of more, the relaxation
// is as near to what can be made as anybody needs, and of bolts a node would take long.
const mostParted = 600

// parting begins a tree in this search with the patterns that another's relaxation knows.
func (s *search) parting(b *bulk) *tree {
	own := newBulk(s.m)
	own.lp.Stop, own.smooth = s.interrupted, 0
	s.masters = append(s.masters, own.master)
	for g, list := range b.wholes {
		for _, w := range list {
			own.addCounted(g, w.values, w.counts)
		}
	}
	t := newTree(s, own.master)
	t.inBulk = true
	t.plant()
	return t
}

// ahead solves the relaxation with a row a group first where pieces are more than mostUnits, and
// gives the master its patterns: one with a row a piece takes long to come to as much by itself.
func (s *search) ahead(ms *master) *bulk {
	if len(s.m.stock) <= mostUnits {
		return nil
	}
	b := newBulk(s.m)
	b.lp.Stop, b.strips = s.interrupted, ms.strips
	s.masters = append(s.masters, b.master)
	s.tell("bound")
	b.seed()
	b.generate(1000, math.Inf(-1), func(value float64, p prices, fabric int64) bool {
		s.improve(s.m.quotaSide(p, s.m.weightOf)+fabric, p)
		s.tell("bound")
		return !s.halt()
	})
	s.offer(b.shareOut(nil))
	for i, list := range b.pool() {
		for _, strips := range list {
			ms.addColumn(ms.units[i], strips)
		}
	}
	return b
}

// share improves the plan for a share of work; a lane that has a tree proves for half of it.
func (l *bigLane) share() {
	work := l.s.shareOfWork()
	if l.tree != nil {
		end := l.s.work() + work
		l.s.slice(work/2, l.tree.step)
		work = max(end-l.s.work(), 1)
	}
	l.turns.share(work)
}
