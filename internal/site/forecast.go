package site

import (
	"context"
	"fmt"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/forecast"
	"boltward/internal/length"
	"boltward/internal/outlook"
)

// outlooks is when everything in a drive will be done, as package outlook has it.
type outlooks struct {
	outlook.Outlook
	asOf  string // when it was worked out, where that was not just now
	today time.Time
	drive drive.Drive
}

// likely is when one recipient's lines, one line or the whole drive will be done.
type likely struct {
	forecast.Outlook
	Likely, From, To time.Time // where Said; From also where it is only known what day it will not be done by
	Said             bool
	Done             bool
	Words            string // likely by 14 Mar, between 3 Mar and 2 Apr; or why it is too early to say
	Late             bool   // rather after its day than before it
}

// Early says whether no day at all can be said.
func (o likely) Early() bool { return strings.HasPrefix(o.Words, tooEarly) }

const tooEarly = "too early to say"

// Sentence says it as a sentence of its own.
func (o likely) Sentence() string {
	if o.Words == "" {
		return ""
	}
	return strings.ToUpper(o.Words[:1]) + o.Words[1:] + "."
}

// keptFor is how long an outlook of another day is shown: by then a worker has made a new one, or
// there is none.
const keptFor = time.Hour

// outlooks forecasts a drive; lines are all that is asked for in it. A drive that takes long to
// forecast stands as a job found it last: kept, nil where none did, which is looked for once more after
// waiting for a turn. Until one does, what a page has played stands for others for a while. help says
// whose outlook is shown with what would help: a recipient's, or, for 0, everybody's; nil for nobody's.
func (s *Site) outlooks(ctx context.Context, d drive.Drive, kept *drive.KeptForecast, lines []drive.AskedLine, help *int64) (outlooks, error) {
	now := s.now()
	o := outlooks{today: drive.Day(now, d.Location()), drive: d}
	if o.stands(kept, now) {
		return o, o.read(kept)
	}
	end, err := s.telling.take(ctx)
	if err != nil {
		return o, err
	}
	defer end()
	// A worker may have made one while this waited.
	if kept, err = s.db.KeptForecast(ctx, d.ID, outlook.Form); err != nil {
		return o, err
	}
	if o.stands(kept, now) {
		return o, o.read(kept)
	}
	p, before, err := s.played.of(d.ID, o.today, s.now, func() (*outlook.Player, error) {
		facts, err := s.db.OutlookFacts(ctx, d.ID, o.today)
		facts.Lines = lines
		if err != nil {
			return nil, err
		}
		return outlook.Play(facts), nil
	})
	if err != nil {
		return o, err
	}
	if before {
		o.asOf = o.clock(p.at)
	}
	if help != nil {
		p.player.Help(*help)
	}
	o.Outlook = p.player.Outlook()
	return o, nil
}

// clock is a time of day where the drive is.
func (o *outlooks) clock(at time.Time) string { return at.In(o.drive.Location()).Format("15:04") }

// stands says whether a kept outlook is shown: it is of today, or new enough.
func (o *outlooks) stands(kept *drive.KeptForecast, now time.Time) bool {
	return kept != nil && (kept.Today.Equal(o.today) || now.Sub(kept.MadeAt) < keptFor)
}

func (o *outlooks) read(kept *drive.KeptForecast) (err error) {
	o.asOf = o.clock(kept.MadeAt)
	if !kept.Today.Equal(o.today) {
		o.asOf = kept.MadeAt.In(o.drive.Location()).Format("2 Jan, 15:04")
	}
	o.today = kept.Today
	o.Outlook, err = outlook.Read(kept.Found)
	return err
}

// all is the outlook of the whole drive.
func (o outlooks) all() likely { return o.words(o.Now.All, o.Rest.All) }

// of is the outlook of one recipient; it is done where nothing open is asked for.
func (o outlooks) of(recipient int64) likely {
	return o.words(o.group(o.Now, recipient), o.group(o.Rest, recipient))
}

func (outlooks) group(res forecast.Result, recipient int64) forecast.Outlook {
	if found, ok := res.Groups[recipient]; ok {
		return found
	}
	return forecast.Outlook{Done: true}
}

// line is the outlook of one line; it is done where nothing of it is left to do.
func (o outlooks) line(l drive.AskedLine) likely {
	st := l.Standing()
	found, ok := o.Now.Lines[l.Number]
	if !ok || l.Closed || st.Delivered+st.Good >= l.Wanted {
		return likely{Done: true}
	}
	return o.words(found, o.Rest.Lines[l.Number])
}

