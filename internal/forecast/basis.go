package forecast

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

const week = 7

// Basis is what the forecast rests on, in figures that a page can show.
type Basis struct {
	Returns    int     // hand-outs that ended
	Returners  int     // people behind them
	OutNow     int     // pillowcases that are out
	HoldDays   float64 // the middle time from when somebody took or last brought something to when they bring more
	Sewing     int     // people who have something or took something in the last eight weeks
	TakeDays   float64 // the middle time from when somebody has brought everything to when they take more, while something is ready
	AtOnce     float64 // pillowcases that somebody takes at once, on the average
	Never      float64 // share of times that somebody drops out and never brings what they have, as it is reckoned with
	ToMend     Share   // of what was checked
	NotUsable  Share
	Weeks      int       // whole weeks since the first hand-out
	Weekly     []float64 // pillowcases found good in each of them, the oldest first
	Pace       Smoothed  // of Weekly
	Dispersion float64   // of how many people bring something in a week, each counted once a day; 1 would be Poisson
	WeeksAhead int       // of the next figures; 0 where too few lie behind
	AheadLow   float64   // good in the weeks ahead, if they go as those behind, four times of five
	AheadHigh  float64
	MostAtOnce float64 // times that somebody may bring something in one of the weeks ahead, nineteen times of twenty
	NewAWeek   float64 // people who come new
	CheckDays  float64
	MendDays   float64
	CutDays    float64 // between days on which is cut
	PlanDays   float64 // from when something is missing to the next plan
	OwnAWeek   float64 // brought in from people's own cloth
	Checked    int     // pillowcases looked through
}

// Share is a share of what was counted, with its exact limits of 95 in 100.
type Share struct {
	Count, Of int
	Low, High float64
}

func shareOf(count, of int) Share {
	s := Share{Count: count, Of: of, High: 1}
	if of > 0 {
		low, high := Limits(count, 0.95)
		s.Low, s.High = low/float64(of), math.Min(1, high/float64(of))
	}
	return s
}

// measured is everything a run draws from.
type measured struct {
	Basis
	workers          []*worker
	folk             *folk
	gap              pace // from having brought everything to taking more, in days on which something was ready
	lost             pace // from hand-out to being booked as lost
	check, mend, cut pace
	checks, mends    map[int64][]Spell // that go on, by line: each run looks for each line's, of the few there are
	ownWeeks         float64           // in which people may have brought something of their own
	plan             pace              // from when something is missing to the next plan
	coming           *coming
	unrest           float64 // variance of how fast a week goes, its mean being 1
	perCut           []int
	today            int
	stops            distuv.Gamma // the share of people who stop on a day
}

func measure(in Input) *measured {
	m := &measured{today: in.Today}
	m.workers = workers(in, stock(in))
	m.folk = fitFolk(m.workers)
	m.gap, m.lost = gaps(m.workers), losses(in)
	stopped, days := m.stopping()
	m.stops = distuv.Gamma{Alpha: stopped, Beta: days}
	m.takings(in)
	m.check = fit(nobody(spansOf(in.Checks, in.Today)), usual.check)
	m.mend = fit(nobody(spansOf(in.Mends, in.Today)), usual.mend)
	m.checks, m.mends = goingOn(in.Checks), goingOn(in.Mends)
	m.cut, m.perCut = cuts(in)
	m.plan = planWaits(in)
	m.counts(in)
	m.weeks(in)
	m.CheckDays, m.MendDays, m.CutDays, m.PlanDays = m.check.middle(), m.mend.middle(), m.cut.middle(), m.plan.middle()
	m.HoldDays, m.TakeDays, m.Never = m.folk.middle(), m.gap.middle(), m.folk.never()
	return m
}

// nobody takes spans as nobody's own.
func nobody(spans []span) []span {
	for i := range spans {
		spans[i].who = 0
	}
	return spans
}

// goingOn gives the spells that have not ended, by line.
func goingOn(spells []Spell) map[int64][]Spell {
	open := map[int64][]Spell{}
	for _, s := range spells {
		if s.Fate == Open {
			open[s.Line] = append(open[s.Line], s)
		}
	}
	return open
}

// takings measures how often and how much people take, and who comes new.
func (m *measured) takings(in Input) {
	first := map[int]int{} // weeks ago that somebody took for the first time
	oldest, times := 0, 0
	for _, w := range m.workers {
		for _, t := range w.takes {
			m.AtOnce += float64(t.n)
			times++
		}
		if !named(w.who) {
			continue
		}
		ago := (in.Today - w.takes[0].day) / week
		oldest = max(oldest, ago)
		if !slices.Contains(in.Before, w.who) {
			first[ago]++
		}
		if in.Today-w.takes[len(w.takes)-1].day <= 8*week {
			m.Sewing++
		}
	}
	m.AtOnce /= math.Max(1, float64(times))
	m.newFolk(first, oldest)
}

// stock counts the days between two days on which something lay ready to be taken: who does not come
// while nothing is ready has not stopped. It goes back from what is ready today.
func stock(in Input) func(from, to int) float64 {
	if len(in.Cut) == 0 {
		return func(from, to int) float64 { return float64(to - from) }
	}
	lies := 0
	for _, l := range in.Lines {
		lies += l.Ready
	}
	came := map[int]int{} // by day: cut less taken
	took := map[int]bool{}
	first := in.Today
	for _, e := range in.Cut {
		came[e.Day] += e.N
		first = min(first, e.Day)
	}
	for _, s := range in.Held {
		came[s.From] -= s.N
		took[s.From] = true
		first = min(first, s.From)
	}
	open := make([]int, in.Today-first+2) // days with something ready before each day
	ready := make([]bool, in.Today-first+1)
	for day := in.Today; day >= first; day-- {
		ready[day-first] = lies > 0 || took[day]
		lies = max(0, lies-came[day])
	}
	for i, is := range ready {
		open[i+1] = open[i]
		if is {
			open[i+1]++
		}
	}
	return func(from, to int) float64 {
		return float64(open[min(max(to, first), in.Today)-first+1] - open[min(max(from, first), in.Today)-first+1])
	}
}

