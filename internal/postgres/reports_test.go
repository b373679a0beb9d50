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
