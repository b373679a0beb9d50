package workbook

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

func on(day string) time.Time {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		panic(err)
	}
	return d
}

// longNote is more than a cell holds, and counted in UTF-16 units twice that.
func longNote() string { return "=1+1 " + strings.Repeat("🧵", 40_000) }

// noBooks is the books of a drive in which nothing happened.
func noBooks() drive.Books {
	return drive.Books{
		Drive: drive.Drive{ID: "spring", Name: `=HYPERLINK("x") drive & co`, Zone: "Europe/Dublin", Unit: length.In}, From: on("2026-11-01"), To: on("2026-11-25"),
		MadeAt: on("2026-11-25"), Contacts: true,
		Asked: rowsOf[drive.BookLine](nil), AskedChanges: rowsOf[drive.BookAskedChange](nil), Laundry: rowsOf[drive.BookWash](nil), Fabric: rowsOf[drive.BookLot](nil), FabricEntries: rowsOf[drive.BookFabricEntry](nil), Kits: rowsOf[drive.BookKit](nil),
		KitEntries: rowsOf[drive.BookKitEntry](nil), Cases: rowsOf[drive.BookCases](nil), CaseStates: rowsOf[drive.BookCaseState](nil),
		CaseEntries: rowsOf[drive.BookCaseEntry](nil), Checks: rowsOf[drive.BookCheck](nil), Reasons: rowsOf[drive.BookReason](nil), Deliveries: rowsOf[drive.BookDelivery](nil),
		Boxes: rowsOf[drive.BookBox](nil), Gifts: rowsOf[drive.BookGift](nil), People: rowsOf[drive.BookPerson](nil), Hours: rowsOf[drive.BookHours](nil),
	}
}

