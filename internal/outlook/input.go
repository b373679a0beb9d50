package outlook

import (
	"time"

	"boltward/internal/drive"
	"boltward/internal/forecast"
)

// Day counts days, as package forecast does.
func Day(day time.Time) int { return int(day.Unix() / (24 * 60 * 60)) }

// DayOf is the day of a number that Day gave.
func DayOf(n int) time.Time { return time.Unix(int64(n)*24*60*60, 0).UTC() }

func day(at *time.Time) *int {
	if at == nil {
		return nil
	}
	n := Day(*at)
	return &n
}

func input(f drive.OutlookFacts) forecast.Input {
	in := forecast.Input{
		Today: Day(f.Today), Held: spells(f.Flow.Held), Checks: spells(f.Flow.Checks), Mends: spells(f.Flow.Mends),
		Found: forecast.Checked{Good: f.Flow.Passed, ToMend: f.Flow.Faulty, NotUsable: f.Flow.Useless},
		Own:   events(f.Flow.Own), Cut: events(f.Flow.Cut), Good: events(f.Flow.Good), Before: f.Flow.Before,
	}
	out := map[int64]int{} // by line
	for _, s := range in.Held {
		if s.Fate == forecast.Open {
			out[s.Line] += s.N
		}
	}
	for _, d := range f.Flow.Plans {
		in.Plans = append(in.Plans, Day(d))
	}
	for _, l := range f.Lines {
		if l.Closed {
			continue
		}
		in.Lines = append(in.Lines, line(l, f.Lacks[drive.NumberID(l.Number)]))
		// What has been out for longer than the flow is looked at is out all the same: no plan makes it once more.
		if n := l.Counts[drive.CaseOut] - out[l.Number]; n > 0 {
			in.Held = append(in.Held, forecast.Spell{From: in.Today - drive.FlowDays, N: n, Line: l.Number})
		}
	}
	return in
}

// line is a line as the forecast takes it. What of it nothing stands for, and the newest plan
// found no cloth for, lacks.
func line(l drive.AskedLine, lacks int) forecast.Line {
	st := l.Standing()
	f := forecast.Line{
		ID: l.Number, Group: l.Recipient, Need: max(0, l.Wanted-st.Delivered-st.Good), Good: min(l.Wanted, st.Delivered+st.Good),
		ToCheck: l.Counts[drive.CaseSewn], ToMend: l.Counts[drive.CaseToMend], Ready: l.Counts[drive.CaseCut], ToCut: l.Counts[drive.CasePlanned],
	}
	if l.ToPlan > 0 {
		f.NoCloth = min(lacks, st.Missing)
	}
	f.Due = day(l.Due)
	return f
}

func spells(of []drive.Spell) []forecast.Spell {
	var list []forecast.Spell
	for _, s := range of {
		f := forecast.Spell{Who: s.Who, From: Day(s.From), N: s.N, Line: s.Asked}
		if s.To != nil {
			f.To, f.Fate = Day(*s.To), forecast.Ended
			if s.Lost {
				f.Fate = forecast.Lost
			}
			if s.Back != nil {
				f.Fate, f.Back = forecast.Late, Day(*s.Back)
			}
		}
		list = append(list, f)
	}
	return list
}

func events(of []drive.FlowEvent) []forecast.Event {
	var list []forecast.Event
	for _, e := range of {
		list = append(list, forecast.Event{Day: Day(e.Day), N: e.N, Line: e.Asked})
	}
	return list
}
