package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func day(d int) *int { return &d }

// going is a drive that has gone on for ten weeks: eight people who take four pillowcases every two
// weeks or so and bring them back after ten days.
func going() Input {
	in := Input{Today: 70, Plans: []int{0}, Found: Checked{Good: 60, ToMend: 3, NotUsable: 1}}
	for who := int64(1); who <= 8; who++ {
		for from := int(who); from < 70; from += 13 + int(who)%4 {
			s := Spell{Who: who, From: from, To: from + 8 + int(who)%5, N: 4, Line: 1, Fate: Ended}
			if s.To > 70 {
				s.To, s.Fate = 0, Open
			} else {
				in.Good = append(in.Good, Event{Day: min(70, s.To+2), N: 4, Line: 1})
				in.Checks = append(in.Checks, Spell{From: s.To, To: min(70, s.To+2), N: 4, Line: 1, Fate: Ended})
			}
			in.Held = append(in.Held, s)
		}
	}
	for d := 0; d < 60; d += 7 {
		in.Cut = append(in.Cut, Event{Day: d, N: 30, Line: 1})
	}
	in.Lines = []Line{{ID: 1, Group: 5, Due: day(110), Need: 80, Good: 100, Ready: 60, ToCut: 10}}
	return in
}

func TestLikelyBy(t *testing.T) {
	res := Of(going())
	for what, o := range map[string]Outlook{"all": res.All, "recipient": res.Groups[5], "line": res.Lines[1]} {
		require.Empty(t, o.Why, what)
		require.Greater(t, o.From, 70, what)
		require.LessOrEqual(t, o.From, o.Likely, what)
		require.LessOrEqual(t, o.Likely, o.To, what)
		require.Equal(t, Point{70, 100, 100, 100}, o.Band[0], "%s: it begins at what is good", what)
		require.GreaterOrEqual(t, o.Band[len(o.Band)-1].Day, o.To, what)
		require.Equal(t, 180, o.Band[len(o.Band)-1].High, "%s: and ends at what is asked for", what)
		for i, p := range o.Band[1:] {
			require.LessOrEqual(t, p.Low, p.Mid)
			require.LessOrEqual(t, p.Mid, p.High)
			require.GreaterOrEqual(t, p.Low, o.Band[i].Low)
		}
	}
	require.Equal(t, res, Of(going()), "the same facts give the same figures")
	require.InDelta(t, 10, res.HoldDays, 2, "they bring kits back after 8 to 12 days")
	require.Equal(t, 8, res.Sewing)
	require.Equal(t, 4.0, res.AtOnce)
}

// TestWhatHelps: more people make it no later, and the day they were asked for moves the chance of being in time.
func TestWhatHelps(t *testing.T) {
	in := going()
	plain := Of(in).All
	require.Less(t, Of(in.WithPeople(8)).All.Likely, plain.Likely)
	later := Of(in.WithDays(7)).All
	require.Equal(t, plain.Likely, later.Likely)
	require.Greater(t, later.OnTime, plain.OnTime)
	require.Equal(t, later.OnTime, plain.OnTimeLater, "a week more is told without playing once more")
	require.Equal(t, 110, *in.Lines[0].Due, "what was asked stays as it was")

	in.Lines[0].Need, in.Lines[0].NoCloth = 100, 12
	short := Of(in)
	require.Equal(t, NoCloth, short.All.Why)
	require.Equal(t, 12, short.All.NoCloth)
	require.Equal(t, NoCloth, Of(in.WithCloth(map[int64]int{1: 5})).All.Why)
	require.Empty(t, Of(in.WithCloth(map[int64]int{1: 40})).All.Why)
	rest := Of(in.WithoutLacking()).All
	require.Empty(t, rest.Why)
	require.Equal(t, 100+88, rest.Band[len(rest.Band)-1].High, "what there is cloth for is foretold by itself")
}

func TestTooEarly(t *testing.T) {
	nothing := Input{Today: 10, Lines: []Line{{ID: 1, Group: 1, Need: 20, Ready: 8}}}
	require.Equal(t, NothingOut, Of(nothing).All.Why)

	none := nothing
	none.Lines = nil
	require.True(t, Of(none).All.Done, "nobody asks for anything")

	two := nothing
	two.Held = []Spell{{Who: 1, From: 1, To: 8, N: 4, Line: 1, Fate: Ended}, {Who: 2, From: 1, To: 9, N: 4, Line: 1, Fate: Ended}, {Who: 3, From: 2, N: 4, Line: 1}}
	require.Equal(t, FewReturns, Of(two).All.Why, "two returns are too few")
	two.Held = append(two.Held, Spell{Who: 1, From: 8, To: 10, N: 4, Line: 1, Fate: Ended})
	require.NotEqual(t, FewReturns, Of(two).All.Why, "a third one will do, from two people")
	for i := range two.Held {
		two.Held[i].Who = 1
	}
	require.Equal(t, FewReturns, Of(two).All.Why, "one person alone tells of nobody else")

	still := going()
	for i := range still.Held {
		still.Held[i].Fate, still.Held[i].To = Open, 0
	}
	require.Equal(t, FewReturns, Of(still).All.Why, "nobody ever brought anything back")
}

