package migrations_test

import (
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"boltward/migrations"
)

// Of "longer" and "cannot" that stand together of one kit the later stays; what is finished stays beside either, and
// so does what is said of another kit or ended already.
func TestOfWhatWasSaidTheLastStands(t *testing.T) {
	db, do := databaseBefore(t, 103)
	do(`INSERT INTO drives (id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, created_at) VALUES ('spring', 'Spring', 'Europe/Dublin', 'in', 'washed first', 4, 5, 1000, 1000, now())`)
	do(`INSERT INTO people (drive_id, number, kind, name, created_at) VALUES ('spring', 1, 'volunteer', 'Mary Ellis', now())`)
	do(`INSERT INTO sizes (drive_id, number, name, spec, created_at) VALUES ('spring', 1, 'Standard', '{}', now())`)
	for part := range 3 {
		do(`INSERT INTO kits (drive_id, number, part, size, created_at) VALUES ('spring', 1, $1, 1, now())`, part+1)
	}
	reports := []struct {
		part        int
		kind, ended string
		stillStands bool
	}{
		{1, "longer", "", false},
		{1, "finished", "", true},
		{1, "cannot", "", true},
		{2, "cannot", "", false},
		{2, "longer", "", true},
		{3, "longer", "", true},
		{3, "cannot", "taken back", false},
	}
	for _, r := range reports {
		do(`INSERT INTO kit_reports (drive_id, kit, part, person, kind, cases, until, at, ended, ended_at) VALUES ('spring', 1, $1, 1, $2,
			CASE WHEN $2 = 'finished' THEN 2 END, CASE WHEN $2 = 'longer' THEN date '2026-04-01' END, now(), $3, CASE WHEN $3 <> '' THEN now() END)`, r.part, r.kind, r.ended)
	}
	require.NoError(t, migrations.Migrate(t.Context(), db.Owner()))
	rows, err := db.Owner().Query(t.Context(), `SELECT ended FROM kit_reports ORDER BY number`)
	require.NoError(t, err)
	ended, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	for i, r := range reports {
		want := r.ended
		if !r.stillStands && want == "" {
			want = "replaced"
		}
		require.Equal(t, want, ended[i], "%d, %s", r.part, r.kind)
	}
}