// sampleBooks is a little of everything, and it adds up.
func sampleBooks() drive.Books {
	due, late := on("2026-12-14"), on("2026-11-10")
	yd := length.Area(length.Yard) * length.Area(length.Yard)
	taken, one := int64(2), int64(1)
	b := noBooks()
	b.Asked = rowsOf([]drive.BookLine{
		{
			Number: 1, RecipientNo: 7, Recipient: "*", Sizes: "queen, standard", Wanted: 60, Due: &due, Matter: "must", Note: longNote(),
			Counts: drive.Counts{drive.CasePlanned: 8, drive.CaseOut: 4, drive.CaseGood: 3, drive.CaseConfirmed: 5},
		},
		{Number: 2, RecipientNo: 8, Recipient: ">=Ward", Sizes: "queen", Wanted: 5, Closed: true, Counts: drive.Counts{drive.CaseOut: 2}},
	})
	b.Fabric = rowsOf([]drive.BookLot{
		{Lot: 1, Tag: "A01", Donor: "+cmd|' /C calc'!A0", Cloth: "@SUM(1)", Received: on("2026-10-24"), Width: 40 * length.Inch, Opening: 6 * yd, Measured: 2 * yd, Cut: 3 * yd, Offcuts: yd, OnShelf: 4 * yd, Promised: 2 * yd},
		{Lot: 2, Received: on("2026-11-02"), Measured: 5*yd + 12345, Recounted: -yd, GivenAway: yd, OnShelf: 3*yd + 12345},
	})
	b.FabricEntries = rowsOf([]drive.BookFabricEntry{
		{ID: 1, Day: on("2026-11-02"), Lot: 1, Kind: "measured", From: "outside", To: "free", Length: 2 * length.Yard, Area: 2 * yd, Shelf: 2 * yd},
		{ID: 2, Day: on("2026-11-03"), Lot: 1, Kind: "offcut", From: "promised", To: "out", Area: 4 * yd, Shelf: -4 * yd, Sheet: &one, Reason: "-2+3"},
		{ID: 3, Day: on("2026-11-04"), Lot: 2, Kind: "measured", From: "outside", To: "free", Area: 4*yd + 12345, Shelf: 4*yd + 12345},
		{ID: 4, Day: on("2026-11-05"), Lot: 2, Kind: "given away", From: "free", To: "out", Area: -yd, Shelf: -yd, TakesBack: &taken},
	})
	b.Kits = rowsOf([]drive.BookKit{
		{KitRef: drive.KitRef{Number: 107, Part: 1}, Cases: 4, State: drive.KitOut, Holder: "Agnes", Due: &late},
		{KitRef: drive.KitRef{Number: 107, Part: 2}, Cases: 5, State: drive.KitBack},
		{KitRef: drive.KitRef{Number: 108, Part: 1}, Cases: 8, State: drive.KitPlanned},
		{KitRef: drive.KitRef{Number: 109, Part: 1}, Cases: 2, State: drive.KitOut, Holder: "Agnes"},
	})
	b.Cases = rowsOf([]drive.BookCases{
		{Number: 1, RecipientNo: 7, Recipient: "*", Size: "standard", Planned: 21, NotUsable: 1, Counts: drive.Counts{drive.CasePlanned: 8, drive.CaseOut: 4, drive.CaseGood: 3, drive.CaseConfirmed: 5, drive.CaseNotUsable: 1}, CameIn: 9, FoundGood: 8, Sent: 5, Confirmed: 5},
		{Number: 2, RecipientNo: 8, Recipient: ">=Ward", Size: "queen", Opening: 2, Counts: drive.Counts{drive.CaseOut: 2}},
		{Number: 0, Recipient: "not promised yet", Size: "standard", Brought: 4, Counts: drive.Counts{drive.CaseSewn: 4}, CameIn: 4},
	})
	b.CaseStates = rowsOf([]drive.BookCaseState{{Number: 1, Size: "standard", State: drive.CaseConfirmed, Came: 6, Left: 1, Closing: 5}})
	b.CaseEntries = rowsOf([]drive.BookCaseEntry{
		{ID: 1, Day: on("2026-11-03"), Line: 1, From: drive.CaseOut, To: drive.CaseSewn, N: 11},
		{ID: 2, Day: on("2026-11-04"), Line: 1, From: drive.CaseOut, To: drive.CaseSewn, N: -2, TakesBack: &one},
		{ID: 3, Day: on("2026-11-04"), From: drive.CaseBorn, To: drive.CaseSewn, N: 4, Person: "\t=1"},
		{ID: 4, Day: on("2026-11-05"), Line: 1, From: drive.CaseSewn, To: drive.CaseGood, N: 8},
		{ID: 5, Day: on("2026-11-05"), Line: 1, From: drive.CaseSewn, To: drive.CaseToMend, N: 2, Reason: "seam"},
		{ID: 6, Day: on("2026-11-20"), Line: 1, From: drive.CasePacked, To: drive.CaseDelivered, N: 5},
		{ID: 7, Day: on("2026-11-21"), Line: 1, From: drive.CaseDelivered, To: drive.CaseConfirmed, N: 5},
	})
	b.Checks = rowsOf([]drive.BookCheck{{Number: 1, Day: on("2026-11-05"), Result: drive.CaseGood, N: 8}, {Number: 1, Day: on("2026-11-05"), Result: drive.CaseToMend, N: 2, Reasons: "=seam", Note: "@x"}})
	mend := 2
	b.AskedChanges = rowsOf([]drive.BookAskedChange{{Day: on("2026-11-02"), Kind: "asked", Number: 1, Recipient: "*", Act: "asked for changed", Field: "wanted", From: "40", To: "=60"}})
	b.Laundry = rowsOf([]drive.BookWash{{Batch: 1, StartedOn: on("2026-11-06"), StartedBy: "EN", DoneOn: &due, DoneBy: "@EN", Line: 1, Recipient: "*", Size: "standard", Kit: 107, Part: 2, N: 5, Note: "-hot"}})
	b.Reasons = rowsOf([]drive.BookReason{{Reason: "=seam", ToMend: &mend}})
	b.Deliveries = rowsOf([]drive.BookDelivery{{Number: 1, Recipient: "*", SentOn: on("2026-11-20"), Boxes: 1, SentBefore: 2, Sent: 5, Confirmed: 5, ConfirmedBy: "@sister", ConfirmedOn: &due}})
	b.Boxes = rowsOf([]drive.BookBox{{Box: 3, Delivery: 1, Recipient: "*", Line: 1, Size: "standard", PackedBy: "AB", SentBefore: 2, Sent: 5, Confirmed: 5}})
	b.Gifts = rowsOf([]drive.BookGift{{DonorNo: 1, Donor: "+cmd|' /C calc'!A0", On: on("2026-11-02"), Lots: 1, Pieces: 2, Measured: 5*yd + 12345, DonorContacts: drive.DonorContacts{Phone: "+353 1 555 0100"}}})
	b.People = rowsOf([]drive.BookPerson{{Number: 1, Name: "Agnes", Kind: "volunteer", Heads: 1, Active: true, Sewing: 90, Other: 5, Kits: 2, Cases: 6, Contacts: drive.Contacts{Address: "-1 Quay"}}})
	b.Hours = rowsOf([]drive.BookHours{{Number: 1, Day: on("2026-11-03"), PersonNo: 1, Name: "Agnes", Doing: "sewing", Heads: 1, Minutes: 90}, {Number: 2, Day: on("2026-11-04"), PersonNo: 1, Name: "Agnes", Doing: "other", Heads: 1, Minutes: 5}})
	return b
}

func written(t *testing.T, b drive.Books) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, WriteBooks(&out, b))
	return out.Bytes()
}

func opened(t *testing.T, data []byte) *excelize.File {
	t.Helper()
	x, err := excelize.OpenReader(bytes.NewReader(data))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, x.Close()) })
	return x
}

