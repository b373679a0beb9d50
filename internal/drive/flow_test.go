package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestFlow(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2026, 3, d, 0, 0, 0, 0, time.UTC) }
	at := func(d int) *time.Time { t := day(d); return &t }
	anna, ben := int64(1), int64(2)
	step := func(d, n int, asked int64, part int, from CaseState, toAsked int64, toPart int, to CaseState, who *int64) FlowStep {
		return FlowStep{Size: 1, N: n, Asked: asked, Kit: 7, Part: part, From: from, ToAsked: toAsked, ToKit: 7, ToPart: toPart, To: to, Person: who, Day: day(d)}
	}
	f := NewFlow([]FlowStep{
		step(1, 6, 0, 0, CaseBorn, 3, 1, CasePlanned, nil),
		step(2, 6, 3, 1, CasePlanned, 3, 1, CaseCut, nil),
		step(3, 6, 3, 1, CaseCut, 3, 1, CaseOut, &anna),
		step(5, 2, 3, 1, CaseOut, 3, 2, CaseOut, &ben),   // Anna gives two to Ben
		step(9, 3, 3, 1, CaseOut, 3, 3, CaseSewn, &anna), // three of hers come back
		step(10, 1, 3, 2, CaseOut, 3, 2, CaseLost, nil),
		step(11, 1, 3, 3, CaseSewn, 3, 3, CaseToMend, nil),
		step(11, 2, 3, 3, CaseSewn, 3, 3, CaseGood, nil),
		step(12, 1, 3, 3, CaseToMend, 3, 4, CaseToMend, &ben), // out to be mended: still the same mending
		step(14, 1, 3, 4, CaseToMend, 3, 4, CaseSewn, &ben),
		step(15, 1, 3, 4, CaseSewn, 5, 4, CaseSewn, nil), // promised to another line
	}, nil)
	require.ElementsMatch(t, []Spell{
		{Who: anna, Asked: 3, N: 3, From: day(3), To: at(9)},
		{Who: anna, Asked: 3, N: 1, From: day(3)},
		{Who: ben, Asked: 3, N: 1, From: day(5), To: at(10), Lost: true},
		{Who: ben, Asked: 3, N: 1, From: day(5)},
	}, f.Held)
	require.ElementsMatch(t, []Spell{{Asked: 3, N: 1, From: day(9), To: at(11)}, {Asked: 3, N: 2, From: day(9), To: at(11)}, {Asked: 5, N: 1, From: day(14)}}, f.Checks)
	require.Equal(t, []Spell{{Asked: 3, N: 1, From: day(11), To: at(14)}}, f.Mends)
	require.Equal(t, []FlowEvent{{3, 6, day(2)}}, f.Cut)
	require.Equal(t, []FlowEvent{{3, 2, day(11)}}, f.Good)
	require.Equal(t, []int{2, 1, 0}, []int{f.Passed, f.Faulty, f.Useless})
}

// TestLostAndBack: what was booked as lost and came back after all is told with both days, in parts and from whichever hands.
func TestLostAndBack(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2026, 3, d, 0, 0, 0, 0, time.UTC) }
	at := func(d int) *time.Time { t := day(d); return &t }
	anna := int64(1)
	step := func(d, n, from int, was CaseState, to int, is CaseState) FlowStep {
		return FlowStep{Size: 1, N: n, Asked: 3, Kit: 7, Part: from, From: was, ToAsked: 3, ToKit: 7, ToPart: to, To: is, Person: &anna, Day: day(d)}
	}
	f := NewFlow([]FlowStep{
		step(3, 5, 1, CaseCut, 1, CaseOut),
		step(9, 5, 1, CaseOut, 1, CaseLost),
		step(12, 2, 1, CaseLost, 2, CaseSewn),
		step(15, 1, 1, CaseLost, 1, CaseCut), // found, and not sewn
		step(16, 1, 1, CaseCut, 1, CaseLost), // lost here: nobody had it
		step(17, 1, 2, CaseSewn, 2, CaseToMend),
		step(18, 1, 2, CaseToMend, 2, CaseLost), // no hand-out either
	}, nil)
	require.Equal(t, []Spell{
		{Who: anna, Asked: 3, N: 2, From: day(3), To: at(9), Lost: true, Back: at(12)},
		{Who: anna, Asked: 3, N: 1, From: day(3), To: at(9), Lost: true, Back: at(15)},
		{Who: anna, Asked: 3, N: 2, From: day(3), To: at(9), Lost: true},
	}, f.Held)
	require.Equal(t, []Spell{{Asked: 3, N: 1, From: day(17), To: at(18), Lost: true}}, f.Mends)
}