// words says an outlook; rest is that of what there is cloth for.
func (o outlooks) words(f, rest forecast.Outlook) likely {
	w := likely{Outlook: f, Done: f.Done, Said: !f.Done && f.Why == ""}
	if w.Said || f.Why == forecast.FarAway {
		w.From = outlook.DayOf(f.From)
	}
	switch {
	case f.Done:
	case w.Said:
		w.Likely, w.To = outlook.DayOf(f.Likely), outlook.DayOf(f.To)
		w.Words = o.likelyBy(f)
		w.Late = f.HasDue && f.OnTime < 0.5
	case f.Why == forecast.NoCloth && rest.Why == "" && !rest.Done:
		w.Words = o.why(f) + "; the others " + o.likelyBy(rest)
		w.Late = rest.HasDue && rest.OnTime < 0.5
	default:
		w.Words = tooEarly + ": " + o.why(f)
		if f.Why == forecast.NoCloth && rest.Why != forecast.NoCloth && !rest.Done {
			w.Words += "; the others: " + o.why(rest)
		}
	}
	return w
}

func (o outlooks) likelyBy(f forecast.Outlook) string {
	day := func(n int) string { return o.dayText(outlook.DayOf(n)) }
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
	b := o.Now.Basis
	switch f.Why {
	case forecast.NothingOut:
		return "no kit has been handed out yet"
	case forecast.FewReturns:
		if b.Returns == 0 {
			return "nothing that was handed out has come back yet; it takes three hand-outs, from two people, to see how fast they come"
		}
		return fmt.Sprintf("%s came back so far, from %s; it takes three, from two people, to see how fast they come",
			counted(b.Returns, "hand-out", "hand-outs"), counted(b.Returners, "person", "people"))
	case forecast.NoCloth:
		said := fmt.Sprintf("there is no cloth for %d of them", f.NoCloth)
		if o.Plan > 0 {
			said += fmt.Sprintf(" (plan %d)", o.Plan)
		}
		return said
	case forecast.FarAway:
		return "not before " + o.dayText(outlook.DayOf(f.From)) + ", and perhaps not within a year"
	}
	return "at this pace it is not done within a year"
}

// foretold gathers what a page shows of a recipient's outlook, or, for 0, of everybody's: nil where
// nothing is left to do.
func (o outlooks) foretold(recipient int64) *foretold {
	pick := func(res forecast.Result) forecast.Outlook { return res.All }
	if recipient != 0 {
		pick = func(res forecast.Result) forecast.Outlook { return o.group(res, recipient) }
	}
	now, rest := pick(o.Now), pick(o.Rest)
	if now.Done {
		return nil
	}
	var way wayOf
	for _, l := range o.Lines {
		if recipient == 0 || l.Recipient == recipient {
			way.add(l)
		}
	}
	return o.shown(o.words(now, rest), rest.Band, o.helps(pick), o.progressLine(rest, way))
}

// help is one thing that would bring the day nearer, or its being in time.
type help struct {
	What, Then string
	Plan       int64 // the plan that it is counted from, of cloth; else 0
}

// helps says what would come of people more, of the cloth that helps most, and of a week more.
// pick takes the outlook that is asked about out of a result.
func (o outlooks) helps(pick func(forecast.Result) forecast.Outlook) []help {
	now := pick(o.Now)
	if now.Done {
		return nil
	}
	var list []help
	if rest := pick(o.Rest); o.People != nil && !rest.Done && rest.Why != forecast.NothingOut && rest.Why != forecast.FewReturns {
		list = append(list, help{What: "Two more people who sew", Then: o.instead(rest, pick(*o.People))})
	}
	for _, c := range o.Cloth {
		if then := pick(c.Then); then.NoCloth < now.NoCloth {
			what := length.Format(c.Wish.Length, o.drive.Yardage()) + " of " + c.Wish.For.Words() + " (" + c.Wish.For.Cloth() + ")"
			list = append(list, help{what, o.instead(now, then), o.Plan})
			break
		}
	}
	if now.HasDue && now.Why == "" {
		list = append(list, help{What: "A week more", Then: fmt.Sprintf("%s instead of %s", inTime(now.OnTimeLater), inTime(now.OnTime))})
	}
	return list
}

func (o outlooks) instead(now, then forecast.Outlook) string {
	after := o.words(then, then)
	switch {
	case then.NoCloth < now.NoCloth && then.NoCloth > 0:
		return fmt.Sprintf("cloth for %d more than plan %d has; then there is none for %d", now.NoCloth-then.NoCloth, o.Plan, then.NoCloth)
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
