package site

import (
	"fmt"
	"strings"

	"boltward/internal/forecast"
	"boltward/internal/outlook"
)

// foretold is a forecast as its part of a page shows it.
type foretold struct {
	Outlook likely
	AsOf    string // when it was worked out, where that was not just now
	Chance  string // of being in time, where a day is agreed
	Line    *progressLine
	Helps   []help
	Basis   []basisRow
	Runs    int
	Weeks   []bandRow
}

// basisRow is one figure that the forecast rests on.
type basisRow struct{ What, Figure string }

// bandRow is how many will be good at the end of a week.
type bandRow struct {
	Day            string
	Low, Mid, High int
}

// shown gathers what a page shows of one outlook.
func (o outlooks) shown(w likely, band []forecast.Point, helps []help, line *progressLine) *foretold {
	f := &foretold{Outlook: w, AsOf: o.asOf, Line: line, Helps: helps, Runs: o.Now.Runs}
	if w.HasDue && w.Said {
		f.Chance = inTime(w.OnTime)
	}
	f.Basis = o.basis()
	for _, p := range band {
		f.Weeks = append(f.Weeks, bandRow{o.dayText(outlook.DayOf(p.Day)), p.Low, p.Mid, p.High})
	}
	return f
}

// basis says in words what was measured.
func (o outlooks) basis() []basisRow {
	b := o.Now.Basis
	rows := []basisRow{
		{"With volunteers now", counted(b.OutNow, "pillowcase", "pillowcases")},
		{"Came back so far", fmt.Sprintf("%s, from %s", counted(b.Returns, "hand-out", "hand-outs"), counted(b.Returners, "person", "people"))},
		{"Between visits", "usually " + days(b.HoldDays) + "; each person by their own pace"},
		{"People sewing", fmt.Sprintf("%s took something in the last eight weeks, about %.0f at once; who has brought everything usually takes more once something has lain ready for %s", counted(b.Sewing, "person", "people"), b.AtOnce, days(b.TakeDays))},
		{"Stop and keep what they have", fmt.Sprintf("%.1f times of 100", 100*b.Never)},
		{"To mend", share(b.ToMend)},
		{"Not usable", share(b.NotUsable)},
	}
	if b.NewAWeek > 0.05 {
		rows = append(rows, basisRow{"Come new", fmt.Sprintf("%.1f people a week", b.NewAWeek)})
	}
	rows = append(rows, basisRow{"Waiting", fmt.Sprintf("to be checked %s, to be mended %s, from one cutting day to the next %s, from when something is missing to the next plan %s",
		days(b.CheckDays), days(b.MendDays), days(b.CutDays), days(b.PlanDays))})
	if b.Pace.N >= leastWeeks {
		rows = append(rows, basisRow{"Good a week", fmt.Sprintf("%.0f lately; foretold in the same way, the weeks behind were off by %.1f each, in the mean by %+.1f", b.Pace.Next, b.Pace.MAD, b.Pace.Bias)})
	}
	rows = append(rows, basisRow{"In clumps", fmt.Sprintf("%.1f times as uneven as if everybody came by chance", b.Dispersion)})
	if b.WeeksAhead > 0 {
		rows = append(rows,
			basisRow{"Beside it", fmt.Sprintf("the weeks behind alone, whoever has what, would make %.0f to %.0f more good in the %d weeks to come", b.AheadLow, b.AheadHigh, b.WeeksAhead)},
			basisRow{"At the busiest", fmt.Sprintf("up to %.0f people may bring something in one of these weeks", b.MostAtOnce)})
	}
	return rows
}

// leastWeeks is how many foretold weeks there have to be before it is told how far they were off.
const leastWeeks = 3

func days(d float64) string {
	if d < 1.5 {
		return "1 day"
	}
	return fmt.Sprintf("%.0f days", d)
}

func share(s forecast.Share) string {
	if s.Of == 0 {
		return "nothing was checked yet; what is usual is taken for granted"
	}
	return fmt.Sprintf("%d of %d checked; from %s to %s of 100 may hold", s.Count, s.Of, percent(s.Low), percent(s.High))
}

func percent(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", 100*v), ".0") }
