package outlook

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/forecast"
	"boltward/internal/length"
	"boltward/internal/planning"
)

var today = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// facts are of a drive in which so many people bring back four pillowcases every two weeks or so, for two
// recipients; of some there is no cloth.
func facts(people, lacks int) drive.OutlookFacts {
	f := drive.OutlookFacts{Today: today, Plan: 3, Lacks: map[string]int{drive.NumberID(1): lacks, drive.NumberID(2): lacks}}
	for who := range int64(people) {
		for ago := 60 - int(who)%9; ago > 0; ago -= 14 {
			spell := drive.Spell{Who: who + 1, Asked: 1, N: 4, From: today.AddDate(0, 0, -ago)}
			if back := today.AddDate(0, 0, 10-ago); ago > 10 {
				spell.To = &back
				f.Flow.Good = append(f.Flow.Good, drive.FlowEvent{Asked: 1, N: 4, Day: back})
				f.Flow.Passed += 4
			}
			f.Flow.Held = append(f.Flow.Held, spell)
		}
	}
	due := today.AddDate(0, 0, 30)
	for number := range int64(2) {
		f.Lines = append(f.Lines, drive.AskedLine{
			Asked:  drive.Asked{Number: number + 1, Recipient: number + 1, Wanted: 20 * people, Due: &due},
			Counts: drive.Counts{drive.CaseGood: 8 * people, drive.CaseCut: 8 * people}, ToPlan: 2 * people,
		})
	}
	return f
}

func wish(line int64, more int) drive.Wish {
	return drive.Wish{For: drive.CallFor{Fibre: "cotton"}, Length: 36 * length.Inch, Lines: []planning.Moved{{ID: drive.NumberID(line), To: more}}}
}

// Each recipient is told of the first wish that helps them, whoever else was asked about.
func TestHelpIsTheFirstThatHelps(t *testing.T) {
	f := facts(8, 5)
	f.Wishes = []drive.Wish{wish(2, 1), wish(1, 2), wish(1, 5)}
	lacks := func(list []Cloth, recipient int64) (after []int) {
		for _, c := range list {
			after = append(after, c.Then.Groups[recipient].NoCloth)
		}
		return after
	}
	one := Play(f)
	one.Help(1)
	require.Equal(t, []int{3}, lacks(one.Outlook().Cloth, 1), "of the two that help them, the first")
	all := Play(f)
	all.HelpAll()
	require.Equal(t, []int{5, 3}, lacks(all.Outlook().Cloth, 1))
	require.Equal(t, []int{4, 5}, lacks(all.Outlook().Cloth, 2))
	require.Equal(t, 9, all.Outlook().Cloth[0].Then.All.NoCloth, "for everybody, the first of all")
	require.Equal(t, one.Outlook().Cloth[0], all.Outlook().Cloth[1])
	require.Equal(t, one.Outlook().People, all.Outlook().People)
}

// How much there is to play decides, not how fast the machine is.
func TestLarge(t *testing.T) {
	text, err := Found(facts(8, 0))
	require.NoError(t, err)
	require.Nil(t, text)
	text, err = Found(facts(60, 0))
	require.NoError(t, err)
	o, err := Read(text)
	require.NoError(t, err)
	require.NotNil(t, o.People)
	require.Equal(t, 1200, o.Lines[0].Asked)
}

// What is kept says the same as what was worked out, but for bands that nobody draws.
func TestKeptSaysTheSame(t *testing.T) {
	for _, f := range []drive.OutlookFacts{facts(0, 0), facts(1, 2), facts(8, 0), facts(8, 5)} {
		f.Wishes = []drive.Wish{wish(1, 4)}
		p := Play(f)
		p.HelpAll()
		o := p.Outlook()
		text, err := o.Keep()
		require.NoError(t, err)
		back, err := Read(text)
		require.NoError(t, err)
		require.Equal(t, o.Now.Basis, back.Now.Basis)
		require.Equal(t, o.Now.All, back.Now.All)
		require.Equal(t, o.Rest.Groups, back.Rest.Groups)
		for number, line := range o.Now.Lines {
			line.Band = nil
			require.Equal(t, line, back.Now.Lines[number])
		}
		require.Equal(t, o.Good, back.Good)
		require.Equal(t, o.Lines, back.Lines)
		require.Len(t, back.Cloth, len(o.Cloth))
		for i, c := range o.Cloth {
			require.Equal(t, c.Wish, back.Cloth[i].Wish)
			require.Equal(t, c.Then.All.NoCloth, back.Cloth[i].Then.All.NoCloth)
			require.Equal(t, c.Then.All.Likely, back.Cloth[i].Then.All.Likely)
		}
		again, err := back.Keep()
		require.NoError(t, err)
		require.JSONEq(t, string(text), string(again))
	}
}

// TestWhatCameBackAfterAll: a spell that was booked as lost and came back is told with both days.
func TestWhatCameBackAfterAll(t *testing.T) {
	from := DayOf(100)
	lost, back := DayOf(160), DayOf(170)
	require.Equal(t, []forecast.Spell{
		{Who: 1, Line: 2, N: 3, From: 100},
		{Who: 1, Line: 2, N: 3, From: 100, To: 160, Fate: forecast.Lost},
		{Who: 1, Line: 2, N: 3, From: 100, To: 160, Fate: forecast.Late, Back: 170},
	}, spells([]drive.Spell{
		{Who: 1, Asked: 2, N: 3, From: from},
		{Who: 1, Asked: 2, N: 3, From: from, To: &lost, Lost: true},
		{Who: 1, Asked: 2, N: 3, From: from, To: &lost, Lost: true, Back: &back},
	}))
}

// TestOutForLong: what somebody has had for longer than the flow is looked at is with them, and is not what is still to be planned.
func TestOutForLong(t *testing.T) {
	f := facts(8, 0)
	out := Play(f).found.Now.OutNow
	require.Positive(t, out)
	f.Lines[0].Counts[drive.CaseOut] = out + 5
	require.Equal(t, out+5, Play(f).found.Now.OutNow)
	held := input(f).Held
	require.Equal(t, forecast.Spell{From: Day(today) - drive.FlowDays, N: 5, Line: 1}, held[len(held)-1])
	f.Lines[0].Closed = true
	require.Equal(t, out, Play(f).found.Now.OutNow, "of a closed line nothing is foretold")
}

// TestMoreThanAsked: what is good of a line beyond what it asks for fills no other line.
func TestMoreThanAsked(t *testing.T) {
	f := facts(8, 0)
	f.Lines[0].Wanted = 30 // of which 64 are good
	o := Play(f).found
	require.Equal(t, []int{30, 64}, []int{o.Lines[0].Good, o.Lines[1].Good})
	require.Equal(t, 94, o.Now.All.Band[0].Mid, "it begins at what is good of what is asked for")
	require.Equal(t, 30+160, o.Now.All.Band[len(o.Now.All.Band)-1].High, "and ends at what is asked for")
}
