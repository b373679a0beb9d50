package forecast

import (
	"math"
	"slices"
)

// Why says why it is too early to say; empty where it can be said.
type Why string

// The reasons.
const (
	NothingOut  Why = "nothing out"  // nobody was handed anything yet
	FewReturns  Why = "few returns"  // fewer than leastReturns came back, or from one person only
	NoCloth     Why = "no cloth"     // something is asked for of which there is no cloth
	FarAway     Why = "far away"     // in more than one run of ten it was not done within a year
	NothingMade Why = "nothing made" // as FarAway, and in most runs
)

const (
	leastReturns   = 3
	leastReturners = 2
	seed           = 20  // of the draws: any number, and always the same
	inRange        = 0.8 // the share of runs whose day lies within the range
	usualRuns      = 400
	leastRuns      = 100
	mostWork       = 1_500_000 // pillowcases played in all runs together: about a second
)

// Outlook is when something will be done.
type Outlook struct {
	Done bool // nothing is left to do
	Why  Why  // why it is too early to say; then Likely and To tell nothing
	// The middle day, and the range that holds the true one four times of five. From stands
	// with FarAway too: it will not be earlier.
	Likely, From, To int
	NoCloth          int
	HasDue           bool
	OnTime           float64 // share of runs in which everything was done by its day, where a day is agreed
	OnTimeLater      float64 // the same if every day were a week later
	Band             []Point // how many are good by then, from today on, week by week until the range ends
}

// Point is how many pillowcases are good at the end of a day: in the middle, and within the range.
type Point struct{ Day, Low, Mid, High int }

// Result is the outlook of a drive.
type Result struct {
	Basis
	All    Outlook
	Groups map[int64]Outlook // by recipient
	Lines  map[int64]Outlook
	Runs   int
	ends   []float64
	Events int // that were played in all runs together: what it cost
}

// Ends gives the days from today on which everything was done, one of each run, infinite where it was not
// within a year: what All sums up. They are zero where it was too early to play any.
func (r Result) Ends() []float64 { return slices.Clone(r.ends) }

// Of forecasts a drive. The same input gives the same result.
func Of(in Input) Result {
	m := measure(in)
	need := 0
	for _, l := range in.Lines {
		need += max(0, l.Need)
	}
	n := min(usualRuns, max(leastRuns, mostWork/max(need, 1)))
	res := Result{Basis: m.Basis, Groups: map[int64]Outlook{}, Lines: map[int64]Outlook{}, Runs: n}
	all, groups, lines := newSet(n), map[int64]*set{}, map[int64]*set{}
	parts := map[int64][]*set{} // by line: what it belongs to
	for _, l := range in.Lines {
		if groups[l.Group] == nil {
			groups[l.Group] = newSet(n)
		}
		lines[l.ID] = newSet(n)
		parts[l.ID] = []*set{all, groups[l.Group], lines[l.ID]}
		for _, s := range parts[l.ID] {
			s.add(l)
		}
	}
	// Where it is too early for every line, nothing need be played.
	told := false
	for _, s := range lines {
		told = told || s.need > 0 && s.early(m) == ""
	}
	if told {
		for i := range n {
			played, events := m.play(in, uint64(i), func(l *lineRun, day float64, k int) {
				if w := int(day / week); day < week*horizon {
					for _, s := range parts[l.ID] {
						s.good[i][w+1] += k
					}
				}
			})
			res.Events += events
			for _, l := range played {
				for _, s := range parts[l.ID] {
					s.finish(i, l, in.Today)
				}
			}
		}
	}
	res.ends = all.done
	res.All = all.outlook(in.Today, m)
	for id, s := range groups {
		res.Groups[id] = s.outlook(in.Today, m)
	}
	for id, s := range lines {
		res.Lines[id] = s.outlook(in.Today, m)
	}
	return res
}

