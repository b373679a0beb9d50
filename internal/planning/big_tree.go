package planning

// Where pieces are hundreds, plans are parted by halves too: by totals of quotas, panels used and
// sums of these. There are few quotas, so a few nodes lower the bound, most of all where weights are
// steep. The programme has a row a group, as that of the relaxation has, which makes nodes cheap; it
// cuts no single piece, so plans come from elsewhere.

// mostParted is the number of different pieces up to which plans are parted: of more, the relaxation
// is as near to what can be made as anybody needs.
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
