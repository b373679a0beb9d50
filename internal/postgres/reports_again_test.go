package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// saidOf is a kit of which its holder says something, while it goes about.
type saidOf struct {
	*testing.T
	s                  *testStore
	size               drive.Size
	mary, bo           int64
	due, later, latest time.Time
	ref                drive.KitRef
}

func newSaidOf(t *testing.T) *saidOf {
	s := newStore(t)
	startDrive(t, s)
	return &saidOf{
		T: t, s: s, size: addSize(t, s, "standard"), mary: addPerson(t, s, "Mary Ellis"), bo: addPerson(t, s, "Bo Lund"),
		due: dayIn(7), later: dayIn(20), latest: dayIn(30),
	}
}

// do goes on a minute after something was done.
func (k *saidOf) do(what string, err error) {
	k.Helper()
	require.NoError(k, err, what)
	k.s.clock.forward(time.Minute)
}

// begin makes the next kit, of six, with Mary, of which nothing is said.
func (k *saidOf) begin() {
	k.Helper()
	k.ref = ownKits(k.T, k.s, k.size, 1, 6, k.mary, &k.due)[0]
	k.s.clock.forward(time.Minute)
}

// beginSaid begins with three finished and another day asked for.
func (k *saidOf) beginSaid() {
	k.Helper()
	k.begin()
	k.say(drive.KitReport{Kind: drive.ReportFinished, Cases: 3})
	k.say(drive.KitReport{Kind: drive.ReportLonger, Until: &k.later})
	k.stands("at first", drive.ReportFinished, drive.ReportLonger)
}

func (k *saidOf) say(r drive.KitReport) {
	k.Helper()
	k.sayBy(k.mary, r)
}

func (k *saidOf) sayBy(person int64, r drive.KitReport) {
	k.Helper()
	r.KitRef, r.Person = k.ref, person
	_, err := k.s.ReportKit(k.Context(), k.s.fresh(), r)
	k.do("report", err)
}

func (k *saidOf) back(sewn int, rest bool) drive.KitRef {
	k.Helper()
	taken, err := k.s.TakeBack(k.Context(), k.s.fresh(), k.ref, drive.KitReturn{Sewn: sewn, RestUnsewn: rest}, time.Time{})
	k.do("take back", err)
	if taken.Back == nil {
		return k.ref
	}
	return *taken.Back
}

func (k *saidOf) undo(part drive.KitRef) {
	k.Helper()
	_, err := k.s.UndoTakeBack(k.Context(), k.s.fresh(), part)
	k.do("undo", err)
}

func (k *saidOf) split() drive.KitRef {
	k.Helper()
	split, err := k.s.SplitKit(k.Context(), k.s.fresh(), k.ref, 2, k.bo, nil)
	k.do("split", err)
	return split.Part
}

func (k *saidOf) undoSplit(part drive.KitRef) {
	k.Helper()
	_, err := k.s.UndoSplitKit(k.Context(), k.s.fresh(), part)
	k.do("undo the split", err)
}

func (k *saidOf) give() {
	k.Helper()
	_, err := k.s.GiveAgain(k.Context(), k.s.fresh(), k.ref, drive.HandOut{Person: k.bo})
	k.do("give again", err)
}

func (k *saidOf) undoGiving() {
	k.Helper()
	_, err := k.s.UndoHandOut(k.Context(), k.s.fresh(), []drive.KitRef{k.ref})
	k.do("undo giving", err)
}

// takeBackSaid ends the last thing that Mary said, by her.
func (k *saidOf) takeBackSaid() {
	k.Helper()
	said, err := k.s.ReportsOf(k.Context(), "spring", k.mary, k.ref.Number)
	require.NoError(k, err)
	list := said[k.ref]
	_, err = k.s.EndReport(k.Context(), k.s.fresh(), list[len(list)-1].Report, k.mary)
	k.do("taken back by her", err)
}

// stands says what Mary said of the kit and still stands.
func (k *saidOf) stands(why string, kinds ...drive.ReportKind) {
	k.Helper()
	said, err := k.s.ReportsOf(k.Context(), "spring", 0, k.ref.Number)
	require.NoError(k, err)
	var found []drive.ReportKind
	for _, r := range said[k.ref] {
		require.Equal(k, k.mary, r.Person, why)
		found = append(found, r.Kind)
	}
	require.Equal(k, kinds, found, why)
	agrees(k.T, k.s)
}