// summaryOf gives the summary's figures by their names, and the verdicts.
func summaryOf(t *testing.T, x *excelize.File) (figures map[string]float64, verdicts map[string]string) {
	t.Helper()
	rows, err := x.GetRows(sheetSummary, excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	figures, verdicts = map[string]float64{}, map[string]string{"": rows[3][0]}
	for _, r := range rows {
		if len(r) < 2 || r[1] == "" {
			continue
		}
		v, err := strconv.ParseFloat(r[1], 64)
		require.NoError(t, err, "figure %q", r[0])
		figures[r[0]] = v
		if len(r) > 3 && r[2] != "" {
			verdicts[r[0]] = r[3]
		}
	}
	return figures, verdicts
}

// Every formula, worked out anew, comes to the value it was written with.
func TestBooksFormulasComeToTheirValues(t *testing.T) {
	for name, b := range map[string]drive.Books{"full": sampleBooks(), "empty": noBooks()} {
		t.Run(name, func(t *testing.T) {
			x := opened(t, written(t, b))
			checked := 0
			for _, sheet := range x.GetSheetList() {
				rows, err := x.GetRows(sheet, excelize.Options{RawCellValue: true})
				require.NoError(t, err)
				for r, row := range rows {
					for c, shown := range row {
						at, err := excelize.CoordinatesToCellName(c+1, r+1)
						require.NoError(t, err)
						f, err := x.GetCellFormula(sheet, at)
						require.NoError(t, err)
						if f == "" {
							continue
						}
						got, err := x.CalcCellValue(sheet, at, excelize.Options{RawCellValue: true})
						require.NoError(t, err, "%s!%s =%s", sheet, at, f)
						same(t, shown, got, "%s!%s =%s", sheet, at, f)
						checked++
					}
				}
			}
			require.Greater(t, checked, 150)
		})
	}
}

// same holds two cells against each other: numbers to a millionth, words as they are.
func same(t *testing.T, want, got string, what ...any) {
	t.Helper()
	w, err := strconv.ParseFloat(want, 64)
	if err != nil {
		require.Equal(t, want, got, what...)
		return
	}
	g, err := strconv.ParseFloat(got, 64)
	require.NoError(t, err, what...)
	require.False(t, math.IsNaN(g) || math.IsInf(g, 0), what...)
	require.InDelta(t, w, g, 2e-6, what...)
}

func TestBooksSummary(t *testing.T) {
	x := opened(t, written(t, sampleBooks()))
	got, verdicts := summaryOf(t, x)
	for name, want := range map[string]float64{
		"Asked for": 65, "On their way or arrived": 26, "Planned or cut": 8, "With volunteers": 6, "Came back, to check or to mend": 4,
		"Good, packed or not": 3, "Delivered, confirmed or not": 5, "Still missing": 40, "Came in": 13, "Found to mend or not usable": 2, "Opening": 6, "Measured": 7, "Recounted": -1,
		"Cut for kits": 3, "Closing": 7, "Kits with people": 2, "Pillowcases in them": 6, "Late": 1, "Born": 25, "Ended": 1, "Gifts": 1, "Lots": 2,
	} {
		require.Contains(t, got, name)
		require.InDelta(t, want, got[name], 1e-6, name)
	}
	require.InDelta(t, 95.0/60, got["Hours given"], 1e-9)
	require.Equal(t, "All 16 checks below agree.", verdicts[""], "%v", verdicts)
	for check, says := range verdicts {
		if check != "" {
			require.Equal(t, agrees, says, check)
		}
	}

	// Books that do not add up say where.
	b := sampleBooks()
	yd := length.Area(length.Yard) * length.Area(length.Yard)
	b.Fabric = rowsOf([]drive.BookLot{{Lot: 1, Measured: 5 * yd, OnShelf: 7 * yd / 2}})
	x = opened(t, written(t, b))
	_, verdicts = summaryOf(t, x)
	require.Equal(t, "differs by 1.5", verdicts["Fabric: opening + in − out, and what lies there"])
	require.Equal(t, "differs by -1", verdicts["Fabric: lots whose account agrees, and all lots"])
	require.Equal(t, "3 of the 16 checks below differ: look at them first.", verdicts[""], "%v", verdicts)
	worked, err := x.CalcCellValue(sheetSummary, "A4")
	require.NoError(t, err)
	require.Equal(t, verdicts[""], worked)
}

// OWASP, CSV and formula injection: what people wrote starts nothing, in the workbook
// or as CSV, and what is cut in a cell is whole in CSV.
func TestBooksTextStaysText(t *testing.T) {
	x := opened(t, written(t, sampleBooks()))
	for _, sheet := range x.GetSheetList() {
		rows, err := x.GetRows(sheet)
		require.NoError(t, err)
		for r, row := range rows {
			for c, v := range row {
				at, err := excelize.CoordinatesToCellName(c+1, r+1)
				require.NoError(t, err)
				if v != "" && strings.ContainsRune("=+@\t", rune(v[0])) {
					f, err := x.GetCellFormula(sheet, at)
					require.NoError(t, err)
					require.Empty(t, f, "%s!%s %q", sheet, at, v)
				}
			}
		}
	}
	for _, tt := range []struct{ list, heading, want string }{
		{"fabric", "Given by", "'+cmd|' /C calc'!A0"},
		{"fabric", "Cloth", "'@SUM(1)"},
		{"fabric", "Recounted yd²", "0"},
		{"fabric-entries", "Change on the shelf yd²", "2"},
		{"fabric-entries", "Reason", ""},
		{"asked", "Recipient", "*"},
		{"asked", "Note", "'" + longNote()},
		{"deliveries", "By", "'@sister"},
		{"deliveries", "Confirmed on", "2026-12-14"},
		{"deliveries", "Open", "2"},
		{"boxes", "Open", "2"},
		{"gifts", "Phone", "'+353 1 555 0100"},
		{"people", "Address", "'-1 Quay"},
		{"people", "All hours h", "1.583333"},
		{"kits", "Part", "1"},
	} {
		require.Equal(t, tt.want, csvOf(t, sampleBooks(), tt.list)[0][tt.heading], "%s, %s", tt.list, tt.heading)
	}
	require.Equal(t, "-1", csvOf(t, sampleBooks(), "fabric")[1]["Recounted yd²"], "numbers are never marked")
	require.Equal(t, "'-2+3", csvOf(t, sampleBooks(), "fabric-entries")[1]["Reason"])
	require.Equal(t, "'\t=1", csvOf(t, sampleBooks(), "pillowcase-entries")[2]["Sewn by"])

	note, err := x.GetCellValue("Asked", "P2")
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(note, "=1+1 🧵"))
	require.True(t, strings.HasSuffix(note, "the same list as CSV has all of it)"))
	require.InDelta(t, excelize.TotalCellChars-1, len(utf16Of(note)), 1, "as full as a cell can be")
}