// set is some lines together, over all runs.
type set struct {
	need, begin, noCloth int // begin: good already
	toCheck              int
	due                  bool
	done                 []float64          // by run: the last day, from today
	late, later          []bool             // by run: something is not done by its day, by a week after it
	good                 [][horizon + 1]int // by run and week: becoming good in it
}

func newSet(runs int) *set {
	return &set{done: make([]float64, runs), late: make([]bool, runs), later: make([]bool, runs), good: make([][horizon + 1]int, runs)}
}

func (s *set) add(l Line) {
	s.need += max(0, l.Need)
	s.begin += l.Good
	s.noCloth += min(l.NoCloth, max(0, l.Need))
	s.toCheck += min(l.ToCheck, max(0, l.Need))
	s.due = s.due || l.Due != nil
}

func (s *set) finish(run int, l *lineRun, today int) {
	if l.Need <= 0 {
		return
	}
	s.done[run] = math.Max(s.done[run], l.done)
	if l.Due == nil {
		return
	}
	day := float64(today) + math.Ceil(l.done)
	s.late[run] = s.late[run] || day > float64(*l.Due)
	s.later[run] = s.later[run] || day > float64(*l.Due+week)
}

func (s *set) outlook(today int, m *measured) Outlook {
	o := Outlook{NoCloth: s.noCloth, HasDue: s.due}
	if s.need == 0 {
		o.Done, o.OnTime, o.OnTimeLater = true, 1, 1
		return o
	}
	o.OnTime, o.OnTimeLater = without(s.late), without(s.later)
	sorted := slices.Clone(s.done)
	slices.Sort(sorted)
	at := func(share float64) float64 { return sorted[int(share*float64(len(sorted)-1)+0.5)] }
	low, mid, high := at((1-inRange)/2), at(0.5), at((1+inRange)/2)
	day := func(d float64) int {
		if math.IsInf(d, 1) {
			return today + week*horizon
		}
		return today + int(math.Ceil(d))
	}
	o.From, o.Likely, o.To = day(low), day(mid), day(high)
	o.Why = s.why(m, mid, high)
	if o.Why == "" || o.Why == FarAway {
		o.Band = s.band(today, o.To)
	}
	return o
}

// without is the share of runs of which something is not so.
func without(is []bool) (share float64) {
	for _, so := range is {
		if !so {
			share += 1 / float64(len(is))
		}
	}
	return share
}

// early says why it is too early to say, as far as what is known tells that.
func (s *set) early(m *measured) Why {
	// What only waits for the checking table needs nobody's pace.
	people := s.need > s.toCheck
	switch {
	case s.noCloth > 0:
		return NoCloth
	case people && m.Returns == 0 && m.OutNow == 0:
		return NothingOut
	case people && (m.Returns < leastReturns || m.Returners < leastReturners):
		return FewReturns
	}
	return ""
}

func (s *set) why(m *measured, mid, high float64) Why {
	why := s.early(m)
	switch {
	case why != "":
		return why
	case math.IsInf(mid, 1):
		return NothingMade
	case math.IsInf(high, 1):
		return FarAway
	}
	return ""
}

// band gives how many are good week by week.
func (s *set) band(today, to int) []Point {
	points := []Point{{Day: today, Low: s.begin, Mid: s.begin, High: s.begin}}
	sums := make([]int, len(s.good))
	for i := range sums {
		sums[i] = s.begin
	}
	sorted := make([]int, len(sums))
	for w := 1; w <= horizon && today+week*(w-1) < to; w++ {
		for i := range sums {
			sums[i] += s.good[i][w]
		}
		copy(sorted, sums)
		slices.Sort(sorted)
		at := func(share float64) int { return sorted[int(share*float64(len(sorted)-1)+0.5)] }
		points = append(points, Point{Day: today + week*w, Low: at((1 - inRange) / 2), Mid: at(0.5), High: at((1 + inRange) / 2)})
	}
	return points
}
