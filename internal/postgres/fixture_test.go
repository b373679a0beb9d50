package postgres

import (
	"fmt"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// noon is the moment at which tests begin: a Saturday, the same day in every zone used here.
var noon = time.Date(2026, time.October, 3, 12, 0, 0, 0, time.UTC)

// clock is a store's clock that a test may move.
type clock struct{ now time.Time }

// forward moves the clock and gives the new moment.
func (c *clock) forward(d time.Duration) time.Time {
	c.now = c.now.Add(d)
	return c.now
}

// testStore is a store over a fresh database of its own, with the clock at noon.
type testStore struct {
	*Store
	db    *pgtest.DB
	clock *clock
	acts  int
}

// newStore gives a store with no drive in it yet.
func newStore(t testing.TB) *testStore {
	t.Helper()
	db, c := pgtest.New(t), &clock{noon}
	return &testStore{Store: New(db.Pool, func() time.Time { return c.now }), db: db, clock: c}
}

// actIn gives an act of account 1 in a drive, now, under this key.
func (s *testStore) actIn(driveID, key string) drive.Act {
	return drive.Act{Drive: driveID, Who: 1, Key: "test-key-" + key, At: s.clock.now, Request: "test"}
}

// byCommand gives the act as the command line does it, which may let others in.
func byCommand(act drive.Act) drive.Act {
	act.Who = 0
	return act
}

// act gives an act in the drive "spring" under this key.
func (s *testStore) act(key string) drive.Act { return s.actIn("spring", key) }

// fresh gives an act in the drive "spring" under a key that was not used before.
func (s *testStore) fresh() drive.Act {
	s.acts++
	return s.act(fmt.Sprintf("fresh-%d", s.acts))
}

// startDrive starts the drive "spring": inches, Dublin time, fabric washed first, kits of four.
func startDrive(t testing.TB, s *testStore) drive.Drive {
	t.Helper()
	return startDriveAs(t, s, "spring")
}

// startDriveAs starts another drive, as for what belongs to somebody else.
func startDriveAs(t testing.TB, s *testStore, id string) drive.Drive {
	t.Helper()
	act := drive.Act{Key: "start-" + id, At: s.clock.now, Request: "test"}
	d, err := s.CreateDrive(t.Context(), act, drive.NewDrive(id, "Drive "+id, "Europe/Dublin", length.In))
	require.NoError(t, err)
	return d
}

// addSize adds the built-in size of this name to the drive "spring": body, cuff and accent.
func addSize(t testing.TB, s *testStore, name string) drive.Size {
	t.Helper()
	z, err := s.CreateSize(t.Context(), s.fresh(), builtIn(t, name))
	require.NoError(t, err)
	return z
}

// builtIn is the built-in size of this name, not added yet.
func builtIn(t testing.TB, name string) drive.Size {
	t.Helper()
	built, ok := sizing.CaseNamed(name)
	require.True(t, ok, "a built-in size named %q", name)
	return drive.Size{Name: built.Name, Spec: built.Spec}
}

// addRecipient adds a ward of this name to the drive "spring".
func addRecipient(t testing.TB, s *testStore, name string) drive.Recipient {
	t.Helper()
	r, err := s.CreateRecipient(t.Context(), s.fresh(), drive.Recipient{Kind: drive.RecipientWard, Name: name})
	require.NoError(t, err)
	return r
}

// addAsked has a recipient ask for pillowcases of one size, due in four weeks.
func addAsked(t testing.TB, s *testStore, r drive.Recipient, z drive.Size, wanted int) drive.Asked {
	t.Helper()
	due := drive.Day(s.clock.now.AddDate(0, 0, 28), time.UTC)
	a, err := s.CreateAsked(t.Context(), s.fresh(), drive.Asked{
		Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: wanted, Due: &due, Matter: drive.MatterShould,
	})
	require.NoError(t, err)
	return a
}

// line gives one line asked for in the drive "spring" with its counts.
func line(t testing.TB, s *testStore, number int64) drive.AskedLine {
	t.Helper()
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	for _, l := range lines {
		if l.Number == number {
			return l
		}
	}
	require.Failf(t, "no such line", "line %d is not among %d", number, len(lines))
	return drive.AskedLine{}
}
