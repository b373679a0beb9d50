package postgres

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// More back than the kit holds is refused with a way on; taken that way, the others
// come in beside it as own fabric of the same hands, and each is undone by itself.
func TestMoreBackThanTheKitHolds(t *testing.T) {
	s, a := wardOf(t, 20)
	bea := addPerson(t, s, "Bea Lund")
	kit := ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 1, 4, bea, nil)[0]
	today := dayIn(0)
	_, err := s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 6}, today)
	require.Contains(t, apperr.Fields(err)["sewn"], "holds 4 pillowcases with Bea Lund, not 6")
	_, err = s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 3, Extra: 2}, today)
	require.Contains(t, apperr.Fields(err), "sewn", "there is more only when all of it is there")
	taken, err := s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 4, Extra: 2}, today)
	require.NoError(t, err)
	require.Equal(t, []int{4, 2, 0}, []int{taken.Sewn, taken.Extra, taken.Left})
	stacks, err := s.Stacks(t.Context(), "spring", drive.CaseSewn)
	require.NoError(t, err)
	require.Len(t, stacks, 2)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), kit)
	require.NoError(t, err)
	stacks, err = s.Stacks(t.Context(), "spring", drive.CaseSewn)
	require.NoError(t, err)
	require.Len(t, stacks, 1)
	require.Equal(t, drive.Stack{Size: a.Sizes[0], State: drive.CaseSewn, N: 2}, stacks[0].Stack)
	agrees(t, s)
}

// A kit that was booked as lost turns up sewn; that by mistake, it is lost again.
func TestFoundAndLostAgain(t *testing.T) {
	s, a := wardOf(t, 20)
	kit := ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 1, 4, addPerson(t, s, "Bea Lund"), nil)[0]
	_, err := s.KitLost(t.Context(), s.fresh(), kit, "on the bus", time.Time{})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 4}, dayIn(0))
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	_, err = s.KitFound(t.Context(), s.fresh(), kit, 4, 0, time.Time{})
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), kit)
	require.NoError(t, err)
	page, err := s.Kit(t.Context(), "spring", kit)
	require.NoError(t, err)
	require.Equal(t, drive.KitLost, page.State)
	require.Equal(t, 4, page.Count(drive.CaseLost))
	agrees(t, s)
}

// lostMending gives a kit of four that one person sewed, and that was lost with another as all of it
// was out to be mended.
func lostMending(t *testing.T, s *testStore, a drive.Asked, sewer, mender int64) drive.KitRef {
	t.Helper()
	kit := ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 1, 4, sewer, nil)[0]
	_, err := s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 4}, dayIn(0))
	require.NoError(t, err)
	stacks, err := s.Stacks(t.Context(), "spring", drive.CaseSewn)
	require.NoError(t, err)
	_, err = s.CheckCases(t.Context(), s.fresh(), stacks[0].Stack, drive.Checked{Pins: true, Failed: []drive.Failed{{N: 4, To: drive.CaseToMend, Reasons: []string{"seam open"}}}})
	require.NoError(t, err)
	stacks, err = s.Stacks(t.Context(), "spring", drive.CaseToMend)
	require.NoError(t, err)
	_, err = s.SendToMend(t.Context(), s.fresh(), Mending{At: stacks[0].Stack, N: 4, Person: mender})
	require.NoError(t, err)
	_, err = s.KitLost(t.Context(), s.fresh(), kit, "on the bus", time.Time{})
	require.NoError(t, err)
	return kit
}

