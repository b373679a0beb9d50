package site

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/forecast"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// outlooks is when everything in a drive will be done, as package forecast has it.
type outlooks struct {
	in    forecast.Input
	res   forecast.Result
	rest  forecast.Result // of what there is cloth for
	plan  int64           // the newest plan, which says what there is no cloth for; 0 for none
	today time.Time
	drive drive.Drive
}

// outlook is when one recipient's lines, one line or the whole drive will be done.
type outlook struct {
	forecast.Outlook
	Likely, From, To time.Time // where Said; From also where it is only known what day it will not be done by
	Said             bool
	Done             bool
	Words            string // likely by 14 Mar, between 3 Mar and 2 Apr; or why it is too early to say
	Late             bool   // rather after its day than before it
}

// Early says whether no day at all can be said.
func (o outlook) Early() bool { return strings.HasPrefix(o.Words, tooEarly) }

const tooEarly = "too early to say"

// Sentence says it as a sentence of its own.
func (o outlook) Sentence() string {
	if o.Words == "" {
		return ""
	}
	return strings.ToUpper(o.Words[:1]) + o.Words[1:] + "."
}

// dayNumber counts days, as package forecast does.
func dayNumber(day time.Time) int { return int(day.Unix() / (24 * 60 * 60)) }

func dayOfNumber(n int) time.Time { return time.Unix(int64(n)*24*60*60, 0).UTC() }

// outlooks forecasts a drive as it stands; lines are all that is asked for in it.
func (s *Site) outlooks(ctx context.Context, d drive.Drive, lines []drive.AskedLine) (outlooks, error) {
	o := outlooks{today: drive.Day(s.now(), d.Location()), drive: d}
	flow, err := s.db.Flow(ctx, d.ID, o.today)
	if err != nil {
		return o, err
	}
	plan, reasons, err := s.db.NewestReasons(ctx, d.ID)
	if err != nil {
		return o, err
	}
	o.plan = plan
	lacks := map[string]int{}
	for _, r := range reasons {
		lacks[r.Quota] = r.Missing
	}
	o.in = forecastInput(flow, o.today)
	for _, l := range lines {
		if !l.Closed {
			o.in.Lines = append(o.in.Lines, forecastLine(l, lacks[drive.NumberID(l.Number)]))
		}
	}
	end, err := s.telling.take(ctx)
	if err != nil {
		return o, err
	}
	defer end()
	o.res = forecast.Of(o.in)
	o.rest = o.res
	if o.res.All.NoCloth > 0 {
		o.rest = forecast.Of(o.in.WithoutLacking())
	}
	return o, nil
}

// forecastLine is a line as the forecast takes it. What of it nothing stands for, and the newest plan
// found no cloth for, lacks.
func forecastLine(l drive.AskedLine, lacks int) forecast.Line {
	st := l.Standing()
	f := forecast.Line{
		ID: l.Number, Group: l.Recipient, Need: max(0, l.Wanted-st.Delivered-st.Good), Good: st.Delivered + st.Good,
		ToCheck: l.Counts[drive.CaseSewn], ToMend: l.Counts[drive.CaseToMend], Ready: l.Counts[drive.CaseCut], ToCut: l.Counts[drive.CasePlanned],
	}
	if l.ToPlan > 0 {
		f.NoCloth = min(lacks, st.Missing)
	}
	if l.Due != nil {
		due := dayNumber(*l.Due)
		f.Due = &due
	}
	return f
}

func forecastInput(flow drive.Flow, today time.Time) forecast.Input {
	return forecast.Input{
		Today: dayNumber(today), Held: forecastSpells(flow.Held), Checks: forecastSpells(flow.Checks), Mends: forecastSpells(flow.Mends),
		Found: forecast.Checked{Good: flow.Passed, ToMend: flow.Faulty, NotUsable: flow.Useless},
		Own:   forecastEvents(flow.Own), Cut: forecastEvents(flow.Cut), Good: forecastEvents(flow.Good), Plans: dayNumbers(flow.Plans),
	}
}

