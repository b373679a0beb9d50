package forecast

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	horizon = 52 // weeks that are looked ahead
	// drift is how unlike the pace of the weeks to come may be to that of the weeks behind, as a standard
	// deviation of its logarithm. Set on simulated drives of seeds 1001 to 1040.
	drift = 0.17
	// giveUp is how many days from now somebody is waited for who will never bring anything.
	giveUp = 20.0
	// serve is how many days it takes, at the most, to reach somebody who waited for kits.
	serve = 4.0
)

type happening int

const (
	takes happening = iota
	joins
	returns
	found // what waited was looked through
	mended
	missed // somebody is given up
	cutDay
	planDay
	ownDay
)

type event struct {
	at   float64 // days of work from now
	what happening
	who  int64
	line int
	n    int
}

// lineRun is one line in one run.
type lineRun struct {
	Line
	left         int // pillowcases still to become good
	ready, toCut int
	missing      int
	done         float64 // calendar days from now; infinite until then
	ownRate      float64
	ownSizes     []int
}

// run is the rest of the drive played through once.
type run struct {
	*measured
	r          *rand.Rand
	clock      *clock
	hold, take pace
	events     queue
	lines      []*lineRun
	waiting    []int64 // people who came when nothing was ready
	mendShare  float64
	wasteShare float64
	open       int // lines that are not done
	inPlay     int // pillowcases that may become good yet, of whatever line
	own        bool
	nobodyMore bool // who joins now could not be handed anything before the next cutting
	person     map[int64]person
	nextNew    int64
	newRate    float64 // a day
	tally      func(l *lineRun, day float64, n int)
}

type person struct{ hold, take float64 }

// clock turns days of work into days of the calendar: each week is as much faster or slower as
// the drive is uneven. Weeks are drawn as they are reached.
type clock struct {
	r      *rand.Rand
	pace   float64
	unrest float64
	done   []float64 // days of work done by the end of each week
}

func (m *measured) newClock(r *rand.Rand) *clock {
	return &clock{r: r, pace: math.Exp(drift*r.NormFloat64() - drift*drift/2), unrest: m.unrest}
}

// day gives the calendar day of a day of work; infinite beyond what is looked ahead.
func (c *clock) day(work float64) float64 {
	for len(c.done) == 0 || c.done[len(c.done)-1] < work {
		if len(c.done) == horizon {
			return math.Inf(1)
		}
		speed, sum := c.pace, 0.0
		if c.unrest > 0.01 {
			speed *= distuv.Gamma{Alpha: 1 / c.unrest, Beta: 1 / c.unrest, Src: c.r}.Rand()
		}
		if len(c.done) > 0 {
			sum = c.done[len(c.done)-1]
		}
		c.done = append(c.done, sum+week*speed)
	}
	i, _ := slices.BinarySearch(c.done, work)
	before := 0.0
	if i > 0 {
		before = c.done[i-1]
	}
	return week * (float64(i) + (work-before)/math.Max(c.done[i]-before, 1e-9))
}

// play runs the rest of the drive once. tally hears of each pillowcase that a line asked for and
// that becomes good.
func (m *measured) play(in Input, draw uint64, tally func(l *lineRun, day float64, n int)) []*lineRun {
	s := m.newRun(in, draw, tally)
	s.through()
	return s.lines
}

// newRun draws how the rest of the drive begins.
func (m *measured) newRun(in Input, draw uint64, tally func(l *lineRun, day float64, n int)) *run {
	r := rand.New(rand.NewPCG(draw, seed))
	s := &run{
		measured: m, r: r, clock: m.newClock(rand.New(rand.NewPCG(draw, seed+1))), hold: m.hold.drawn(r), take: m.take.drawn(r), person: map[int64]person{}, tally: tally,
		mendShare: m.drawShare(r, m.ToMend.Count, usualToMend), wasteShare: m.drawShare(r, m.NotUsable.Count, usualNotUsable), nextNew: math.MinInt64,
	}
	s.begin(in)
	return s
}

// through plays it until everything is done or nothing that is not can be, and says how many events that took.
func (s *run) through() int {
	played := 0
	// What there is no cloth for is never done: the rest of the year would change nothing.
	for ; s.open > 0 && len(s.events) > 0 && (s.inPlay > 0 || s.own); played++ {
		e := s.events.pop()
		if math.IsInf(s.clock.day(e.at), 1) {
			break
		}
		s.happens(e)
	}
	return played
}

// What is usual of pillowcases that are checked: common practice, no source. It weighs as much as
// usualChecked of them.
const (
	usualToMend, usualNotUsable = 0.05, 0.01
	usualChecked                = 10
)

// drawShare draws a share of what was checked from what its count can tell: a beta, its counts
// thinned as they come in clumps too.
func (m *measured) drawShare(r *rand.Rand, count int, usually float64) float64 {
	k, of := float64(count)/m.Dispersion, float64(m.Checked)/m.Dispersion
	return distuv.Beta{Alpha: k + usually*usualChecked, Beta: of - k + (1-usually)*usualChecked, Src: r}.Rand()
}

