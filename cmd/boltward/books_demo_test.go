package main

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"boltward/internal/drive"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// bookTotal is a total under a list and what the database says it is: over the drive
// ($1), from day ($2) to day ($3) of its zone ($4).
type bookTotal struct{ sheet, heading, sql string }

const (
	inDays   = `drive_id = $1 AND day BETWEEN $2 AND $3 AND $4 <> ''`
	inPeriod = `e.drive_id = $1 AND (e.at AT TIME ZONE $4)::date BETWEEN $2 AND $3`
	until    = `drive_id = $1 AND day <= $3 AND $2::date <= $3 AND $4 <> ''`
)

// bookTotals are asked of the tables in another way than the books ask: entries as they
// stand, counter-entries moving back on their own.
func bookTotals() []bookTotal {
	shelf := func(when string) string {
		return `SELECT coalesce(sum(area * (CASE WHEN to_account IN ('free', 'promised') THEN 1 ELSE 0 END - CASE WHEN from_account IN ('free', 'promised') THEN 1 ELSE 0 END)), 0)
			FROM fabric_entries WHERE drive_id = $1 AND (at AT TIME ZONE $4)::date ` + when
	}
	state := func(name string) string {
		return `SELECT coalesce(sum(n * ((to_state = '` + name + `')::int - (from_state = '` + name + `')::int)), 0) FROM case_entries WHERE ` + until
	}
	net := func(from, to string) string {
		return `SELECT coalesce(sum(CASE WHEN from_state = '` + from + `' AND to_state = '` + to + `' THEN n ELSE -n END), 0) FROM case_entries
			WHERE (from_state, to_state) IN (('` + from + `', '` + to + `'), ('` + to + `', '` + from + `')) AND ` + inDays
	}
	totals := []bookTotal{
		{"Fabric", "Opening", shelf("< $2 AND $2::date <= $3")},
		{"Fabric", "Closing", shelf("<= $3 AND $2::date <= $3")},
		{"Fabric entries", "Change on the shelf", shelf("BETWEEN $2 AND $3")},
		{"Fabric", "Cut for kits", `SELECT coalesce(sum(e.area * ((e.to_account = 'cut')::int - (e.from_account = 'cut')::int)), 0) FROM fabric_entries e
			LEFT JOIN fabric_entries u ON u.drive_id = e.drive_id AND u.id = e.undoes WHERE coalesce(u.kind, e.kind) = 'cut for kit' AND ` + inPeriod},
		{"Kits", "Pillowcases", `SELECT coalesce(sum(cases), 0) FROM kits WHERE drive_id = $1 AND $2::date <= $3 AND $4 <> ''`},
		{"Pillowcases", "Sent", net("packed", "delivered")},
		{"Deliveries", "Sent", net("packed", "delivered")},
		{"Boxes", "Sent", net("packed", "delivered")},
		{"Pillowcases", "Found good", net("sewn", "good")},
		{"Asked", "Asked for", `SELECT coalesce(sum(wanted), 0) FROM asked WHERE drive_id = $1 AND (created_at AT TIME ZONE $4)::date <= $3 AND $2::date <= $3`},
		{"Hours", "Given", `SELECT coalesce(sum(minutes), 0) FROM hours WHERE undone_at IS NULL AND ` + inDays},
		{"People", "All hours", `SELECT coalesce(sum(minutes), 0) FROM hours WHERE undone_at IS NULL AND ` + inDays},
		{"Gifts", "Lots", `SELECT count(*) FROM lots WHERE drive_id = $1 AND received_on BETWEEN $2 AND $3 AND untagged_at IS NULL AND $4 <> ''`},
		{"Gifts", "Pieces", `SELECT coalesce(sum(CASE WHEN measured_at IS NULL THEN pieces_told ELSE pieces_measured END), 0) FROM lots WHERE drive_id = $1 AND received_on BETWEEN $2 AND $3 AND untagged_at IS NULL AND $4 <> ''`},
	}
	for _, s := range drive.CaseStates() {
		if s.Alive() {
			heading := string(s)
			totals = append(totals, bookTotal{"Pillowcases", string(heading[0]-'a'+'A') + heading[1:], state(heading)})
		}
	}
	return totals
}

// booksAgreeWithSQL holds the totals of the workbook, worked out anew from its cells,
// against what the database says.
func booksAgreeWithSQL(t *testing.T, db *pgtest.DB, store *postgres.Store, of postgres.BooksOf) *excelize.File {
	t.Helper()
	d, err := store.Drive(t.Context(), of.Drive)
	require.NoError(t, err)
	var file bytes.Buffer
	require.NoError(t, store.Books(t.Context(), of, func(b drive.Books) error { return workbook.WriteBooks(&file, b) }))
	x, err := excelize.OpenReader(&file)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, x.Close()) })
	square := float64(d.Yardage().Size()) * float64(d.Yardage().Size())
	for _, total := range bookTotals() {
		if total.sheet == "Kits" && of.To.Before(drive.Day(time.Now(), d.Location())) {
			continue // the table knows only where kits are now
		}
		var sum int64
		require.NoError(t, db.Pool.QueryRow(t.Context(), "SELECT ("+total.sql+")::bigint", of.Drive, of.From, of.To, d.Zone).Scan(&sum), "%s, %s", total.sheet, total.heading)
		want := float64(sum)
		head, at, unit := totalCell(t, x, total)
		switch unit {
		case " " + string(d.Yardage()) + "²":
			want /= square
		case " h":
			want /= 60
		}
		f, err := x.GetCellFormula(total.sheet, at)
		require.NoError(t, err)
		require.Contains(t, f, "SUBTOTAL(109,", "%s, %s", total.sheet, head)
		worked, err := x.CalcCellValue(total.sheet, at, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		got, err := strconv.ParseFloat(worked, 64)
		require.NoError(t, err, "%s, %s: %q", total.sheet, head, worked)
		require.InDelta(t, want, got, 1e-6, "%s, %s from %s to %s", total.sheet, head, of.From.Format(time.DateOnly), of.To.Format(time.DateOnly))
	}
	says, err := x.CalcCellValue("Summary", "A4")
	require.NoError(t, err)
	require.Equal(t, "All 16 checks below agree.", says, "from %s to %s", of.From.Format(time.DateOnly), of.To.Format(time.DateOnly))
	return x
}

// totalCell finds the last cell of a column, which is its total, and what its heading
// says beside its name.
func totalCell(t *testing.T, x *excelize.File, total bookTotal) (heading, cell, unit string) {
	t.Helper()
	rows, err := x.GetRows(total.sheet, excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	for i, head := range rows[0] {
		unit, ours := strings.CutPrefix(head, total.heading)
		if !ours || !slices.Contains([]string{"", " yd²", " m²", " h"}, unit) {
			continue
		}
		at, err := excelize.CoordinatesToCellName(i+1, len(rows))
		require.NoError(t, err)
		return head, at, unit
	}
	require.Failf(t, "no such column", "%s in %s: %v", total.heading, total.sheet, rows[0])
	return "", "", ""
}