// What is lost on its way to be mended was sewn before: found or given again, it counts as sewn
// once, it is never handed out as if it were only cut, and each step is undone by itself.
func TestLostWhileItIsMended(t *testing.T) {
	s, a := wardOf(t, 20)
	bea, cy := addPerson(t, s, "Bea Lund"), addPerson(t, s, "Cy Moss")
	kit := lostMending(t, s, a, bea, cy)
	var err error
	stands := func(place drive.KitState, state drive.CaseState, what string) {
		t.Helper()
		page, err := s.Kit(t.Context(), "spring", kit)
		require.NoError(t, err)
		require.Equal(t, place, page.State, what)
		require.Equal(t, 4, page.Count(state), what)
		done := map[int64]int{bea: 4, cy: 0}
		for person, n := range done {
			got, err := s.DoneBy(t.Context(), "spring", person)
			require.NoError(t, err)
			require.Equal(t, n, got, "%s: sewn by person %d", what, person)
		}
		for _, p := range booksIn(t, s.Store, dayIn(0), dayIn(0)).People {
			require.Equal(t, done[p.Number], p.Sewn, "%s: sewn by %s in the books", what, p.Name)
		}
		agrees(t, s)
	}
	stands(drive.KitLost, drive.CaseLost, "lost")

	for _, n := range []int{0, 5} {
		_, err = s.KitFound(t.Context(), s.fresh(), kit, n, 0, time.Time{})
		require.Contains(t, apperr.Fields(err)["sewn"], "say how many turned up, 1 to 4, mended or not")
	}
	_, err = s.KitFound(t.Context(), s.fresh(), kit, 4, 0, time.Time{})
	require.NoError(t, err)
	stands(drive.KitBack, drive.CaseSewn, "found")
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), kit)
	require.NoError(t, err)
	stands(drive.KitLost, drive.CaseLost, "finding it undone")

	_, err = s.GiveAgain(t.Context(), s.fresh(), kit, drive.HandOut{Person: bea})
	require.NoError(t, err)
	stands(drive.KitOut, drive.CaseToMend, "given again")
	_, err = s.UndoHandOut(t.Context(), s.fresh(), []drive.KitRef{kit})
	require.NoError(t, err)
	stands(drive.KitLost, drive.CaseLost, "giving it again undone")
	_, err = s.GiveAgain(t.Context(), s.fresh(), kit, drive.HandOut{Person: cy})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{RestUnsewn: true}, dayIn(0))
	require.Contains(t, apperr.Fields(err), "rest", "nothing of it is unsewn")
	_, err = s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 4}, dayIn(0))
	require.NoError(t, err)
	stands(drive.KitBack, drive.CaseSewn, "taken back")
}

// A kit that was given on does not go back by undoing to somebody who was forgotten since.
func TestNotGivenBackToTheForgotten(t *testing.T) {
	s, a := wardOf(t, 20)
	bea, cy := addPerson(t, s, "Bea Lund"), addPerson(t, s, "Cy Moss")
	kit := ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 1, 4, bea, nil)[0]
	_, err := s.GiveAgain(t.Context(), s.fresh(), kit, drive.HandOut{Person: cy})
	require.NoError(t, err)
	_, err = s.ErasePerson(t.Context(), s.fresh(), bea)
	require.NoError(t, err)
	_, err = s.UndoHandOut(t.Context(), s.fresh(), []drive.KitRef{kit})
	require.ErrorContains(t, err, "is forgotten")
	page, err := s.Kit(t.Context(), "spring", kit)
	require.NoError(t, err)
	require.Equal(t, cy, *page.Holder)
	require.False(t, page.MayUndoOut, "what is refused is not offered")
}

// Nor does what was taken back from somebody who is forgotten; what they had lost and what turned up is lost again.
func TestTakingBackFromTheForgotten(t *testing.T) {
	s, a := wardOf(t, 20)
	bea := addPerson(t, s, "Bea Lund")
	kits := ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 3, 4, bea, nil)
	_, err := s.KitLost(t.Context(), s.fresh(), kits[2], "", time.Time{})
	require.NoError(t, err)
	for i, sewn := range []int{4, 4} {
		_, err := s.TakeBack(t.Context(), s.fresh(), kits[i], drive.KitReturn{Sewn: sewn}, dayIn(0))
		require.NoError(t, err)
	}
	_, err = s.KitFound(t.Context(), s.fresh(), kits[2], 4, 0, time.Time{})
	require.NoError(t, err)
	require.True(t, kit(t, s, kits[0]).MayUndo)
	undoable := func() (n int) {
		steps, err := s.CasesLately(t.Context(), "spring", 10)
		require.NoError(t, err)
		for _, step := range steps {
			if step.KitToUndo() != "" {
				n++
			}
		}
		return n
	}
	require.Equal(t, 3, undoable())
	_, err = s.ErasePerson(t.Context(), s.fresh(), bea)
	require.NoError(t, err)
	require.Equal(t, 1, undoable(), "the find alone")
	require.False(t, kit(t, s, kits[0]).MayUndo)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), kits[0])
	require.ErrorContains(t, err, "is forgotten")
	found := kit(t, s, kits[2])
	require.True(t, found.MayUndo && found.LostAgain)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), kits[2])
	require.NoError(t, err)
	agrees(t, s)
}

