package migrations_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/migrations"
)

// What pages kept as one word before lists were read in one way goes apart as it would be read now; what was
// apart stays as it is.
func TestKeptWordsGoApart(t *testing.T) {
	db, do := databaseBefore(t, 101)
	do(`INSERT INTO drives (id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, created_at) VALUES ('spring', 'Spring', 'Europe/Dublin', 'in', 'washed first', 4, 5, 1000, 1000, now())`)
	do(`INSERT INTO recipients (drive_id, number, name, kind, created_at) VALUES ('spring', 1, 'Ward 4', 'ward', now())`)
	words := []struct{ kept, lot, line []string }{
		{[]string{"black and white", "navy"}, []string{"black", "navy", "white"}, []string{"black", "white", "navy"}},
		{[]string{"candy", "sand"}, []string{"candy", "sand"}, []string{"candy", "sand"}},
		{[]string{"black and white", "red/gold", "white"}, []string{"black", "gold", "red", "white"}, []string{"black", "white", "red", "gold"}},
		{[]string{"gray + linen", "grey"}, []string{"grey", "natural linen"}, []string{"gray", "linen", "grey"}},
		{[]string{}, []string{}, []string{}},
		{[]string{"and"}, []string{"and"}, []string{"and"}}, // a word of its own, which nobody meant as a list
	}
	for i, w := range words {
		do(`INSERT INTO lots (drive_id, number, received_on, created_at, colours, themes) VALUES ('spring', $1, '2026-03-01', now(), $2, '{trucks & cars}')`, i+1, w.kept)
		do(`INSERT INTO asked (drive_id, number, recipient, wanted, matter, weight, themes_wanted, themes_avoid, created_at) VALUES ('spring', $1, 1, 1, 'must', 1, '{}', $2, now())`, i+1, w.kept)
	}
	do(`INSERT INTO asked (drive_id, number, recipient, wanted, matter, weight, themes_wanted, themes_avoid, created_at) VALUES ('spring', 50, 1, 1, 'must', 1, '{black and white}', '{white}', now()), ('spring', 51, 1, 1, 'must', 1, '{dogs}', '{cats and dogs,"farm"}', now())`)
	require.NoError(t, migrations.Migrate(t.Context(), db.Owner()))
	var told int
	require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM audit`).Scan(&told))
	require.Zero(t, told, "the trail tells what people did, and a migration is nobody's act")
	for i, w := range words {
		var colours, avoid []string
		require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT l.colours, a.themes_avoid FROM lots l JOIN asked a USING (drive_id, number) WHERE l.number = $1`, i+1).Scan(&colours, &avoid))
		require.Equal(t, w.lot, colours, "%q", w.kept)
		require.Equal(t, w.line, avoid, "%q", w.kept)
		require.Equal(t, w.lot, drive.Make{Colours: w.line}.Tidy().Colours, "as the program keeps them")
	}
	var themes, wanted []string
	require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT l.themes, a.themes_wanted FROM lots l, asked a WHERE l.number = 2 AND a.number = 50`).Scan(&themes, &wanted))
	require.Equal(t, []string{"trucks", "cars"}, themes)
	require.Equal(t, []string{"black and white"}, wanted, "it would want what it is to avoid")
	var avoid []string
	require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT themes_wanted, themes_avoid FROM asked WHERE number = 51`).Scan(&wanted, &avoid))
	require.Equal(t, [][]string{{"dogs"}, {"cats", "farm"}}, [][]string{wanted, avoid}, "cloth with both is kept from it as before")
}
