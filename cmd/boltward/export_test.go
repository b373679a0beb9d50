package main

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A year that was mistyped somewhere does not keep anybody from the books.
func TestExportWithMistypedYear(t *testing.T) {
	t.Parallel()
	set, db := withDatabase(t)
	inSpring(t, db.URL, "Europe/Dublin", time.Now)
	const lot = `INSERT INTO lots (drive_id, number, received_on, fibre, weight, washed, print, colours, raw_length, raw_width, created_at, measured_at)
		VALUES ('spring', 1, $1, 'cotton', 'quilting', true, 'solid', '{navy}', 8128000, 1747520, now(), now())`
	_, err := db.Pool.Exec(t.Context(), lot, time.Date(206, time.March, 2, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	for _, what := range [][]string{{"books", "books.xlsx"}, {"fabric", "fabric.csv"}} {
		file := filepath.Join(t.TempDir(), what[1])
		code, out, errs := run(t, set, "export", what[0], "--drive", "spring", "--out", file)
		require.Zero(t, code, "%s\n%s", out, errs)
		require.FileExists(t, file)
		_, _, errs = run(t, set, "export", what[0], "--drive", "spring", "--from", "0206-03-02", "--out", file)
		require.Contains(t, errs, "Look at the year of the first day again", "what is typed is refused")
	}
}
