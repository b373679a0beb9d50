package forecast

import "math"

// happens moves the drive on by one event.
func (s *run) happens(e event) {
	switch e.what {
	case takes:
		s.takesKits(e.at, e.who)
	case joins:
		s.nextNew++
		s.takesKits(e.at, s.nextNew)
		if s.nobodyMore = len(s.waiting) >= s.inPlay; !s.nobodyMore {
			s.joinsAfter(e.at)
		}
	case brings:
		s.bringsSome(e.at, e.who)
	case tops:
		if p := s.who(e.who); p.turn == int(e.turn) && !p.waits {
			s.takesKits(e.at, e.who)
		}
	case mended:
		s.soon(found, int(e.line), int(e.n), e.at+s.check.days(s.check.mean, s.r))
	case found:
		s.looked(e)
	case missed:
		s.misses(e)
	case cutDay:
		s.cuts(e.at)
		s.events.push(event{at: e.at + math.Max(0.5, s.cut.days(s.cut.mean, s.r)), what: cutDay})
	case planDay:
		for _, l := range s.lines {
			l.toCut += l.missing
			l.missing = 0
		}
		s.planning = false
	case ownDay:
		l := s.lines[e.line]
		if l.left == 0 {
			return
		}
		n := l.ownSizes[s.r.IntN(len(l.ownSizes))]
		s.inPlay += n
		s.soon(found, int(e.line), n, e.at+s.check.days(s.check.mean, s.r))
		s.events.push(event{at: e.at + s.r.ExpFloat64()/l.ownRate, what: ownDay, line: e.line})
	}
}

// looked books what the checking table finds.
func (s *run) looked(e event) {
	good, mend, waste := 0, 0, 0
	for range e.n {
		switch at := s.r.Float64(); {
		case at < s.wasteShare:
			waste++
		case at < s.wasteShare+s.mendShare:
			mend++
		default:
			good++
		}
	}
	l := s.lines[e.line]
	s.inPlay -= good
	if waste > 0 {
		l.missing += waste
		s.planSoon(e.at)
	}
	s.soon(mended, int(e.line), mend, e.at+s.mend.days(s.mend.mean, s.r))
	if good = min(good, l.left); good == 0 {
		return
	}
	day := e.at
	l.left -= good
	s.tally(l, day, good)
	if l.left == 0 {
		l.done = day
		s.open--
	}
}

// cuts cuts as much as on one of the days before, or all of it, earliest day first.
func (s *run) cuts(at float64) {
	n := math.MaxInt
	if len(s.perCut) > 0 {
		n = s.perCut[s.r.IntN(len(s.perCut))]
	}
	ready := 0
	for _, l := range s.lines {
		k := min(n, l.toCut)
		l.toCut -= k
		l.ready += k
		n -= k
		ready += l.ready
	}
	// Who waits longest is told first, and no more people than there are pillowcases to take.
	told := min(ready, len(s.waiting))
	for _, who := range s.waiting[:told] {
		s.events.push(event{at: at + serve*s.r.Float64(), what: takes, who: who})
	}
	s.waiting = s.waiting[told:]
	if s.nobodyMore {
		s.nobodyMore = false
		s.joinsAfter(at)
	}
}

// queue is what is to happen, the earliest first: a binary heap, whose elements stay in place where
// container/heap would put each into an interface of its own.
type queue []event

func (q *queue) push(e event) {
	h := append(*q, e)
	for i := len(h) - 1; i > 0; {
		up := (i - 1) / 2
		if h[up].at <= h[i].at {
			break
		}
		h[up], h[i] = h[i], h[up]
		i = up
	}
	*q = h
}

func (q *queue) pop() event {
	h := *q
	first := h[0]
	last := len(h) - 1
	h[0] = h[last]
	h = h[:last]
	for i := 0; ; {
		down := 2*i + 1
		if down >= last {
			break
		}
		if down+1 < last && h[down+1].at < h[down].at {
			down++
		}
		if h[i].at <= h[down].at {
			break
		}
		h[i], h[down] = h[down], h[i]
		i = down
	}
	*q = h
	return first
}
