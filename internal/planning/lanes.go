package planning

import (
	"slices"
	"sync"
)

// A drive is searched in two lanes that run side by side, each with a model of its own: one
// hunts for better plans, the other proves the bound and hunts besides; where hunting has stood
// still for long the first proves too, other nodes of the same tree. They meet after shares
// of work that are counted, not timed, so it makes no difference whether they run on two cores
// or one after the other.
type lane struct {
	s *search
	h *hunt
	t *tree
	k *knownTree
}

// between is how much work the lanes do before they meet.
const between = 25

// proving is how much of that the second lane proves; where pieces are many, the tree hardly
// lowers the bound any more and hunting gains more.
func (m *model) proving() int64 {
	if m.count() > mostTable {
		return between / 5
	}
	return between * 2 / 3
}

// twin begins a second search of the same problem, with what the first has learned.
func (s *search) twin(ms *master) (*search, *master) {
	b := s.again()
	out := b.copied(ms)
	b.cuts = out.adopt(s.cuts)
	return b, out
}

// again is another search of the same problem with what this one has proven.
func (s *search) again() *search {
	m, err := newModel(s.m.p)
	if err != nil {
		// The same problem has just been laid out without a fault.
		panic(err)
	}
	return &search{
		m: m, ctx: s.ctx, o: Options{Within: s.o.Within}, now: s.now, start: s.start, effort: s.effort,
		bound: s.bound, proof: slices.Clone(s.proof), sewn: s.sewn, boundCases: s.boundCases,
	}
}

// copied gives the search a master with the patterns of another, a unit for each stock.
func (s *search) copied(ms *master) *master {
	out := newMaster(s.m)
	out.lp.Stop = s.interrupted
	s.masters = append(s.masters, out)
	for i, st := range s.m.stock {
		out.addUnit(i, len(st.pieces))
	}
	for _, u := range ms.units {
		for _, c := range u.cols {
			out.addColumn(out.units[u.stock], out.adopted(u.group, c.strips))
		}
	}
	return out
}

// adopted gives the strips of another master as its own.
func (ms *master) adopted(g int, strips []*strip) []*strip {
	out := make([]*strip, len(strips))
	for i, s := range strips {
		out[i] = ms.intern(g, s.layout)
	}
	return out
}

func (ms *master) adopt(cuts [][]cutPattern) [][]cutPattern {
	out := make([][]cutPattern, len(cuts))
	for i, list := range cuts {
		for _, c := range list {
			out[i] = append(out[i], cutPattern{ms.adopted(ms.m.stock[i].group, c.strips), c.pieces})
		}
	}
	return out
}

// besides runs two parts of the work side by side.
func besides(a, b *search, first, second func()) {
	a.m.alone, b.m.alone = true, true
	defer func() { a.m.alone, b.m.alone = false, false }()
	var done sync.WaitGroup
	done.Go(second)
	first()
	done.Wait()
}

// meet gives each lane the better plan and the lower bound of both.
func meet(a, b *lane) {
	if b.s.bound < a.s.bound {
		a.s.bound = b.s.bound
	}
	b.s.bound = a.s.bound
	switch {
	case b.s.sewn.value > a.s.sewn.value:
		a.follow(b)
	case a.s.sewn.value > b.s.sewn.value:
		b.follow(a)
	}
	if a.t != nil {
		shareNodes(a.t, b.t) // after the plans: nodes that a better plan has ended are in neither's list
	}
}

// follow takes over another lane's best plan.
func (l *lane) follow(o *lane) {
	ms := &master{m: l.s.m, strips: l.h.strips}
	l.s.keep(ms.adopt(o.s.cuts), o.s.sewn)
	l.h.take(l.s.cuts, l.s.sewn)
}