func (s *run) begin(in Input) {
	index := map[int64]int{}
	for _, l := range in.Lines {
		s.lines = append(s.lines, &lineRun{Line: l, left: l.Need, done: math.Inf(1), ready: l.Ready, toCut: l.ToCut})
	}
	// The earliest day is served first, lines without a day last.
	slices.SortStableFunc(s.lines, func(a, b *lineRun) int {
		due := func(l *lineRun) int {
			if l.Due == nil {
				return math.MaxInt
			}
			return *l.Due
		}
		return cmp.Compare(due(a), due(b))
	})
	for i, l := range s.lines {
		index[l.ID] = i
		if l.left > 0 {
			s.open++
		}
	}
	out := s.beginHeld(in, index)
	for i, l := range s.lines {
		l.missing = max(0, l.Need-l.ToCheck-l.ToMend-l.Ready-l.ToCut-out[i]-l.NoCloth)
		s.inPlay += l.ToCheck + l.ToMend + l.Ready + l.ToCut + out[i] + l.missing
		s.soon(found, i, l.ToCheck, s.check.days(s.check.mean, s.r)/2)
		s.soon(mended, i, l.ToMend, s.mend.days(s.mend.mean, s.r)/2)
	}
	s.beginPeople(in)
	s.beginOwn(in, index)
	s.events.push(event{at: s.sinceLast(s.cut, lastOf(in.Cut), in.Today), what: cutDay})
	last := math.MinInt
	for _, day := range in.Plans {
		last = max(last, day)
	}
	s.events.push(event{at: s.sinceLast(s.plan, last, in.Today), what: planDay})
}

func (s *run) soon(what happening, line, n int, at float64) {
	if n > 0 {
		s.events.push(event{at: at, what: what, line: line, n: n})
	}
}

func lastOf(events []Event) int {
	last := math.MinInt
	for _, e := range events {
		last = max(last, e.Day)
	}
	return last
}

// sinceLast draws when the next day of a kind comes.
func (s *run) sinceLast(p pace, last, today int) float64 {
	if last == math.MinInt {
		return p.days(p.mean, s.r) / 2
	}
	days, _ := p.rest(p.mean, float64(today-last), s.r)
	return days
}

// beginHeld draws when what is out comes back. What one person took on one day comes back together.
func (s *run) beginHeld(in Input, index map[int64]int) map[int]int {
	type hand struct {
		who  int64
		from int
	}
	out := map[int]int{}
	back := map[hand]float64{}
	for _, h := range in.Held {
		if h.Fate != Open {
			continue
		}
		key := hand{h.Who, h.From}
		at, drawn := back[key]
		if !drawn {
			days, comes := s.hold.rest(s.who(h.Who).hold, float64(in.Today-h.From), s.r)
			if at = days; !comes {
				at = -1
			}
			back[key] = at
		}
		i, asked := index[h.Line]
		if !asked {
			continue
		}
		out[i] += h.N
		if at < 0 {
			s.soon(missed, i, h.N, giveUp)
		} else {
			s.soon(returns, i, h.N, at)
		}
	}
	return out
}

// beginPeople draws when everybody who took before comes again, and when somebody new does.
func (s *run) beginPeople(in Input) {
	for _, who := range sortedKeys(s.taken) {
		if days, comes := s.take.rest(s.who(who).take, s.since[who], s.r); comes {
			s.events.push(event{at: days, what: takes, who: who})
		}
	}
	for range in.More {
		s.nextNew++
		s.events.push(event{at: week * s.r.Float64(), what: takes, who: s.nextNew})
	}
	if s.newWeeks > 0 {
		low, high := Limits(int(math.Round(s.newcomers)), 0.95)
		rate := distuv.Gamma{Alpha: s.newcomers + 0.5, Beta: 1, Src: s.r}.Rand()
		s.newRate = math.Min(math.Max(rate, low), high) / s.newWeeks / week
		s.joinsAfter(0)
	}
}

// beginOwn draws how often people bring something of their own for each line.
func (s *run) beginOwn(in Input, index map[int64]int) {
	times := map[int]int{}
	for _, e := range in.Own {
		if i, asked := index[e.Line]; asked {
			s.lines[i].ownSizes = append(s.lines[i].ownSizes, e.N)
			times[i]++
		}
	}
	for i, l := range s.lines {
		if times[i] == 0 || s.Weeks == 0 {
			continue
		}
		l.ownRate = distuv.Gamma{Alpha: float64(times[i]) + 0.5, Beta: float64(s.Weeks), Src: s.r}.Rand() / week
		s.own = true
		s.events.push(event{at: s.r.ExpFloat64() / l.ownRate, what: ownDay, line: i})
	}
}

// who gives somebody's own pace in this run.
func (s *run) who(id int64) person {
	p, known := s.person[id]
	if !known {
		p = person{hold: s.hold.of(id, s.r), take: s.take.of(id, s.r)}
		s.person[id] = p
	}
	return p
}