func dayNumbers(days []time.Time) []int {
	var list []int
	for _, d := range days {
		list = append(list, dayNumber(d))
	}
	return list
}

func forecastSpells(spells []drive.Spell) []forecast.Spell {
	var list []forecast.Spell
	for _, s := range spells {
		f := forecast.Spell{Who: s.Who, From: dayNumber(s.From), N: s.N, Line: s.Asked}
		if s.To != nil {
			f.To, f.Fate = dayNumber(*s.To), forecast.Ended
			if s.Lost {
				f.Fate = forecast.Lost
			}
		}
		list = append(list, f)
	}
	return list
}

func forecastEvents(events []drive.FlowEvent) []forecast.Event {
	var list []forecast.Event
	for _, e := range events {
		list = append(list, forecast.Event{Day: dayNumber(e.Day), N: e.N, Line: e.Asked})
	}
	return list
}

// all is the outlook of the whole drive.
func (o outlooks) all() outlook { return o.words(o.res.All, o.rest.All) }

// of is the outlook of one recipient; it is done where nothing open is asked for.
func (o outlooks) of(recipient int64) outlook {
	return o.words(o.group(o.res, recipient), o.group(o.rest, recipient))
}

func (outlooks) group(res forecast.Result, recipient int64) forecast.Outlook {
	if found, ok := res.Groups[recipient]; ok {
		return found
	}
	return forecast.Outlook{Done: true}
}

// line is the outlook of one line.
func (o outlooks) line(number int64) outlook {
	if found, ok := o.res.Lines[number]; ok {
		return o.words(found, o.rest.Lines[number])
	}
	return outlook{Done: true}
}

// words says an outlook; rest is that of what there is cloth for.
func (o outlooks) words(f, rest forecast.Outlook) outlook {
	w := outlook{Outlook: f, Done: f.Done, Said: !f.Done && f.Why == ""}
	if w.Said || f.Why == forecast.FarAway {
		w.From = dayOfNumber(f.From)
	}
	switch {
	case f.Done:
	case w.Said:
		w.Likely, w.To = dayOfNumber(f.Likely), dayOfNumber(f.To)
		w.Words = o.likelyBy(f)
		w.Late = f.HasDue && f.OnTime < 0.5
	case f.Why == forecast.NoCloth && rest.Why == "" && !rest.Done:
		w.Words = o.why(f) + "; the others " + o.likelyBy(rest)
		w.Late = rest.HasDue && rest.OnTime < 0.5
	default:
		w.Words = tooEarly + ": " + o.why(f)
	}
	return w
}

func (o outlooks) likelyBy(f forecast.Outlook) string {
	day := func(n int) string { return o.dayText(dayOfNumber(n)) }
	return "likely by " + day(f.Likely) + " (between " + day(f.From) + " and " + day(f.To) + ")"
}

// dayText writes a day, with its year where that is not this one.
func (o outlooks) dayText(day time.Time) string {
	if day.Year() == o.today.Year() {
		return day.Format("2 Jan")
	}
	return day.Format("2 Jan 2006")
}

func (o outlooks) why(f forecast.Outlook) string {
	b := o.res.Basis
	switch f.Why {
	case forecast.NothingOut:
		return "no kit has been handed out yet"
	case forecast.FewReturns:
		return fmt.Sprintf("%s came back so far, from %s; it takes three, from two people, to see how fast they come",
			counted(b.Returns, "hand-out", "hand-outs"), counted(b.Returners, "person", "people"))
	case forecast.NoCloth:
		said := fmt.Sprintf("there is no cloth for %d of them", f.NoCloth)
		if o.plan > 0 {
			said += fmt.Sprintf(" (plan %d)", o.plan)
		}
		return said
	case forecast.FarAway:
		return "not before " + o.dayText(dayOfNumber(f.From)) + ", and perhaps not within a year"
	}
	return "at this pace it is not done within a year"
}

