package site

import (
	"fmt"
	"math"
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
	if o.Now.Basis.Returns > 0 || len(band) > 0 { // before, there is nothing that was measured
		f.Basis = o.basis(len(band) > 0)
	}
	for _, p := range band {
		f.Weeks = append(f.Weeks, bandRow{o.dayText(outlook.DayOf(p.Day)), p.Low, p.Mid, p.High})
	}
	return f
}

// basis says in words what was measured and, where a day is said, what was reckoned from that.
func (o outlooks) basis(said bool) []basisRow {
	b := o.Now.Basis
	rows := []basisRow{
		{"With volunteers now", counted(b.OutNow, "pillowcase", "pillowcases") + ", whoever they are for"},
		{"Came back so far", fmt.Sprintf("%s, from %s", counted(b.Returns, "hand-out", "hand-outs"), counted(b.Returners, "person", "people"))},
		{"Between visits", "usually " + days(b.HoldDays) + "; each person by their own pace"},
		{"People sewing", fmt.Sprintf("%s took something in the last eight weeks, about %s at a time; who has brought everything usually takes more once something has lain ready for %s",
			counted(b.Sewing, "person", "people"), counted(int(math.Round(b.AtOnce)), "pillowcase", "pillowcases"), days(b.TakeDays))},
	}
	if said {
		rows = append(rows, basisRow{"Stop and keep what they have", fmt.Sprintf("%.1f times of 100", 100*b.Never)})
	}
	rows = append(rows, basisRow{"To mend", share(b.ToMend)}, basisRow{"Not usable", share(b.NotUsable)})
	if b.NewAWeek > 0.05 {
		rows = append(rows, basisRow{"New people", fmt.Sprintf("%.1f a week", b.NewAWeek)})
	}
	rows = append(rows, basisRow{"Waiting", fmt.Sprintf("to be checked %s, to be mended %s, from one cutting day to the next %s, from when something is missing to the next plan %s",
		days(b.CheckDays), days(b.MendDays), days(b.CutDays), days(b.PlanDays))})
	if b.Pace.N >= leastWeeks {
		rows = append(rows, basisRow{"Good a week", fmt.Sprintf("%.0f lately; the weeks behind, foretold in the same way, were off by %.1f each, and by %+.1f on the average", b.Pace.Next, b.Pace.MAD, b.Pace.Bias)})
	}
	rows = append(rows, basisRow{"How evenly they come", fmt.Sprintf("from week to week %.1f times as uneven as if everybody came by chance alone", b.Dispersion)})
	if b.WeeksAhead > 0 {
		rows = append(rows,
			basisRow{"For comparison", fmt.Sprintf("if it only went on as in the weeks behind, whoever has what, %.0f to %.0f more would be good after %s", b.AheadLow, b.AheadHigh, counted(b.WeeksAhead, "week", "weeks"))},
			basisRow{"At the busiest", fmt.Sprintf("somebody may bring something up to %s in one of these weeks", counted(int(math.Round(b.MostAtOnce)), "time", "times"))})
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
		return "nothing was checked yet; reckoned with what is usual"
	}
	if s.Low < 0.005 && s.High > 0.995 {
		return fmt.Sprintf("%d of %d checked: too few to say more", s.Count, s.Of)
	}
	return fmt.Sprintf("%d of %d checked, so anything from %s to %s of 100 may be true", s.Count, s.Of, percent(s.Low), percent(s.High))
}

func percent(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", 100*v), ".0") }
