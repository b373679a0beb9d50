package postgres

import (
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// What holders say and where kits go may cross: whatever comes first, no report
// stands for a kit that is not with whoever said it, and one of a kind at most.
func TestReportsAndReturnsAtOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, mary, bo := addSize(t, s, "standard"), addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	due := dayIn(7)
	for range 8 {
		ref := ownKits(t, s, z, 1, 6, mary, &due)[0]
		var wg sync.WaitGroup
		do := func(f func() error) {
			wg.Go(func() {
				err := f()
				require.True(t, err == nil || apperr.Is(err, apperr.KindConflict) || apperr.Fields(err) != nil, "%v", err)
			})
		}
		for i := range 4 {
			act := s.fresh()
			do(func() error {
				_, err := s.ReportKit(t.Context(), act, drive.KitReport{KitRef: ref, Person: mary, Kind: drive.ReportFinished, Cases: i + 1})
				return err
			})
		}
		act, back := s.fresh(), s.fresh()
		do(func() error {
			_, err := s.GiveAgain(t.Context(), act, ref, drive.HandOut{Person: bo, Due: &due})
			return err
		})
		do(func() error {
			_, err := s.TakeBack(t.Context(), back, ref, drive.KitReturn{Sewn: 2}, time.Time{})
			return err
		})
		wg.Wait()
		const q = `SELECT count(*) FILTER (WHERE k.state <> 'out' OR k.holder <> r.person), count(*)
			FROM kit_reports r JOIN kits k ON k.drive_id = r.drive_id AND k.number = r.kit AND k.part = r.part
			WHERE r.drive_id = 'spring' AND r.kit = $1 AND r.ended_at IS NULL`
		var stray, standing int
		require.NoError(t, s.db.Pool.QueryRow(t.Context(), q, ref.Number).Scan(&stray, &standing))
		require.Zero(t, stray, "reports that stand for a kit that moved")
		require.LessOrEqual(t, standing, 1)
	}
	agrees(t, s)
}

// What a holder said of a kit stands again once the move by which it ended is undone as a mistake, but for what
// they said since of the same kind; what was answered, or ended by a move that stands, stays so.
func TestWhatWasSaidStandsAgain(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, mary, bo := addSize(t, s, "standard"), addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	due, later, latest := dayIn(7), dayIn(20), dayIn(30)
	var ref drive.KitRef
	do := func(what string, err error) {
		t.Helper()
		require.NoError(t, err, what)
		s.clock.forward(time.Minute)
	}
	say := func(r drive.KitReport) {
		t.Helper()
		r.KitRef, r.Person = ref, mary
		_, err := s.ReportKit(t.Context(), s.fresh(), r)
		do("report", err)
	}
	back := func(sewn int, rest bool) drive.KitRef {
		t.Helper()
		taken, err := s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: sewn, RestUnsewn: rest}, time.Time{})
		do("take back", err)
		if taken.Back == nil {
			return ref
		}
		return *taken.Back
	}
	undo := func(part drive.KitRef) {
		t.Helper()
		_, err := s.UndoTakeBack(t.Context(), s.fresh(), part)
		do("undo", err)
	}
	stands := func(why string, kinds ...drive.ReportKind) {
		t.Helper()
		said, err := s.ReportsOf(t.Context(), "spring", 0, ref.Number)
		require.NoError(t, err)
		var found []drive.ReportKind
		for _, r := range said[ref] {
			require.Equal(t, mary, r.Person, why)
			found = append(found, r.Kind)
		}
		require.Equal(t, kinds, found, why)
		agrees(t, s)
	}
	begin := func() {
		t.Helper()
		ref = ownKits(t, s, z, 1, 6, mary, &due)[0]
		s.clock.forward(time.Minute)
		say(drive.KitReport{Kind: drive.ReportFinished, Cases: 3})
		say(drive.KitReport{Kind: drive.ReportLonger, Until: &later})
		stands("at first", drive.ReportFinished, drive.ReportLonger)
	}

	for _, c := range []struct {
		sewn int
		rest bool
	}{{6, false}, {0, true}, {2, false}, {2, true}} {
		begin()
		part := back(c.sewn, c.rest)
		stands("it came back")
		undo(part)
		stands("it did not", drive.ReportFinished, drive.ReportLonger)
	}

	begin()
	_, err := s.GiveAgain(t.Context(), s.fresh(), ref, drive.HandOut{Person: bo})
	do("give again", err)
	stands("it is with somebody else")
	_, err = s.UndoHandOut(t.Context(), s.fresh(), []drive.KitRef{ref})
	do("undo giving", err)
	stands("it is not", drive.ReportFinished, drive.ReportLonger)

	split, err := s.SplitKit(t.Context(), s.fresh(), ref, 2, bo, nil)
	do("split", err)
	stands("some are with somebody else")
	_, err = s.UndoSplitKit(t.Context(), s.fresh(), split.Part)
	do("undo the split", err)
	stands("they are not", drive.ReportFinished, drive.ReportLonger)

	// Another day answers what was asked; that the kit came back by mistake asks it no second time.
	_, err = s.ExtendDue(t.Context(), s.fresh(), []drive.KitRef{ref}, &later)
	do("another day", err)
	stands("answered", drive.ReportFinished)
	undo(back(6, false))
	stands("answered still", drive.ReportFinished)

	// A part that came back for good, and one by mistake.
	begin()
	back(2, false)
	say(drive.KitReport{Kind: drive.ReportLonger, Until: &latest})
	undo(back(1, false))
	stands("what was said of six is nothing said of four", drive.ReportLonger)

	// What was said since, and taken back since, counts.
	begin()
	part := back(2, false)
	say(drive.KitReport{Kind: drive.ReportLonger, Until: &latest})
	said, err := s.ReportsOf(t.Context(), "spring", mary, ref.Number)
	require.NoError(t, err)
	_, err = s.EndReport(t.Context(), s.fresh(), said[ref][0].Report, mary)
	do("taken back by her", err)
	undo(part)
	stands("she needs no longer after all", drive.ReportFinished)
}

func TestOneLinkAPerson(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	mary := addPerson(t, s, "Mary Ellis")
	ids := make([]string, 20)
	var wg sync.WaitGroup
	for i := range ids {
		act := s.fresh()
		wg.Go(func() {
			var err error
			ids[i], err = s.PersonLink(t.Context(), act, mary, false)
			require.NoError(t, err)
		})
	}
	wg.Wait()
	for _, id := range ids {
		require.Equal(t, ids[0], id, "everybody who asks at once gets the same link")
	}
	_, err := s.PersonLink(t.Context(), s.fresh(), 99, false)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
	guest, err := s.PersonByLink(t.Context(), ids[0])
	require.NoError(t, err)
	require.Equal(t, mary, guest.Person.Number)
	ended, err := s.EndPersonLink(t.Context(), s.fresh(), mary)
	require.NoError(t, err)
	require.True(t, ended)
	_, err = s.PersonByLink(t.Context(), ids[0])
	require.True(t, apperr.Is(err, apperr.KindNotFound))
}
