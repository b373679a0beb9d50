package postgres

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkLotsJustBroughtIn lists 8,000 lots that Postgres takes for none yet: it looked
// at the tables while they were being brought in.
func BenchmarkLotsJustBroughtIn(b *testing.B) {
	s := newStore(b)
	startDrive(b, s)
	const lots = `INSERT INTO lots (drive_id, number, received_on, created_at, measured_at, fibre, weight, print, colours) SELECT 'spring', i, '2026-03-01', now(), now(), 'cotton', 'quilting', 'solid', '{white}' FROM generate_series(1, 8000) i`
	const pieces = `INSERT INTO pieces (drive_id, lot, piece, kind, width, free_length, free, received) SELECT 'spring', i, 1, 'whole', 1600000, 1000, 1600000000, 1600000000 FROM generate_series(1, 8000) i`
	for _, q := range []string{
		`ALTER TABLE pieces SET (autovacuum_enabled = false)`, `ALTER TABLE lots SET (autovacuum_enabled = false)`,
		lots, pieces, `DELETE FROM pieces`, `DELETE FROM lots`, `ANALYZE lots`, `ANALYZE pieces`, lots, pieces,
	} {
		_, err := s.db.Owner().Exec(b.Context(), q)
		require.NoError(b, err, q)
	}
	b.Run("shelf", func(b *testing.B) {
		for b.Loop() {
			found, err := s.Lots(b.Context(), "spring", LotsQuery{State: LotsAll, Limit: 50})
			require.NoError(b, err)
			require.Equal(b, 8000, found.Total)
		}
	})
	b.Run("labels", func(b *testing.B) {
		for b.Loop() {
			due, err := s.LabelsDue(b.Context(), "spring")
			require.NoError(b, err)
			require.Equal(b, 8000, due.Missing)
		}
	})
}