// TestDone: where nothing is left there is nothing to foretell; a line that only waits for the checking table needs
// nobody's pace, and one whose day has passed is not in time.
func TestDone(t *testing.T) {
	done := Of(Input{Today: 10, Lines: []Line{{ID: 1, Group: 1, Need: 0, Good: 20}}})
	require.True(t, done.All.Done)
	require.True(t, done.Lines[1].Done)

	in := going()
	in.Lines = append(in.Lines, Line{ID: 2, Group: 6, Due: day(60), Need: 3, Good: 5, ToCheck: 3}, Line{ID: 3, Group: 6, Good: 4})
	res := Of(in)
	require.Empty(t, res.Lines[2].Why)
	require.Less(t, res.Lines[2].Likely, 70+14)
	require.Zero(t, res.Lines[2].OnTime, "its day was ten days ago")
	require.True(t, res.Lines[3].Done)
	require.Equal(t, 9, res.Groups[6].Band[0].Mid)

	only := Of(Input{Today: 10, Lines: []Line{{ID: 1, Group: 1, Need: 4, ToCheck: 4}}})
	require.Empty(t, only.All.Why)

	gone := going()
	gone.Today = 400 // everybody has been away for most of a year
	gone.Lines[0].Need, gone.Lines[0].ToCut = 400, 300
	require.NotEmpty(t, Of(gone).All.Why)
}

// TestDrawnBeyond: what is far beyond its usual time still ends, soon.
func TestDrawnBeyond(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for z := -4.0; z < 60; z += 0.5 {
		mean, n := 0.0, 4000
		for range n {
			x := drawnBeyond(z, r)
			require.GreaterOrEqual(t, x, z)
			mean += x / float64(n)
		}
		expected, variance := beyond(0, 1, z)
		require.InDelta(t, expected, mean, 5*math.Sqrt(variance/float64(n))+0.03, "beyond %.1f", z)
	}
}

// TestFit: times are found again although most of the kits are still out; the mean of those that
// came back is far too short.
func TestFit(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	var spans []span
	short, back := 0.0, 0.0
	for who := range int64(40) {
		mean := 2.9 + 0.3*r.NormFloat64()
		for range 8 {
			days := cube(mean + 0.4*r.NormFloat64())
			s := span{who: who, days: days, ended: true}
			if watched := 30 * r.Float64(); days > watched {
				s = span{who: who, days: math.Max(0.5, watched)}
			} else {
				short += days
				back++
			}
			spans = append(spans, s)
		}
	}
	require.Less(t, back, 100.0, "most are still out")
	p := fit(spans, guess{days: 14, weight: 2, people: true})
	require.InDelta(t, 2.9*2.9*2.9, p.middle(), 2.5)
	require.Less(t, short/back, 18.0)
	require.InDelta(t, 0.4, p.sigma, 0.08)
	require.InDelta(t, 0.3, p.between, 0.12)
}

