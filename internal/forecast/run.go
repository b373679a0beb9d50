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
	// serve is how many days it takes, at the most, to reach somebody who waited for kits.
	serve = 4.0
)

type happening int32

const (
	takes happening = iota
	joins
	brings
	tops
	found // what waited was looked through
	mended
	missed // something is booked as lost
	cutDay
	planDay
	ownDay
)

// event holds no pointers, as there are many: what it speaks of it names by its place.
type event struct {
	at                   float64 // days from now
	who                  int64
	what                 happening
	line, n, turn, batch int32
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
	events     queue
	lines      []*lineRun
	person     map[int64]*sewer
	batches    []batch // whatever somebody had in their hands
	waiting    []int64 // people who came when nothing was ready
	gap        pace    // with the share that never comes again as this run has it
	shift      float64 // how much slower everybody is than the mean
	stop       float64 // share of people who stop on a day
	dropTimes  float64 // how much likelier people drop out
	mendShare  float64
	wasteShare float64
	now        float64 // days from the day of the forecast
	open       int     // lines that are not done
	inPlay     int     // pillowcases that may become good yet, of whatever line
	own        bool
	planning   bool // what is missing will be planned
	nobodyMore bool // who joins now could not be handed anything before the next cutting
	nextNew    int64
	newRate    float64 // people a day, today
	newFall    float64 // the share a day by which that falls off
	tally      func(l *lineRun, day float64, n int)
}

// firstNew is before the numbers of those who come new.
const firstNew = 1 << 62

// clock turns days of work at people's homes into days of the calendar: each week is as much faster or slower as
// the drive is uneven. Weeks are drawn as they are reached.
type clock struct {
	r      *rand.Rand
	unrest float64
	speed  []float64 // of each week
}

// after gives the day on which so many days of work have gone by since a day; infinite beyond what is
// looked ahead.
func (c *clock) after(day, work float64) float64 {
	for w := int(day / week); w < horizon; w++ {
		for len(c.speed) <= w {
			speed := 1.0
			if c.unrest > 0.01 {
				speed = math.Max(tiny, distuv.Gamma{Alpha: 1 / c.unrest, Beta: 1 / c.unrest, Src: c.r}.Rand())
			}
			c.speed = append(c.speed, speed)
		}
		end := week * float64(w+1)
		if left := (end - day) * c.speed[w]; work > left {
			work, day = work-left, end
			continue
		}
		return day + work/c.speed[w]
	}
	return math.Inf(1)
}

// play runs the rest of the drive once, and says how many events that took. tally hears of each
// pillowcase that a line asked for and that becomes good.
func (m *measured) play(in Input, draw uint64, tally func(l *lineRun, day float64, n int)) (lines []*lineRun, events int) {
	s := m.newRun(in, draw, tally)
	events = s.through()
	return s.lines, events
}

// newRun draws how the rest of the drive begins.
func (m *measured) newRun(in Input, draw uint64, tally func(l *lineRun, day float64, n int)) *run {
	r := rand.New(rand.NewPCG(draw, seed))
	f := m.folk
	s := &run{
		measured: m, r: r, clock: &clock{r: rand.New(rand.NewPCG(draw, seed+1)), unrest: m.unrest}, person: map[int64]*sewer{}, tally: tally, nextNew: firstNew,
		gap:       m.gap.drawnNever(r),
		shift:     math.Sqrt(f.sigma*f.sigma/math.Max(f.ended, 2)+f.between*f.between/math.Max(f.people, 1)) * r.NormFloat64(),
		stop:      distuv.Gamma{Alpha: m.stops.Alpha, Beta: m.stops.Beta, Src: r}.Rand(),
		dropTimes: distuv.Gamma{Alpha: f.dropped, Beta: f.dropped, Src: r}.Rand(),
		mendShare: m.drawShare(r, m.ToMend.Count, usualToMend), wasteShare: m.drawShare(r, m.NotUsable.Count, usualNotUsable),
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
		if e.at >= week*horizon {
			break
		}
		s.now = e.at
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
	out := s.beginFolk(in, index)
	for i, l := range s.lines {
		l.missing = max(0, l.Need-l.ToCheck-l.ToMend-l.Ready-l.ToCut-out[i]-l.NoCloth)
		s.inPlay += l.ToCheck + l.ToMend + l.Ready + l.ToCut + out[i] + l.missing
		s.waits(found, i, l.ToCheck, s.checks[l.ID], s.check, in.Today)
		s.waits(mended, i, l.ToMend, s.mends[l.ID], s.mend, in.Today)
	}
	s.beginPeople(in)
	s.beginOwn(in, index)
	s.events.push(event{at: s.sinceLast(s.cut, lastOf(in.Cut), in.Today), what: cutDay})
	for _, l := range s.lines {
		if l.missing > 0 {
			s.planSoon(0)
			break
		}
	}
}

// planSoon draws when what is missing is planned, where nothing is to be planned yet.
func (s *run) planSoon(at float64) {
	if !s.planning {
		s.planning = true
		s.events.push(event{at: at + math.Max(0.5, s.plan.days(s.plan.mean, s.r)), what: planDay})
	}
}

// waits draws when each stack that waits is done with, by how long it has waited.
func (s *run) waits(what happening, i, n int, open []Spell, p pace, today int) {
	for _, w := range open {
		if k := min(n, w.N); k > 0 {
			days, _ := p.rest(p.mean, float64(today-w.From), s.r)
			s.soon(what, i, k, days)
			n -= k
		}
	}
	s.soon(what, i, n, p.days(p.mean, s.r)/2)
}

func (s *run) soon(what happening, line, n int, at float64) {
	if n > 0 {
		s.events.push(event{at: at, what: what, line: int32(line), n: int32(n)})
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

// beginPeople draws when somebody new comes.
func (s *run) beginPeople(in Input) {
	for range in.More {
		s.nextNew++
		s.events.push(event{at: week * s.r.Float64(), what: takes, who: s.nextNew})
	}
	if s.coming != nil {
		s.newRate, s.newFall = s.coming.draw(s.r)
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
		if times[i] == 0 || s.ownWeeks < 1 {
			continue
		}
		l.ownRate = distuv.Gamma{Alpha: float64(times[i]) + 0.5, Beta: s.ownWeeks, Src: s.r}.Rand() / week
		s.own = true
		s.events.push(event{at: s.r.ExpFloat64() / l.ownRate, what: ownDay, line: int32(i)})
	}
}
