package postgres

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// fullShelf is a drive with this many measured lots, one in six of two pieces, and
// some that wait.
func fullShelf(t testing.TB, lots int) *testStore {
	t.Helper()
	s := newStore(t)
	startDrive(t, s)
	_, err := s.db.Owner().Exec(t.Context(), `INSERT INTO donors (drive_id, number, name, created_at) SELECT 'spring', n, 'Donor ' || n, now() FROM generate_series(1, 300) n`)
	require.NoError(t, err)
	const lay = `INSERT INTO lots (drive_id, number, donor, tag, received_on, shelf, kind, fibre, weight, washed, print, colours, themes, raw_length, raw_width, created_at, measured_at)
		SELECT 'spring', n, 1 + n % 300, 'T' || n, '2026-10-01', chr(65 + n % 20) || n % 9, 'bolt end', (ARRAY['cotton', 'linen', 'poly-cotton'])[1 + n % 3],
			(ARRAY['quilting', 'flannel'])[1 + n % 2], true, (ARRAY['solid', 'tonal', 'feature'])[1 + n % 3],
			ARRAY[(ARRAY['navy', 'white', 'red', 'green', 'yellow'])[1 + n % 5]], ARRAY['space'], 1000, 1000, now(), CASE WHEN n % 10 > 0 THEN now() END
		FROM generate_series(1, $1::int) n`
	_, err = s.db.Owner().Exec(t.Context(), lay, lots)
	require.NoError(t, err)
	const pieces = `INSERT INTO pieces (drive_id, lot, piece, kind, width)
		SELECT 'spring', n, p, 'whole', 40640 * 42 FROM generate_series(1, $1::int) n, generate_series(1, 2) p WHERE n % 10 > 0 AND (p = 1 OR n % 6 = 0)`
	_, err = s.db.Owner().Exec(t.Context(), pieces, lots)
	require.NoError(t, err)
	const entries = `INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		SELECT drive_id, lot, piece, 'measured', 'outside', 'free', 40640 * (20 + lot % 150), 40640 * (20 + lot % 150) * width, now(), 1 FROM pieces`
	_, err = s.db.Owner().Exec(t.Context(), entries)
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), `ANALYZE`)
	require.NoError(t, err)
	return s
}

// A page of the shelf with 10,000 lots on it: the first, a later one, a search, and
// sorted by what is free.
func BenchmarkShelf(b *testing.B) {
	s := fullShelf(b, 10_000)
	for _, q := range []struct {
		name string
		q    LotsQuery
	}{
		{"first page", LotsQuery{Limit: 50}},
		{"page 100", LotsQuery{Limit: 50, Offset: 5000}},
		{"search", LotsQuery{Q: "donor 17", Limit: 50}},
		{"by what is free", LotsQuery{Sort: "free", Desc: true, Limit: 50}},
	} {
		b.Run(q.name, func(b *testing.B) {
			for b.Loop() {
				list, err := s.Lots(b.Context(), "spring", q.q)
				require.NoError(b, err)
				require.NotEmpty(b, list.Lots)
			}
		})
	}
}

// The sums beside a page are those of the lots it lists, in every state and order, also where
// only some of them are shown.
func TestSumsOfTheShelfAreThoseOfItsLots(t *testing.T) {
	t.Parallel()
	s := fullShelf(t, 60)
	for _, q := range []string{
		`INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
			SELECT drive_id, lot, piece, 'promised', 'free', 'promised', free_length, free, now(), 1 FROM pieces WHERE lot % 7 = 0`,
		`UPDATE lots SET set_aside = 'sent back' WHERE number % 11 = 0`,
		`UPDATE lots SET measured_at = now() WHERE number = 10`, // of no piece
	} {
		_, err := s.db.Owner().Exec(t.Context(), q)
		require.NoError(t, err, q)
	}
	seen := map[int64]bool{}
	for _, state := range []LotsState{LotsHere, LotsWaiting, LotsFree, LotsLeft, LotsAside, LotsUsed, LotsAll} {
		for _, sort := range []string{"number", "tag", "donor", "received", "kind", "width", "free", "shelf"} {
			for _, find := range []string{"", "linen", "donor 2", "17"} {
				q := LotsQuery{State: state, Sort: sort, Q: find}
				whole, err := s.Lots(t.Context(), "spring", q)
				require.NoError(t, err)
				sum := LotsList{Lots: whole.Lots}
				for _, l := range whole.Lots {
					seen[l.Number] = true
					sum.Total++
					if !l.Measured() {
						sum.Waiting++
					}
					sum.Pieces, sum.Free, sum.Promised = sum.Pieces+l.Pieces, sum.Free+l.Free, sum.Promised+l.Promised
				}
				require.Equal(t, sum, whole, "%+v", q)
				q.Limit, q.Offset, q.Desc = 5, 2, true
				part, err := s.Lots(t.Context(), "spring", q)
				require.NoError(t, err)
				require.Len(t, part.Lots, max(0, min(5, whole.Total-2)), "%+v", q)
				if len(part.Lots) > 0 {
					require.Equal(t, whole.Total, part.Total, "%+v", q)
				}
			}
		}
	}
	require.Len(t, seen, 60)
}