// newFolk smooths how many come new a week. The first week of the drive, the oldest in which anybody
// took something for the first time, is left out: whoever comes then was asked before.
func (m *measured) newFolk(first map[int]int, oldest int) {
	series := make([]float64, 0, oldest)
	for ago := oldest - 1; ago >= 0; ago-- {
		series = append(series, float64(first[ago]))
	}
	if len(series) == 0 {
		return
	}
	s := Smooth(series, alpha)
	m.NewAWeek = s.Next
	m.coming = comingOf(series)
}

// counts sums up what came back and what the checking table found.
func (m *measured) counts(in Input) {
	people := map[int64]bool{}
	for _, s := range in.Held {
		switch s.Fate {
		case Ended, Late:
			m.Returns++
			people[s.Who] = true
		case Open:
			m.OutNow += s.N
		}
	}
	m.Returners = len(people)
	f := in.Found
	m.Checked = f.Good + f.ToMend + f.NotUsable
	m.ToMend, m.NotUsable = shareOf(f.ToMend, m.Checked), shareOf(f.NotUsable, m.Checked)
}

// weeks counts whole weeks back from today since the first hand-out: what became good, and what came back.
func (m *measured) weeks(in Input) {
	first := in.Today
	for _, s := range in.Held {
		first = min(first, s.From)
	}
	n := (in.Today - first) / week
	m.Weeks = n
	m.Weekly = make([]float64, n)
	ended := make([]float64, n)
	count := func(series []float64, day int, k float64) {
		if ago := (in.Today - day) / week; day <= in.Today && ago < n {
			series[n-1-ago] += k
		}
	}
	for _, e := range in.Good {
		count(m.Weekly, e.Day, float64(e.N))
	}
	type bringing struct {
		who int64
		day int
	}
	brought := map[bringing]bool{} // what one person brings on one day is one thing that happens
	for _, s := range in.Held {
		b := bringing{s.Who, s.To}
		if s.Fate == Late {
			b.day = s.Back
		}
		if (s.Fate == Ended || s.Fate == Late) && !brought[b] {
			brought[b] = true
			count(ended, b.day, 1)
		}
	}
	m.ownCloth(in, first)
	m.Pace = Smooth(m.Weekly, alpha)
	m.clumps(ended)
	m.ahead(ended)
}

// ownCloth measures how much people bring of their own cloth, which they may have done long before the day on which
// the first kit was handed out.
func (m *measured) ownCloth(in Input, first int) {
	for _, e := range in.Own {
		first = min(first, e.Day)
	}
	m.ownWeeks = float64(in.Today-first) / week
	for _, e := range in.Own {
		m.OwnAWeek += float64(e.N) / math.Max(1, m.ownWeeks)
	}
}

// usualDispersion is what is taken for granted, as much as four weeks tell: common practice, no source.
const usualDispersion = 1.3

// clumps estimates how unevenly people bring things, by weeks and by pairs of weeks, and takes the
// smaller: what evens out within two weeks, as a desk that is open every other one does, makes no
// end uncertain.
func (m *measured) clumps(ended []float64) {
	mean := 0.0
	for _, k := range ended {
		mean += k / math.Max(1, float64(len(ended)))
	}
	var pairs []float64
	for i := len(ended) - 1; i > 0; i -= 2 {
		pairs = append(pairs, ended[i]+ended[i-1])
	}
	slices.Reverse(pairs)
	weekly := dispersion(ended)
	m.Dispersion = math.Max(1, weekly)
	m.unrest = (math.Max(1, math.Min(weekly, dispersion(pairs))) - 1) / math.Max(mean, 1)
}

// dispersion is variance by mean of a series of counts, drawn towards the usual one where the series is
// short. The mean square of the errors of a smoothed series of independent values is their
// variance times 2/(2 − alpha).
func dispersion(series []float64) float64 {
	s := Smooth(series, alpha)
	sum, n := 0.0, float64(s.N)
	for _, k := range series {
		sum += k
	}
	if sum == 0 {
		return usualDispersion
	}
	own := s.MSE * (2 - alpha) / 2 / (sum / float64(len(series)))
	return (own*n + usualDispersion*4) / (n + 4)
}

// ahead says what the weeks behind alone would let expect of four weeks ahead.
func (m *measured) ahead(ended []float64) {
	n := len(m.Weekly)
	if n < 3 {
		return
	}
	const ahead = 4
	mean, s, came := 0.0, 0.0, 0.0
	for i, k := range m.Weekly {
		mean += k / float64(n)
		came += ended[i]
	}
	for _, k := range m.Weekly {
		s += (k - mean) * (k - mean) / float64(n-1)
	}
	m.WeeksAhead = ahead
	m.AheadLow, m.AheadHigh = NextTotal(mean, math.Sqrt(s), n, ahead, 0.1)
	m.AheadLow = math.Max(0, m.AheadLow)
	// Counted in clumps of the size of the dispersion, what comes is Poisson enough.
	m.MostAtOnce = m.Dispersion * NextMost(came/m.Dispersion, n, ahead, 0.05)
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
