package forecast

import (
	"math"
	"math/rand/v2"
)

// sewer is somebody in one run.
type sewer struct {
	w     *worker // nil for who comes new
	mean  float64 // of the cube root of a turn's days
	gone  bool    // dropped out
	held  []int32 // batches, the oldest first
	holds int
	next  int     // what they bring next
	turn  int     // counts turns: what was to happen in an earlier one does not
	tops  float64 // how often a day they take more than they have
	keeps float64 // the share of times that they take more when they have brought a part
	waits bool
	until float64 // day from now on which they stop taking
}

// batch is pillowcases of one line that somebody took on one day.
type batch struct {
	line int // -1 for what no line asks for
	n    int // of which they still have
	by   *sewer
}

// sharedTimes and sharedDays are what is taken for granted of how often people take more than they have, beside
// what everybody did; ownTimes is how many times of one person what everybody does weighs as much as.
const (
	sharedTimes, sharedDays = 0.5, 20
	ownTimes                = 2
)

// draw draws what somebody is like: at random among the paces that what is known of them allows. shift is how
// much slower everybody is in this run, of which those feel less who are known; dropTimes how much
// likelier people drop out.
func (f *folk) draw(who int64, shift, dropTimes float64, r *rand.Rand) *sewer {
	rate := (f.tops + sharedTimes) / (f.able + sharedDays)
	share := (f.keptTook + 1) / (f.kept + 2)
	o := f.own[who]
	if o == nil {
		return &sewer{mean: f.mean + shift + f.between*r.NormFloat64(), tops: rate, keeps: share}
	}
	s := &sewer{
		w:     o.w,
		tops:  (float64(o.w.tops) + sharedTimes) / (o.w.able + sharedTimes/rate),
		keeps: (float64(o.w.keptTook) + ownTimes*share) / (float64(o.w.kept) + ownTimes),
	}
	u, j := r.Float64(), 0
	for ; j < nodes-1 && u > o.p[j]; j++ {
		u -= o.p[j]
	}
	step := 2 * reach / (nodes - 1) * f.between
	s.mean = f.mean + o.off[j] + step*(r.Float64()-0.5) + shift*(1-o.seen)
	if o.w.holds > 0 {
		odds := o.out[j] * dropTimes
		s.gone = r.Float64() < odds/(1+odds)
	}
	return s
}

// beginFolk draws what everybody who took something before is like, and what they do next. It gives how much is
// out by line.
func (s *run) beginFolk(in Input, index map[int64]int) map[int]int {
	out := map[int]int{}
	for _, w := range s.workers {
		p := s.folk.draw(w.who, s.shift, s.dropTimes, s.r)
		s.person[w.who] = p
		p.until = s.r.ExpFloat64() / s.stop
		if w.holds > 0 {
			p.until -= float64(in.Today - w.takes[len(w.takes)-1].day)
		}
		for _, h := range w.held {
			i, asked := index[h.Line]
			switch {
			case !asked:
				i = -1
			case h.Fate == Open:
				out[i] += h.N
			case !p.gone:
				s.inPlay += h.N // booked as lost, and planned once more
			}
			s.holds(p, i, h.N)
			if h.Fate == Open {
				s.mayMiss(float64(h.From-in.Today), 0)
			}
		}
		switch {
		case p.gone:
		case p.holds > 0:
			s.turns(p, w.who, 0, float64(in.Today-w.since))
		case w.idle && named(w.who):
			last := w.gaps[len(w.gaps)-1]
			if days, comes := s.gap.rest(s.gap.of(w.who, s.r), last.days, s.r); comes {
				s.events.push(event{at: days, what: takes, who: w.who})
			}
		}
	}
	return out
}

// named says whether somebody may come again: of what is nobody's nothing is known but that hand-out.
func named(who int64) bool { return who > 0 }

// mayMiss draws when the batch given last will be booked as lost and planned once more, if it has not come
// back by then: by how long it has been out, whether or not they have dropped out.
func (s *run) mayMiss(from, now float64) {
	last := len(s.batches) - 1
	line := s.batches[last].line
	if days, _ := s.lost.rest(s.lost.mean, now-from, s.r); line >= 0 && now+days < week*horizon {
		s.events.push(event{at: now + days, what: missed, line: int32(line), batch: int32(last)})
	}
}