// What a holder said of a kit stands again once the move by which it ended is undone as a mistake, but for what
// they said since of the same kind; what was answered, or ended by a move that stands, stays so.
func TestWhatWasSaidStandsAgain(t *testing.T) {
	k := newSaidOf(t)
	for _, c := range []struct {
		sewn int
		rest bool
	}{{6, false}, {0, true}, {2, false}, {2, true}} {
		k.beginSaid()
		part := k.back(c.sewn, c.rest)
		k.stands("it came back")
		k.undo(part)
		k.stands("it did not", drive.ReportFinished, drive.ReportLonger)
	}

	k.beginSaid()
	k.give()
	k.stands("it is with somebody else")
	k.undoGiving()
	k.stands("it is not", drive.ReportFinished, drive.ReportLonger)

	part := k.split()
	k.stands("some are with somebody else")
	k.undoSplit(part)
	k.stands("they are not", drive.ReportFinished, drive.ReportLonger)

	// Another day answers what was asked; that the kit came back by mistake asks it no second time.
	_, err := k.s.ExtendDue(t.Context(), k.s.fresh(), []drive.KitRef{k.ref}, &k.later)
	k.do("another day", err)
	k.stands("answered", drive.ReportFinished)
	k.undo(k.back(6, false))
	k.stands("answered still", drive.ReportFinished)

	// A part that came back for good, and one by mistake.
	k.beginSaid()
	k.back(2, false)
	k.say(drive.KitReport{Kind: drive.ReportLonger, Until: &k.latest})
	k.undo(k.back(1, false))
	k.stands("what was said of six is nothing said of four", drive.ReportLonger)

	// What was said since, and taken back since, counts.
	k.beginSaid()
	part = k.back(2, false)
	k.say(drive.KitReport{Kind: drive.ReportLonger, Until: &k.latest})
	k.takeBackSaid()
	k.undo(part)
	k.stands("she needs no longer after all", drive.ReportFinished)

	// What somebody else said meanwhile is nothing that she said.
	k.beginSaid()
	k.give()
	k.sayBy(k.bo, drive.KitReport{Kind: drive.ReportFinished, Cases: 1})
	k.sayBy(k.bo, drive.KitReport{Kind: drive.ReportCannot})
	k.undoGiving()
	k.stands("with her again", drive.ReportFinished, drive.ReportLonger)
}

// What a holder says between a step and its undoing is said of a kit that they have before and after: it stands,
// and nothing older of its kind comes back in its place.
func TestWhatIsSaidBeforeAnUndoingStands(t *testing.T) {
	k := newSaidOf(t)
	cannot, longer := drive.KitReport{Kind: drive.ReportCannot}, drive.KitReport{Kind: drive.ReportLonger, Until: &k.latest}
	for _, said := range []drive.KitReport{cannot, longer, {Kind: drive.ReportFinished, Cases: 1}} {
		k.begin()
		part := k.back(2, false)
		k.say(said)
		k.stands("of four", said.Kind)
		k.undo(part)
		k.stands("of six", said.Kind)

		part = k.split()
		k.stands("some are with somebody else")
		k.say(said)
		k.undoSplit(part)
		k.stands("they are not", said.Kind)
	}

	k.beginSaid()
	part := k.back(2, false)
	k.say(drive.KitReport{Kind: drive.ReportFinished, Cases: 1})
	k.say(cannot)
	k.undo(part)
	k.stands("what was said last", drive.ReportFinished, drive.ReportCannot)
	said, err := k.s.ReportsOf(t.Context(), "spring", k.mary, k.ref.Number)
	require.NoError(t, err)
	require.Equal(t, 1, said[k.ref][0].Done)
}

// Several takings back are undone in any order: what was said before them stands again once none of them is left,
// and what was said between two of them once the later is undone.
func TestWhatWasSaidBeforeSeveralStepsStandsAgain(t *testing.T) {
	k := newSaidOf(t)
	for _, oldestFirst := range []bool{false, true} {
		k.beginSaid()
		first, second := k.back(2, false), k.back(1, false)
		if oldestFirst {
			first, second = second, first
		}
		k.undo(second)
		k.stands("one of them did come back")
		k.undo(first)
		k.stands("none of them did", drive.ReportFinished, drive.ReportLonger)
	}

	k.beginSaid()
	first := k.back(2, false)
	k.say(drive.KitReport{Kind: drive.ReportCannot})
	second := k.back(1, false)
	k.undo(second)
	k.stands("said of four", drive.ReportCannot)
	k.undo(first)
	k.stands("said of six too, and she needs no longer", drive.ReportFinished, drive.ReportCannot)

	// What stands between keeps what was said before it ended.
	k.beginSaid()
	first = k.back(2, false)
	k.give()
	k.undoGiving()
	_, err := k.s.ExtendDue(t.Context(), k.s.fresh(), []drive.KitRef{k.ref}, &k.later)
	k.do("another day", err)
	k.undo(first)
	k.stands("the day was answered", drive.ReportFinished)
}