// runLanes runs both lanes until the effort is spent or nothing better exists. Where pieces are
// hundreds, plans are parted in the programme of the relaxation ahead.
func (s *search) runLanes(ms *master, ahead *bulk) {
	other, tm := s.twin(ms)
	a, b := &lane{s: s}, &lane{s: other}
	s.split(other)
	s.tell("cutting")
	besides(s, other, func() {
		ms.expand()
		// Where there is a plan to go by, little effort stays little.
		if (ahead == nil || s.work() < s.effort) && ms.dive(-1, s.interrupted) {
			s.offer(ms.cuts())
		}
		a.h = newHunt(s, ms, 1)
	}, func() {
		b.h = newHunt(other, tm, 2)
		if ahead != nil {
			b.t = other.parting(ahead)
		} else {
			b.t = newTree(other, tm)
			b.t.plant()
		}
		other.slice(between, b.t.step)
	})
	proving := s.m.proving()
	for meet(a, b); !s.ended(other); meet(a, b) {
		s.tell("improving")
		if a.t == nil && s.stands() {
			a.t = newTree(s, s.copied(ms))
			shareNodes(a.t, b.t)
		}
		s.knownPatterns(a, b)
		besides(s, other, func() { a.work(proving / 2) }, func() { b.work(proving) })
	}
	s.root, s.sums = other.root, other.sums
	if !s.part {
		s.saveCloth(a, b)
	}
}

// pausing is how much work goes by without a better plan before known patterns are parted.
const pausing = 50

// knownPatterns tells the first lane the patterns that the other lane and the trees have come to
// know, and begins to part plans of known ones once hunting pauses.
func (s *search) knownPatterns(a, b *lane) {
	if a.h.known == nil {
		return
	}
	a.h.known.share(b.h.known)
	for _, l := range []*lane{a, b} {
		if l.t != nil {
			a.h.known.take(l.t)
		}
	}
	if a.k == nil && s.work()-s.since > min(pausing, s.effort/16) {
		a.k = newKnownTree(s, a.h)
	}
}

// work proves for a part of what the lanes do before they meet, where there is a tree, parts plans
// of known patterns for most of the rest, as long as these may hold a better one, and hunts.
func (l *lane) work(proving int64) {
	end := l.s.work() + between
	if l.t != nil {
		l.s.slice(proving, l.t.step)
	}
	if l.k != nil {
		l.k.work((end - l.s.work()) * 2 / 3)
	}
	l.s.slice(end-l.s.work(), l.h.move)
}

// standing is how much work goes by without a better plan before both lanes prove.
const standing = 100

// stands says whether hunting has stood still for so long that proving promises more: of few
// pieces, for the tree also finds plans there that hunting does not come to.
func (s *search) stands() bool {
	return s.m.count() <= mostTable && s.work()-s.since > min(standing, s.effort/8)
}

// tableCloth is how much work saves cloth of a drive at a table, mostCloth of any, at most: more
// finds little.
const (
	tableCloth = 80
	mostCloth  = 250
)

// split gives each lane half of the effort that is left, a fifth of it for saving cloth.
func (s *search) split(other *search) {
	each := max(s.effort-s.work(), 0) / 2
	s.cloth = min(each/5, mostCloth)
	if s.m.count() <= mostTable {
		s.cloth = min(s.cloth, tableCloth)
	}
	other.effort = other.work() + each - s.cloth
	s.effort = s.work() + each - s.cloth
	s.more /= 2
	other.more = s.more
}

// ended says whether both lanes have spent their effort, or work must end.
func (s *search) ended(other *search) bool {
	s.halt()
	if s.stopped == "" || s.stopped == StoppedByEffort && !other.halt() {
		return false
	}
	return true
}

// saveCloth looks in both lanes for plans of the same weight that take less cloth.
func (s *search) saveCloth(a, b *lane) {
	s.tell("saving cloth")
	besides(a.s, b.s, func() { a.polish(s.cloth) }, func() { b.polish(s.cloth) })
	better := b.s.sewn.value > a.s.sewn.value || b.s.sewn.value == a.s.sewn.value && b.h.figures.before(a.h.figures)
	if better {
		ms := &master{m: a.s.m, strips: a.h.strips}
		a.s.sewn, a.s.cuts = b.s.sewn, ms.adopt(b.s.cuts)
	}
	s.tell("done")
}

// polish hunts for less cloth.
func (l *lane) polish(work int64) {
	s, h := l.s, l.h
	h.thrift, h.width = s.m.newThrift(), 6
	h.recall()
	for end := s.work() + work; s.work() < end && !s.interrupted() && len(h.stock) > 0; {
		h.move()
	}
}
