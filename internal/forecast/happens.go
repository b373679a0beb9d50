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
	case returns, mended:
		s.soon(found, e.line, e.n, e.at+s.check.days(s.check.mean, s.r))
	case found:
		s.looked(e)
	case missed:
		s.lines[e.line].missing += e.n
	case cutDay:
		s.cuts(e.at)
		s.events.push(event{at: e.at + math.Max(0.5, s.cut.days(s.cut.mean, s.r)), what: cutDay})
	case planDay:
		for _, l := range s.lines {
			l.toCut += l.missing
			l.missing = 0
		}
		s.events.push(event{at: e.at + math.Max(1, s.plan.days(s.plan.mean, s.r)), what: planDay})
	case ownDay:
		l := s.lines[e.line]
		if l.left == 0 {
			return
		}
		n := l.ownSizes[s.r.IntN(len(l.ownSizes))]
		s.inPlay += n
		s.soon(found, e.line, n, e.at+s.check.days(s.check.mean, s.r))
		s.events.push(event{at: e.at + s.r.ExpFloat64()/l.ownRate, what: ownDay, line: e.line})
	}
}

// takesKits hands somebody as much as they usually take, earliest day first. Where nothing is
// ready they wait.
func (s *run) takesKits(at float64, who int64) {
	n := s.usually(who)
	days := s.hold.days(s.who(who).hold, s.r)
	never := s.r.Float64() < s.hold.never
	taken := 0
	for i, l := range s.lines {
		k := min(n-taken, l.ready)
		if k <= 0 {
			continue
		}
		l.ready -= k
		taken += k
		if never {
			s.soon(missed, i, k, at+2*s.hold.middle()+giveUp/2)
		} else {
			s.soon(returns, i, k, at+days)
		}
	}
	if taken == 0 {
		s.waiting = append(s.waiting, who)
		return
	}
	if s.r.Float64() >= s.take.never {
		s.events.push(event{at: at + math.Max(0.5, s.take.days(s.who(who).take, s.r)), what: takes, who: who})
	}
}

// usually draws how many pillowcases somebody takes at once: as one of the times before.
func (s *run) usually(who int64) int {
	if own := s.taken[who]; len(own) > 0 {
		return own[s.r.IntN(len(own))].n
	}
	if len(s.sizes) > 0 {
		return s.sizes[s.r.IntN(len(s.sizes))]
	}
	return 4
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
	l.missing += waste
	s.soon(mended, e.line, mend, e.at+s.mend.days(s.mend.mean, s.r))
	if good = min(good, l.left); good == 0 {
		return
	}
	day := s.clock.day(e.at)
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

// joinsAfter draws when somebody new comes. How long that takes does not hang on how long it has been.
func (s *run) joinsAfter(at float64) {
	s.events.push(event{at: at + s.r.ExpFloat64()/s.newRate, what: joins})
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