// TestSound: whatever is known, days lie in order and after today, bands rise, and nothing is lost or made.
func TestSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := func(name string, from, to int) int { return rapid.IntRange(from, to).Draw(t, name) }
		in := Input{Today: n("today", 0, 100), More: n("more", 0, 2)}
		lines := n("lines", 0, 2)
		for i := range lines {
			l := Line{ID: int64(i + 1), Group: int64(i / 2), Need: n("need", 0, 12), Good: n("good", 0, 60), Ready: n("ready", 0, 20), ToCut: n("tocut", 0, 20), ToCheck: n("tocheck", 0, 9), NoCloth: n("nocloth", 0, 1) * n("lacks", 0, 9)}
			if n("due?", 0, 1) == 1 {
				l.Due = day(n("due", -50, 200))
			}
			in.Lines = append(in.Lines, l)
		}
		for range n("spells", 0, 12) {
			s := Spell{Who: int64(n("who", 0, 5)), From: in.Today - n("ago", 0, 80), N: n("n", 1, 6), Line: int64(n("line", 0, 4)), Fate: Fate(n("fate", 0, 3))}
			if s.Fate != Open {
				s.To = min(in.Today, s.From+n("held", 0, 60))
			}
			if s.Fate == Late {
				s.Back = min(in.Today, s.To+n("lost", 0, 30))
			}
			in.Held = append(in.Held, s)
			in.Checks = append(in.Checks, Spell{From: s.From, To: s.From, Fate: Ended, N: 1})
		}
		for range n("cuts", 0, 4) {
			in.Cut = append(in.Cut, Event{Day: in.Today - n("cut ago", 0, 80), N: n("cut", 1, 30)})
			in.Own = append(in.Own, Event{Day: in.Today - n("own ago", 0, 80), N: n("own", 1, 9), Line: int64(n("own line", 0, 4))})
		}
		res := Of(in)
		for id, o := range res.Lines {
			l := in.Lines[id-1]
			if (l.Need == 0) != o.Done {
				t.Fatalf("line %d needs %d and is done: %t", id, l.Need, o.Done)
			}
			if o.Why != "" || o.Done {
				continue
			}
			if in.Today > o.From || o.From > o.Likely || o.Likely > o.To {
				t.Fatalf("today %d, range %d %d %d", in.Today, o.From, o.Likely, o.To)
			}
			last := o.Band[len(o.Band)-1]
			if last.High != l.Good+l.Need || last.Low > last.High {
				t.Fatalf("the band of %+v ends at %+v", l, last)
			}
		}
	})
}

// Eight people sew; eighty pillowcases are still to come.
func ExampleOf() {
	res := Of(going())
	o := res.All
	fmt.Println("too early to say:", o.Why != "")
	fmt.Println("within four months:", o.To < 70+120, "in order:", o.From < o.Likely && o.Likely < o.To)
	fmt.Println("people sewing:", res.Sewing)
	// Output:
	// too early to say: false
	// within four months: true in order: true
	// people sewing: 8
}

// BenchmarkOf forecasts a drive of 20,000 pillowcases with 400 people.
func BenchmarkOf(b *testing.B) {
	in := Input{Today: 100, Lines: []Line{{ID: 1, Group: 1, Need: 15_000, Good: 5000, Ready: 4000, ToCut: 6000}}, Found: Checked{Good: 5000, ToMend: 200}}
	for who := int64(1); who <= 400; who++ {
		for from := int(who % 14); from < 100; from += 14 + int(who%5) {
			s := Spell{Who: who, From: from, To: from + 10, N: 8, Line: 1, Fate: Ended}
			if s.To > 100 {
				s.To, s.Fate = 0, Open
			}
			in.Held = append(in.Held, s)
		}
	}
	for b.Loop() {
		if res := Of(in); res.All.Why != "" {
			b.Fatal(res.All.Why)
		}
	}
}

// However many people come at once, and whatever of it can never be done, a run takes no more
// events than there are people and pillowcases to account for, and days to cut on.
func TestACrowdIsPlayedThrough(t *testing.T) {
	in := crowd()
	m := measure(in)
	for draw := range uint64(50) {
		events := m.newRun(in, draw, func(*lineRun, float64, int) {}).through()
		require.Less(t, events, 10_000, "draw %d", draw)
	}
}

// BenchmarkOfACrowd forecasts a drive to which 400 people came within a day, more than there is cloth for.
func BenchmarkOfACrowd(b *testing.B) {
	in := crowd()
	for b.Loop() {
		Of(in)
	}
}

// crowd is a drive to which 400 people came within a day, most with cloth of their own, and of
// which a part has no cloth.
func crowd() Input {
	in := Input{Today: 100, Found: Checked{Good: 30, ToMend: 1}, Lines: []Line{
		{ID: 1, Group: 1, Need: 264, Ready: 12, ToCut: 60, NoCloth: 144},
		{ID: 2, Group: 2, Need: 40, ToCut: 30},
	}}
	for who := int64(1); who <= 400; who++ {
		s := Spell{Who: who, From: 99, N: 2, Line: 2, Fate: Open}
		if who%10 == 0 {
			s.To, s.Fate = 100, Ended
		}
		in.Held = append(in.Held, s)
	}
	for from := 80; from < 100; from++ {
		in.Held = append(in.Held, Spell{Who: 1001 + int64(from%3), From: from, To: from + 1, N: 4, Line: 1, Fate: Ended})
	}
	for from := 80; from <= 100; from++ {
		in.Cut = append(in.Cut, Event{Day: from, N: 6})
	}
	for range 300 {
		in.Own = append(in.Own, Event{Day: 100, Line: 1, N: 2})
	}
	return in
}