// csvOf gives a list's rows by heading.
func csvOf(t *testing.T, b drive.Books, name string) []map[string]string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, WriteList(&out, b, name))
	text, marked := strings.CutPrefix(out.String(), "\ufeff")
	require.True(t, marked)
	require.Equal(t, strings.Count(text, "\r\n"), strings.Count(text, "\n"), "RFC 4180 ends lines by CRLF")
	lines, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err, "%s is RFC 4180", name)
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, cell := range line {
			row[lines[0][i]] = cell
		}
		require.Len(t, row, len(lines[0]), "%s: no heading twice", name)
		rows = append(rows, row)
	}
	return rows
}

func TestBooksWithoutAddresses(t *testing.T) {
	b := sampleBooks()
	b.Contacts = false
	x := opened(t, written(t, b))
	for _, sheet := range x.GetSheetList() {
		rows, err := x.GetRows(sheet)
		require.NoError(t, err)
		for _, row := range rows {
			for _, cell := range row {
				require.NotContains(t, cell, "555 0100", sheet)
				require.NotContains(t, cell, "-1 Quay", sheet)
				require.NotEqual(t, "Phone", cell, sheet)
			}
		}
	}
	require.NotContains(t, csvOf(t, b, "people")[0], "Email")
	require.NotContains(t, csvOf(t, b, "gifts")[0], "Address")
}

func TestMoreRowsThanASheetHolds(t *testing.T) {
	err := writeBooks(io.Discard, sampleBooks(), 3)
	require.Contains(t, apperr.Fields(err)["from"], "Fabric entries: one sheet holds 3 rows", "%v", err)
	require.NoError(t, writeBooks(io.Discard, sampleBooks(), 7))
	require.Len(t, csvOf(t, sampleBooks(), "fabric-entries"), 4, "a CSV holds any number")
	require.NotEmpty(t, apperr.Fields(WriteList(io.Discard, sampleBooks(), "attic"))["list"])
}

// What goes wrong while rows are read, and while the file is written, is told.
func TestBooksThatBreakOff(t *testing.T) {
	gone := errors.New("the database went away")
	b := sampleBooks()
	b.Kits = func(yield func(drive.BookKit, error) bool) {
		if yield(drive.BookKit{}, nil) {
			yield(drive.BookKit{}, gone)
		}
	}
	require.ErrorIs(t, WriteBooks(io.Discard, b), gone)
	require.ErrorIs(t, WriteList(io.Discard, b, "kits"), gone)
	require.ErrorIs(t, WriteBooks(full{}, sampleBooks()), errFull)
	require.ErrorIs(t, WriteList(full{}, sampleBooks(), "kits"), errFull)
}

var errFull = errors.New("the disk is full")

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }
