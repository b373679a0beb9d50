package postgres

import (
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Whoever was erased is erased again whatever stood with them on the day of the backup: kits, which
// come back as from anybody, and a drive that has no other organiser. Who has the number by now, and
// is another, stays.
func TestErasedAgain(t *testing.T) {
	s, person := somebodyWhoSews(t)
	boss := signsIn(t, s, "Zephyr Boss", "boss@example.org", account.Organiser, "spring")
	act := func(driveID string) drive.Act { return byCommand(s.actIn(driveID, s.fresh().Key)) }
	var given time.Time
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT created_at FROM people WHERE drive_id = 'spring' AND number = $1`, person).Scan(&given))
	later := given.Add(1000 * time.Hour)
	for why, other := range map[string]Erased{
		"given at another moment":       {Created: given.Add(-time.Hour), At: later},
		"given after it was erased":     {At: given.Add(-time.Microsecond)},
		"given later than what is here": {Created: given.Add(time.Hour), At: later},
	} {
		other.Kind, other.Drive, other.Number = ErasedPerson, "spring", person
		got, err := s.EraseAgain(t.Context(), act("spring"), other)
		require.NoError(t, err)
		require.Equal(t, ErasedAgain{Other: true}, got, why)
	}
	_, err := s.EraseAgain(t.Context(), act("spring"), Erased{Kind: ErasedPerson, Drive: "spring", Number: person, Created: given})
	require.Contains(t, apperr.Fields(err)["erased"], "When person 1 was erased is missing")
	require.NotEmpty(t, rowsWith(t, s, "zephyr is ill"))

	// Numbers and the very moment they were given at say who it is, also where a clock was put back since.
	back := signsIn(t, s, "Bo Back", "back@example.org", account.Desk, "spring")
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT created_at FROM accounts WHERE id = $1`, back.ID).Scan(&given))
	got, err := s.EraseAgain(t.Context(), act(""), Erased{Kind: ErasedAccount, Number: back.ID, Created: given, At: given.Add(-time.Hour)})
	require.NoError(t, err)
	require.True(t, got.Done)

	wish := act("spring")
	for range 2 {
		got, err := s.EraseAgain(t.Context(), wish, Erased{Kind: ErasedPerson, Drive: "spring", Number: person, At: later})
		require.NoError(t, err)
		require.Equal(t, ErasedAgain{Done: true, Here: true, Kits: []drive.KitRef{{Number: 1, Part: 1}}}, got)
	}
	got, err = s.EraseAgain(t.Context(), act(""), Erased{Kind: ErasedAccount, Number: boss.ID, At: later})
	require.NoError(t, err)
	require.Equal(t, ErasedAgain{Done: true, Here: true, NoOrganiser: []string{"spring"}}, got)
	require.Empty(t, rowsWith(t, s, "zephyr", zephyrPhone, "boss@"))
	agrees(t, s)
	for _, e := range []Erased{{Kind: ErasedPerson, Drive: "spring", Number: person, At: later}, {Kind: ErasedAccount, Number: boss.ID, At: later}} {
		got, err = s.EraseAgain(t.Context(), act(e.Drive), e)
		require.NoError(t, err)
		require.Equal(t, ErasedAgain{Here: true}, got, "erased already")
	}
	for _, e := range []Erased{{Kind: ErasedDonor, Drive: "nowhere", Number: 1, At: later}, {Kind: ErasedAccount, Number: 999, At: later}} {
		got, err = s.EraseAgain(t.Context(), act(e.Drive), e)
		require.NoError(t, err)
		require.Equal(t, ErasedAgain{}, got, "nobody has the number")
	}
	_, err = s.EraseAgain(t.Context(), act("spring"), Erased{Kind: "ward", Drive: "spring", Number: 1, At: later})
	require.NotEmpty(t, apperr.Fields(err)["kind"])

	// Who is due by several moments is settled by one of them, where it is known when the number was given.
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT created_at FROM people WHERE drive_id = 'spring' AND number = $1`, person).Scan(&given))
	due := []Erased{{Created: given, At: later}, {Created: given, At: later.Add(time.Hour)}, {Created: given.Add(-time.Hour), At: later}, {At: later}, {At: later.Add(time.Hour)}}
	for i := range due {
		due[i].Kind, due[i].Drive, due[i].Number = ErasedPerson, "spring", person
	}
	tx, err := s.db.Owner().Begin(t.Context())
	require.NoError(t, err)
	require.NoError(t, (&Filling{tx: tx}).StillToErase(t.Context(), due))
	require.NoError(t, tx.Commit(t.Context()))
	for _, c := range []struct {
		by   Erased
		left int
	}{{Erased{Created: given, At: later.Add(-time.Hour)}, 3}, {Erased{At: later}, 2}, {Erased{At: later.Add(-time.Hour)}, 2}, {due[4], 1}, {due[2], 0}} {
		c.by.Kind, c.by.Drive, c.by.Number = ErasedPerson, "spring", person
		_, err := s.EraseAgain(t.Context(), act("spring"), c.by)
		require.NoError(t, err)
		still, err := s.StillToErase(t.Context())
		require.NoError(t, err)
		require.Len(t, still, c.left, c.by)
	}

	list, err := s.Erased(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 3)
	require.Equal(t, []any{ErasedAccount, boss.ID, ErasedPerson, person}, []any{list[0].Kind, list[0].Number, list[2].Kind, list[2].Number})
	_, err = s.TakeBack(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, drive.KitReturn{Sewn: 1, RestUnsewn: true}, dayIn(0))
	require.NoError(t, err, "a kit comes back from who is erased")
	agrees(t, s)
}
