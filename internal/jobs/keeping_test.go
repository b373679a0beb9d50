package jobs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/task"
)

// The job that forgets what is past its time does so through the queue: people, what they
// wrote, initials, and photos and notes of cloth that is gone; and tells it in the trail.
func TestTheKeepingJobForgets(t *testing.T) {
	h := newHouse(t)
	long := time.Now().AddDate(0, -5, 0)
	old := postgres.New(h.db.Pool, func() time.Time { return long })
	act := func(key string) drive.Act {
		a := h.act(key)
		a.At = long
		return a
	}
	day := drive.Day(long, time.UTC)
	_, err := old.CreatePerson(t.Context(), act("person"), drive.Person{Kind: drive.PersonVolunteer, Name: "Quokka", Heads: 1}, nil)
	require.NoError(t, err)
	lots, err := old.TagLots(t.Context(), act("lot"), []drive.Tagging{{Donor: "Quokka & Sons", Pieces: 1, ReceivedOn: day, Note: "quokka wants the box back"}})
	require.NoError(t, err)
	hash, err := old.KeepPhoto(t.Context(), "spring", postgres.Photo{Full: []byte("quokka"), Small: []byte("quokka"), Width: 4, Height: 3})
	require.NoError(t, err)
	lot := lots.Numbers[0]
	_, err = old.SetLotPhoto(t.Context(), act("photo"), lot, hash)
	require.NoError(t, err)
	_, err = old.SetAside(t.Context(), act("aside"), lot, "mildew")
	require.NoError(t, err)
	_, err = old.BringIn(t.Context(), act("bring"), drive.BroughtIn{Size: 1, N: 2, Asked: 1, Note: "quokka sewed late"})
	require.NoError(t, err)
	_, err = old.CheckCases(t.Context(), act("check"), drive.Stack{Asked: 1, Size: 1}, drive.Checked{Good: 2, Pins: true, Initials: "QKA"})
	require.NoError(t, err)
	months := 3
	_, err = h.UpdateKeeping(t.Context(), h.act("keeping"), drive.Keeping{People: &months, Donors: &months, Writing: &months, Initials: &months, Things: &months})
	require.NoError(t, err)
	left := func() (n int) {
		const q = `SELECT (SELECT count(*) FROM people WHERE erased_at IS NULL) + (SELECT count(*) FROM donors WHERE erased_at IS NULL)
			+ (SELECT count(*) FROM case_notes WHERE note <> '') + (SELECT count(*) FROM checks WHERE initials <> '') + (SELECT count(*) FROM lots WHERE note <> '' OR photo IS NOT NULL)
			+ (SELECT count(*) FROM photos)`
		require.NoError(t, h.db.Pool.QueryRow(t.Context(), q).Scan(&n))
		return n
	}
	require.Equal(t, 6, left())
	h.work(t, plain)
	require.Eventually(t, func() bool { return left() <= 1 }, 30*time.Second, 10*time.Millisecond, "the job runs when work begins")
	const done = `SELECT count(*) FROM river.river_job WHERE kind = $1 AND state = 'completed'`
	require.Eventually(t, func() bool {
		var n int
		require.NoError(t, h.db.Owner().QueryRow(t.Context(), done, task.Keeping{}.Kind()).Scan(&n))
		return n > 0
	}, 30*time.Second, 10*time.Millisecond)
	// A photo that no lot has any more goes with the next tidying.
	_, err = h.ForgetPhotos(t.Context())
	require.NoError(t, err)
	require.Zero(t, left())
	const told = `SELECT count(*) FROM audit WHERE request = 'keeping'`
	var n int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), told).Scan(&n))
	require.Equal(t, 5, n, "each is in the trail")
}
