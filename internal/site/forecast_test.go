package site

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/forecast"
	"boltward/internal/length"
	"boltward/internal/outlook"
	"boltward/internal/planning"
)

// going is the flow of a drive whose eight people bring back four pillowcases every two weeks or so.
func going(today time.Time) drive.Flow {
	var f drive.Flow
	for who := range int64(8) {
		for ago := 60 - int(who); ago > 0; ago -= 14 {
			spell := drive.Spell{Who: who + 1, Asked: 1, N: 4, From: today.AddDate(0, 0, -ago)}
			if back := today.AddDate(0, 0, 10-ago); ago > 10 {
				spell.To = &back
				f.Good = append(f.Good, drive.FlowEvent{Asked: 1, N: 4, Day: back})
				f.Passed += 4
			}
			f.Held = append(f.Held, spell)
		}
	}
	f.Cut = []drive.FlowEvent{{Asked: 1, N: 200, Day: today.AddDate(0, 0, -61)}}
	return f
}

// foretellOf makes the outlooks of one line of Ward 4 (1), of which some lacks cloth.
func foretellOf(flow drive.Flow, lacks int, wishes ...drive.Wish) (outlooks, drive.AskedLine) {
	today := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	due := today.AddDate(0, 0, 30)
	line := drive.AskedLine{Asked: drive.Asked{Number: 1, Recipient: 1, Wanted: 160, Due: &due}, Counts: drive.Counts{drive.CaseGood: 90, drive.CaseCut: 40}, ToPlan: 20}
	p := outlook.Play(drive.OutlookFacts{
		Today: today, Flow: flow, Lines: []drive.AskedLine{line}, Plan: 3, Lacks: map[string]int{drive.NumberID(1): lacks}, Wishes: wishes,
	})
	p.HelpAll()
	return outlooks{Outlook: p.Outlook(), today: today, drive: drive.Drive{Unit: length.In}}, line
}

func TestLikelyByInWords(t *testing.T) {
	today := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	o, line := foretellOf(going(today), 0)
	w := o.of(1)
	require.True(t, w.Said, w.Words)
	require.Regexp(t, `^Likely by \d+ \w+ \(between \d+ \w+ and \d+ \w+\)\.$`, w.Sentence())
	require.Equal(t, w, o.line(line))
	require.True(t, o.of(9).Done, "who asks for nothing open waits for nothing")
	done := line
	done.Counts = drive.Counts{drive.CaseDelivered: 160}
	require.True(t, o.line(done).Done, "what was done since is not foretold")

	o, _ = foretellOf(going(today), 12)
	w = o.all()
	require.False(t, w.Said)
	require.False(t, w.Early())
	require.Contains(t, w.Words, "there is no cloth for 12 of them (plan 3); the others likely by")

	// Where cloth is short and the rest stands still, both are said: more cloth alone would not do.
	o, _ = foretellOf(drive.Flow{}, 12)
	require.Equal(t, "too early to say: there is no cloth for 12 of them (plan 3); the others: no kit has been handed out yet", o.all().Words)
	o, _ = foretellOf(going(today), 12)
	o.Rest.All.Why, o.Rest.All.Done = forecast.NothingMade, false
	require.Equal(t, "too early to say: there is no cloth for 12 of them (plan 3); the others: at this pace it is not done within a year", o.all().Words)

	o, _ = foretellOf(drive.Flow{}, 0)
	require.Equal(t, "too early to say: no kit has been handed out yet", o.all().Words)
	none := drive.Flow{Held: []drive.Spell{{Who: 1, Asked: 1, N: 4, From: today.AddDate(0, 0, -3)}}}
	o, _ = foretellOf(none, 0)
	require.Contains(t, o.all().Words, "nothing that was handed out has come back yet; it takes three hand-outs, from two people")
	require.Empty(t, o.foretold(1).Basis, "nothing was measured")
	two := going(today)
	two.Held = two.Held[:2]
	o, _ = foretellOf(two, 0)
	require.Contains(t, o.all().Words, "2 hand-outs came back so far, from 1 person; it takes three, from two people")
	require.True(t, o.all().Early())
	told := func() (what []string) {
		for _, row := range o.foretold(1).Basis {
			what = append(what, row.What)
		}
		return what
	}
	require.Contains(t, told(), "Came back so far")
	require.NotContains(t, told(), "Stop and keep what they have", "that is reckoned once a day is said")
	o, _ = foretellOf(going(today), 0)
	require.Contains(t, told(), "Stop and keep what they have")

	// Drawn, it goes up to today in a full line and on from there in its band.
	o, _ = foretellOf(going(today), 0)
	var way wayOf
	way.add(o.Lines[0])
	drawn := o.progressLine(o.Now.All, way)
	require.Contains(t, drawn.Words, "90 of 160 are good today; likely by")
	require.NotEmpty(t, drawn.Due)
	at := drawn.Was[strings.LastIndex(drawn.Was, "H")+1:]
	require.True(t, strings.HasPrefix(drawn.Likely, "M"+at+" "), "%s begins at %s", drawn.Likely, at)
	require.True(t, strings.HasSuffix(drawn.Band, "z"))
}