// What fails is kept by reason beside the entries it became; what is undone counts no more.
func TestFindingsAddUp(t *testing.T) {
	s, a := wardOf(t, 90)
	seams := []string{"seam open"}
	for i, name := range []string{"Bea Lund", "Cy Moss"} {
		kit := ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 1, 10, addPerson(t, s, name), nil)[0]
		_, err := s.TakeBack(t.Context(), s.fresh(), kit, drive.KitReturn{Sewn: 10}, dayIn(0))
		require.NoError(t, err)
		stacks, err := s.Stacks(t.Context(), "spring", drive.CaseSewn)
		require.NoError(t, err)
		_, err = s.CheckCases(t.Context(), s.fresh(), stacks[0].Stack, drive.Checked{Good: 7, Pins: true, Initials: "EN", Note: "left corner", Failed: []drive.Failed{
			{N: 2, To: drive.CaseToMend, Reasons: append(seams, "loose threads")}, {N: 1, To: drive.CaseNotUsable, Reasons: seams},
		}})
		require.NoError(t, err, "check %d", i)
	}
	since := dayIn(-drive.LessonDays)
	found, err := s.Findings(t.Context(), "spring", since)
	require.NoError(t, err)
	require.Equal(t, drive.Findings{Since: since, Of: 20, OfEver: 20, Faults: []drive.FaultFound{
		{Fault: "seam open", N: 6, Makers: 2, Ever: 6}, {Fault: "loose threads", N: 4, Makers: 2, Ever: 4},
	}}, found)
	d, err := s.Drive(t.Context(), "spring")
	require.NoError(t, err)
	lessons, err := s.Lessons(t.Context(), d)
	require.NoError(t, err)
	require.Len(t, lessons, 2)

	later, err := s.Findings(t.Context(), "spring", dayIn(1))
	require.NoError(t, err)
	require.Equal(t, []int{0, 20, 0, 6}, []int{later.Of, later.OfEver, later.Faults[0].N, later.Faults[0].Ever})

	steps, err := s.CasesLately(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Contains(t, steps[0].Words(), "not usable: seam open")
	require.Contains(t, steps[0].Words(), "left corner")
	_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[0].ID)
	require.NoError(t, err)
	found, err = s.Findings(t.Context(), "spring", since)
	require.NoError(t, err)
	require.Equal(t, []int{19, 5}, []int{found.Of, found.Faults[0].N})
}

// The drive's own list decides what may be ticked; two who change it at once: one is told.
func TestOwnCheckingList(t *testing.T) {
	s, a := wardOf(t, 20)
	list, err := s.CheckList(t.Context(), "spring")
	require.NoError(t, err)
	list.Points = append(list.Points, drive.CheckPoint{Kind: drive.CheckOwn, Look: "No scent", Fault: "smells of smoke"})
	_, err = s.UpdateCheckList(t.Context(), s.fresh(), list)
	require.NoError(t, err)
	_, err = s.UpdateCheckList(t.Context(), s.fresh(), list)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 2, Asked: a.Number})
	require.NoError(t, err)
	found := drive.Checked{Good: 1, Pins: true, Failed: []drive.Failed{{N: 1, To: drive.CaseNotUsable, Reasons: []string{"smells of smoke"}}}}
	_, err = s.CheckCases(t.Context(), s.fresh(), drive.Stack{Asked: a.Number, Size: a.Sizes[0]}, found)
	require.NoError(t, err)
}

