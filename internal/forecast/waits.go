package forecast

import (
	"math"
	"slices"
)

// gaps measures how long it is from when people have brought everything to when they take more. Who has not for long has
// perhaps stopped.
func gaps(list []*worker) pace {
	var spans []span
	for _, w := range list {
		if !named(w.who) {
			continue
		}
		for _, g := range w.gaps {
			g.who = w.who
			spans = append(spans, g)
		}
	}
	return fit(spans, usual.gap)
}

// What is taken for granted of people who stop, set on simulated drives: so many in so many days on which somebody was watched.
const usualStops, usualStopDays = 0.6, 300

// stopping gives how many people have stopped, as far as is known, and how many days they were watched.
func (m *measured) stopping() (stopped, days float64) {
	stopped, days = usualStops+m.gap.gone-usual.gap.never*usual.gap.steady, usualStopDays
	for _, w := range m.workers {
		if !named(w.who) {
			continue
		}
		last := w.takes[len(w.takes)-1].day
		if w.idle {
			last = m.today
		}
		days += float64(last - w.takes[0].day)
	}
	return stopped, days
}

// losses measures how long something is out before it is booked as lost. What came back, or is out still, after
// less than it could have been booked in tells nothing: less than half of the shortest so far, set on simulated drives.
func losses(in Input) pace {
	could := usual.lost.days
	for _, s := range in.Held {
		if s.Fate == Lost || s.Fate == Late {
			could = math.Min(could, float64(s.To-s.From))
		}
	}
	var spans []span
	for _, s := range spansOf(in.Held, in.Today) {
		if s.days >= could/2 || s.lost {
			spans = append(spans, span{days: s.days, ended: s.lost})
		}
	}
	return fit(spans, usual.lost)
}

// cuts measures how long it is from one cutting to the next while something is to be cut, and how much is cut on a
// day that leaves some. A plan ends a stretch in which there may have been nothing: what is far longer than others (half as
// long again, set on simulated drives) and has one in it counts from there.
func cuts(in Input) (pace, []int) {
	perDay := map[int]int{}
	for _, e := range in.Cut {
		perDay[e.Day] += e.N
	}
	days := sortedKeys(perDay)
	plans := slices.Clone(in.Plans)
	slices.Sort(plans)
	var plain, planned []float64
	var since []float64
	var sizes []int
	for i, day := range days {
		if i+1 == len(days) {
			break
		}
		next := days[i+1]
		at, _ := slices.BinarySearch(plans, next+1) // plans made up to then
		if at > 0 && plans[at-1] > day {
			planned = append(planned, float64(next-day))
			since = append(since, float64(next-plans[at-1]))
			continue
		}
		plain = append(plain, float64(next-day))
		sizes = append(sizes, perDay[day])
	}
	waits := 0
	for _, l := range in.Lines {
		waits += l.ToCut
	}
	if n := len(days); n > 0 && waits > 0 {
		sizes = append(sizes, perDay[days[n-1]])
	}
	usually := usual.cut.days
	if len(plain) > 0 {
		sorted := slices.Clone(plain)
		slices.Sort(sorted)
		usually = sorted[len(sorted)/2]
	}
	var spans []span
	for _, d := range plain {
		spans = append(spans, span{days: d, ended: true})
	}
	for i, d := range planned {
		if d > 1.5*usually {
			d = math.Max(0.5, since[i])
		}
		spans = append(spans, span{days: d, ended: true})
	}
	if n := len(days); n > 0 && waits > 0 && in.Today > days[n-1] {
		last := days[n-1]
		if len(plans) > 0 {
			last = max(last, plans[len(plans)-1])
		}
		if in.Today > last {
			spans = append(spans, span{days: float64(in.Today - last)})
		}
	}
	return fit(spans, usual.cut), sizes
}

// planWaits measures how long it takes from when something is missing, since it was booked as lost or could not be used, to
// the next plan.
func planWaits(in Input) pace {
	gone := map[int]int{} // by day
	for _, s := range in.Checks {
		if s.Fate == Ended {
			gone[s.To] += s.N
		}
	}
	for _, e := range in.Good {
		gone[e.Day] -= e.N
	}
	for _, s := range in.Mends {
		gone[s.From] -= s.N
	}
	for _, s := range in.Held {
		if s.Fate == Lost || s.Fate == Late {
			gone[s.To] = max(0, gone[s.To]) + s.N
		}
	}
	plans := slices.Clone(in.Plans)
	slices.Sort(plans)
	var spans []span
	until := math.MinInt
	for _, day := range sortedKeys(gone) {
		if gone[day] <= 0 || day <= until {
			continue
		}
		at, _ := slices.BinarySearch(plans, day)
		if at == len(plans) {
			if day < in.Today {
				spans = append(spans, span{days: float64(in.Today - day)})
			}
			break
		}
		until = plans[at]
		spans = append(spans, span{days: math.Max(0.5, float64(until-day)), ended: true})
	}
	return fit(spans, usual.plan)
}