// foretold gathers what a page shows of a recipient's outlook, or, for 0, of everybody's: nil where
// nothing is left to do.
func (s *Site) foretold(c *gin.Context, o outlooks, lines []drive.AskedLine, recipient int64) (*foretold, error) {
	pick := func(res forecast.Result) forecast.Outlook { return res.All }
	if recipient != 0 {
		pick = func(res forecast.Result) forecast.Outlook { return o.group(res, recipient) }
	}
	now := pick(o.res)
	if now.Done {
		return nil, nil
	}
	asks, err := s.db.AskedForNow(c.Request.Context(), o.drive.ID)
	if err != nil {
		return nil, err
	}
	way := wayOf{lines: map[int64]bool{}}
	for _, l := range lines {
		if !l.Closed && (recipient == 0 || l.Recipient == recipient) {
			way.add(l)
		}
	}
	rest := pick(o.rest)
	end, err := s.telling.take(c.Request.Context())
	if err != nil {
		return nil, err
	}
	defer end()
	return o.foretold(o.words(now, rest), rest.Band, o.helps(asks, pick), o.progressLine(rest, way)), nil
}

// help is one thing that would bring the day nearer, or its being in time.
type help struct{ What, Then string }

// helps runs the forecast again with two people more, with the cloth that helps most, and with a week
// more. pick takes the outlook that is asked about out of a result.
func (o outlooks) helps(asks postgres.Asks, pick func(forecast.Result) forecast.Outlook) []help {
	now := pick(o.res)
	if now.Done {
		return nil
	}
	var list []help
	if rest := pick(o.rest); !rest.Done && rest.Why != forecast.NothingOut && rest.Why != forecast.FewReturns {
		then := pick(forecast.Of(o.in.WithoutLacking().WithPeople(2)))
		list = append(list, help{"Two more people who sew", o.instead(rest, then)})
	}
	if now.NoCloth > 0 {
		for _, w := range asks.Wishes {
			more := clothFor(w, o.in.Lines)
			in := o.in.WithCloth(more)
			if then := pick(forecast.Of(in)); then.NoCloth < now.NoCloth {
				what := length.Format(w.Length, o.drive.Yardage()) + " of " + w.For.Words() + " (" + w.For.Cloth() + ")"
				list = append(list, help{what, o.instead(now, then)})
				break
			}
		}
	}
	if now.HasDue && now.Why == "" {
		later := pick(forecast.Of(o.in.WithDays(7)))
		list = append(list, help{"A week more", fmt.Sprintf("%s instead of %s", inTime(later.OnTime), inTime(now.OnTime))})
	}
	return list
}

// clothFor is how many more each line gets of cloth that is asked for.
func clothFor(w drive.Wish, lines []forecast.Line) map[int64]int {
	more := map[int64]int{}
	for _, l := range lines {
		for _, m := range w.Lines {
			if m.ID == drive.NumberID(l.ID) {
				more[l.ID] = m.To - m.From
			}
		}
	}
	return more
}

func (o outlooks) instead(now, then forecast.Outlook) string {
	after := o.words(then, then)
	switch {
	case then.NoCloth < now.NoCloth && then.NoCloth > 0:
		return fmt.Sprintf("cloth for %d more; then there is none for %d", now.NoCloth-then.NoCloth, then.NoCloth)
	case !after.Said:
		return after.Words
	case now.Why != "":
		return after.Words
	case then.Likely >= now.Likely:
		return "no sooner"
	}
	return fmt.Sprintf("likely by %s, %s sooner", o.dayText(after.Likely), counted(now.Likely-then.Likely, "day", "days"))
}

// inTime says a share of runs as people do.
func inTime(share float64) string {
	switch {
	case share > 0.985:
		return "almost surely in time"
	case share < 0.015:
		return "hardly in time"
	}
	return fmt.Sprintf("in time %d times of 100", int(share*100+0.5))
}