// Who packs the last one wins; the other is told that somebody was first, and why.
func TestLastPillowcasePackedTwice(t *testing.T) {
	s, a := wardOf(t, 20)
	bringGood(t, s, a, 1)
	field := fmt.Sprintf("n.%d.%d", a.Number, a.Sizes[0])
	var wg sync.WaitGroup
	errs := make([]error, 2)
	for i := range errs {
		wg.Go(func() {
			_, errs[i] = s.PackBox(t.Context(), s.act(fmt.Sprintf("last-one-%d", i)), PackedBox{
				Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 1}},
			})
		})
	}
	wg.Wait()
	if errs[0] != nil {
		errs[0], errs[1] = errs[1], errs[0]
	}
	require.NoError(t, errs[0], "one of them packs it")
	require.Contains(t, apperr.Fields(errs[1])[field], "None of these waits for a box any more", "%v", errs[1])
	require.Equal(t, 1, line(t, s, a.Number).Counts[drive.CasePacked])
	agrees(t, s)
}

// A drive that launders: a batch holds what lies here once, follows what is promised
// later, and a tick in place of a wash is refused.
func TestLaunderBeforeTheBox(t *testing.T) {
	s, a := wardOf(t, 20)
	list, err := s.CheckList(t.Context(), "spring")
	require.NoError(t, err)
	list.Launders = true
	_, err = s.UpdateCheckList(t.Context(), s.fresh(), list)
	require.NoError(t, err)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 5})
	require.NoError(t, err)
	loose := drive.Stack{Size: a.Sizes[0]}
	_, err = s.CheckCases(t.Context(), s.fresh(), loose, drive.Checked{Good: 5, Pins: true})
	require.NoError(t, err)

	in := func(n int) Washing {
		return Washing{By: "EN", Lines: []drive.LaundryLine{{Size: a.Sizes[0], N: n}}}
	}
	field := drive.Washable{Size: a.Sizes[0]}.Field()
	_, err = s.StartBatch(t.Context(), s.fresh(), in(6))
	require.Contains(t, apperr.Fields(err)[field], "Only 5 of these")
	batch, err := s.StartBatch(t.Context(), s.fresh(), in(3))
	require.NoError(t, err)
	_, err = s.StartBatch(t.Context(), s.fresh(), in(3))
	require.Contains(t, apperr.Fields(err)[field], "Only 2 of these", "what is in the wash goes in once")
	_, err = s.FinishBatch(t.Context(), s.fresh(), batch, "EN", dayIn(1))
	require.Contains(t, apperr.Fields(err), "on", "that day has not come")
	_, err = s.FinishBatch(t.Context(), s.fresh(), batch, "EN", time.Time{})
	require.NoError(t, err)

	loose.State = drive.CaseGood
	_, err = s.Promise(t.Context(), s.fresh(), loose, 4, a.Number)
	require.NoError(t, err)
	here, err := s.Washables(t.Context(), "spring")
	require.NoError(t, err)
	clean := map[int64]int{}
	for _, w := range here {
		clean[w.Asked] = w.Clean()
	}
	require.Equal(t, map[int64]int{a.Number: 3, 0: 0}, clean, "those that are laundered go first")

	box := PackedBox{
		Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 4}},
		Rules: []drive.RuleKept{{Rule: drive.RuleLaundered, Kept: true}},
	}
	_, err = s.PackBox(t.Context(), s.fresh(), box)
	require.Contains(t, apperr.Fields(err)["rules"], "1 pillowcase of this box")
	box.Cases[0].N = 3
	number, err := s.PackBox(t.Context(), s.fresh(), box)
	require.NoError(t, err)
	box.Cases[0].N, box.Rules[0] = 1, drive.RuleKept{Rule: drive.RuleLaundered, Why: "the ward launders"}
	_, err = s.PackBox(t.Context(), s.fresh(), box)
	require.NoError(t, err)
	_, err = s.UndoBatch(t.Context(), s.fresh(), batch)
	require.ErrorContains(t, err, "3 pillowcases of it went on as laundered")
	_, err = s.UnpackBox(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	_, err = s.UndoBatch(t.Context(), s.fresh(), batch)
	require.NoError(t, err, "they are here again")
	rules, err := s.BoxRules(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, []drive.RuleKept{{Rule: drive.RuleLaundered, Kept: true}}, rules, "how it was closed stays told")
	agrees(t, s)
}
