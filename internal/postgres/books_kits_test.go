package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"

	"github.com/stretchr/testify/require"
)

// Since when somebody has a kit is when they got it: another day that is agreed, or a part that is brought
// back, is an entry of its own and hands nothing out.
func TestBooksTellSinceWhenAKitIsWhereItIs(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary := addPerson(t, s, "Mary Ellis")
	due, later := dayIn(10), dayIn(20)
	longer := ownKits(t, s, z, 1, 4, mary, &due)[0]
	part := ownKits(t, s, z, 1, 4, mary, &due)[0]
	s.clock.forward(5 * 24 * time.Hour)
	_, err := s.ExtendDue(t.Context(), s.fresh(), []drive.KitRef{longer}, &later)
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), part, drive.KitReturn{Sewn: 1}, time.Time{})
	require.NoError(t, err)
	s.clock.forward(24 * time.Hour)

	since := func(last int) map[drive.KitRef]time.Time {
		days := map[drive.KitRef]time.Time{}
		for _, k := range booksIn(t, s.Store, dayIn(0), dayIn(last)).Kits {
			days[k.KitRef] = *k.Since
		}
		return days
	}
	stands := map[drive.KitRef]time.Time{}
	for _, k := range sinceOfKits(t, s) {
		stands[k.KitRef] = k.Since
	}
	require.Len(t, stands, 3, "what was brought back has a number of its own")
	require.Equal(t, dayIn(0), stands[longer], "with her since the day it was handed out")
	require.Equal(t, stands, since(6))
	require.Equal(t, map[drive.KitRef]time.Time{longer: dayIn(0), part: dayIn(0)}, since(4), "as it stood before")
}

// kitSince is since when a kit is where it is, by its own row.
type kitSince struct {
	drive.KitRef
	Since time.Time `db:"since"`
}

func sinceOfKits(t testing.TB, s *testStore) []kitSince {
	t.Helper()
	rows, err := s.pool.Query(t.Context(), `SELECT number, part, since FROM kits WHERE drive_id = 'spring' ORDER BY number, part`)
	require.NoError(t, err)
	list, err := collect(rows, "kits", pgx.RowToStructByName[kitSince])
	require.NoError(t, err)
	return list
}

// sinceAsTheKits holds the day since when each kit is where it is against the kit's own row.
func (b bookkeeper) sinceAsTheKits(books readBooks) {
	told, stands := map[drive.KitRef]string{}, map[drive.KitRef]string{}
	for _, k := range books.Kits {
		told[k.KitRef] = dayText(k.Since)
	}
	for _, k := range sinceOfKits(b.t, b.testStore) {
		stands[k.KitRef] = dayText(&k.Since)
	}
	require.Equal(b.t, stands, told)
}