// holds puts a batch into somebody's hands.
func (s *run) holds(p *sewer, line, n int) {
	p.held = append(p.held, int32(len(s.batches)))
	p.holds += n
	s.batches = append(s.batches, batch{line, n, p})
}

// misses books what has not come back as lost.
func (s *run) misses(e event) {
	b := s.batches[e.batch]
	if b.n == 0 {
		return
	}
	s.lines[e.line].missing += b.n
	if !b.by.gone {
		s.inPlay += b.n // it may come back after all
	}
	s.planSoon(e.at)
}

// turns draws when somebody next brings something, and how much, where the turn has gone on for age days. They
// may drop out before.
func (s *run) turns(p *sewer, who int64, at, age float64) {
	p.turn++
	p.next = s.portion(p)
	share := p.w.share(p.next)
	days := cube(p.mean+s.folk.sigma*s.r.NormFloat64()) * share
	if age > 0 {
		z := (math.Cbrt(math.Max(age, 0.5)/share) - p.mean) / s.folk.sigma
		total := cube(p.mean+s.folk.sigma*drawnBeyond(z, s.r)) * share
		days = math.Max(0.5, total-age)
	}
	if s.r.ExpFloat64() < days*s.folk.drop*s.dropTimes {
		p.gone = true
		return
	}
	s.events.push(event{at: s.clock.after(at, days), what: brings, who: who})
	if when := s.r.ExpFloat64() / p.tops; when < days && named(who) {
		s.events.push(event{at: at + when, what: tops, who: who, turn: int32(p.turn)})
	}
}

// portion draws how much somebody brings next of what they have: as one of the times before.
func (s *run) portion(p *sewer) int {
	list, size := s.folk.portions, 1.0
	if p.w != nil {
		if len(p.w.portions) > 0 {
			list = p.w.portions
		} else {
			size = p.w.size
		}
	}
	if len(list) == 0 {
		return min(p.holds, usualFor)
	}
	o := list[s.r.IntN(len(list))]
	n := int(float64(o.n) * size)
	if o.all && p.holds <= 2*n {
		return p.holds
	}
	return max(1, min(p.holds, n))
}

// bringsSome takes in what somebody brings, the oldest first, and hands them more.
func (s *run) bringsSome(at float64, who int64) {
	p := s.who(who)
	n := min(p.next, p.holds)
	p.holds -= n
	for n > 0 {
		b := &s.batches[p.held[0]]
		k := min(n, b.n)
		if b.line >= 0 {
			s.soon(found, b.line, k, at+s.check.days(s.check.mean, s.r))
		}
		n -= k
		if b.n -= k; b.n == 0 {
			p.held = p.held[1:]
		}
	}
	if p.holds > 0 {
		if !p.waits && named(who) && s.r.Float64() < p.keeps {
			s.takesKits(at, who)
		}
		s.turns(p, who, at, 0)
		return
	}
	p.turn++
	if named(who) && !p.waits {
		// A gap of half a day is none: they take more when they bring the last.
		s.events.push(event{at: at + s.gap.days(s.gap.of(who, s.r), s.r) - 0.5, what: takes, who: who})
	}
}

// takesKits hands somebody as much as they usually have, earliest day first. Where nothing is
// ready they wait.
func (s *run) takesKits(at float64, who int64) {
	p := s.who(who)
	p.waits = false
	had := p.holds
	n := s.usually(p) - had
	if n <= 0 || p.gone || at > p.until {
		return
	}
	for i, l := range s.lines {
		if k := min(n, l.ready); k > 0 {
			l.ready -= k
			n -= k
			s.holds(p, i, k)
			s.mayMiss(at, at)
		}
	}
	switch {
	case p.holds == had:
		p.waits = true
		s.waiting = append(s.waiting, who)
	case had == 0:
		s.turns(p, who, at, 0)
	}
}

// usually draws how many pillowcases somebody has once they have taken some: as one of the times before.
func (s *run) usually(p *sewer) int {
	list := s.folk.levels
	if p.w != nil {
		list = p.w.levels
	}
	if len(list) == 0 {
		return usualFor
	}
	return list[s.r.IntN(len(list))]
}

// who gives what somebody is like in this run.
func (s *run) who(id int64) *sewer {
	p, known := s.person[id]
	if !known {
		p = s.folk.draw(id, s.shift, s.dropTimes, s.r)
		p.until = s.now + s.r.ExpFloat64()/s.stop
		s.person[id] = p
	}
	return p
}