func TestWhatWouldHelp(t *testing.T) {
	today := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	o, _ := foretellOf(going(today), 0)
	helps := o.foretold(0).Helps
	require.Len(t, helps, 2)
	require.Equal(t, "Two more people who sew", helps[0].What)
	require.Contains(t, helps[1].Then, " instead of ")

	wish := drive.Wish{For: drive.CallFor{Fibre: "cotton", Weight: "quilting", Print: drive.PrintSolid, Colours: []string{"blue"}}, Length: 108 * length.Inch, Lines: []planning.Moved{{ID: drive.NumberID(1), From: 0, To: 6}}}
	o, _ = foretellOf(going(today), 5, wish)
	helps = o.foretold(1).Helps
	require.Len(t, helps, 2)
	require.Equal(t, "3 yd of plain or tone on tone blue (cotton, quilting weight)", helps[1].What)
	require.Contains(t, helps[1].Then, "likely by")
	require.EqualValues(t, 3, helps[1].Plan, "the plan that it is counted from")
	o, _ = foretellOf(going(today), 10, wish)
	require.Equal(t, "cloth for 6 more than plan 3 has; then there is none for 4", o.foretold(1).Helps[1].Then)
}

// Where a drive takes long to forecast, pages show what was found last and say when, as long as it is of today.
func TestKeptOutlookOnThePages(t *testing.T) {
	ts, organiser := askedSite(t)
	organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "160", "due", "2026-05-30", "matter", "should")
	d, err := ts.Store.Drive(t.Context(), "spring")
	require.NoError(t, err)
	at := ts.Store.Now()
	today := drive.Day(at, d.Location())
	o, _ := foretellOf(going(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)), 0)
	text, err := o.Keep()
	require.NoError(t, err)
	kept := drive.KeptForecast{MadeAt: at, Today: today, Form: outlook.Form, Found: text}
	require.NoError(t, ts.Store.KeepForecast(t.Context(), "spring", kept))
	clock := at.In(d.Location()).Format("15:04")
	for _, page := range []string{"/drives/spring/asked", "/drives/spring/recipients/1"} {
		ts.as(account.Reader).get(page).has("On course?", "Likely days as of "+clock+".", "90 of 160 are good today", "Two more people who sew")
	}
	// Whoever asked before there was one, and waited for a turn, gets it too.
	waited, err := ts.Site.outlooks(t.Context(), d, nil, nil, nil)
	require.NoError(t, err)
	require.Equal(t, clock, waited.asOf)
	ts.as(account.Reader).get("/drives/spring/asked?q=ward").has("Likely days as of " + clock + ".").lacks("On course?")

	kept.MadeAt, kept.Today = at.Add(time.Second), today.AddDate(0, 0, -1)
	require.NoError(t, ts.Store.KeepForecast(t.Context(), "spring", kept))
	ts.as(account.Reader).get("/drives/spring/asked").has("Likely days as of " + at.Add(time.Second).In(d.Location()).Format("2 Jan, 15:04"))
	_, err = ts.DB.Owner().Exec(t.Context(), `UPDATE forecasts SET made_at = made_at - interval '2 hours'`)
	require.NoError(t, err)
	ts.as(account.Reader).get("/drives/spring/asked").has("no kit has been handed out yet").lacks("Likely days as of")
}

// TestOnCourseOnThePages: before anything was handed out the pages say that it is too early, and why.
func TestOnCourseOnThePages(t *testing.T) {
	ts, organiser := askedSite(t)
	organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "12", "due", "2026-05-30", "matter", "should")
	ts.stand("ward", 1, 3, 2)
	for _, page := range []string{"/drives/spring/asked", "/drives/spring/recipients/1"} {
		ts.as(account.Reader).get(page).has("On course?", "Too early to say: no kit has been handed out yet.", "2 of 12 are good today", "due 30 May").lacks("How this day came about", "What is known so far")
	}
}
