package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// Sheets go out and come back many in a row, by number or by what a scanner types; what is
// refused says why, stays in its field, and keeps no other back.
func TestManyInARowAtTheTable(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/cutting").has("At the table", "Print for cutting day")
	lead.get("/drives/spring/cutting/table").has("No sheet is on the table", "2 sheets wait", "Who takes them")

	r := lead.post("/drives/spring/cutting/table/out", "helper", " ", "take", "1 kit107 x")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say who takes the sheets", "is no number of a sheet", `value="1 kit107 x"`)
	r = lead.post("/drives/spring/cutting/table/out", "helper", "Rosa L.", "take", "http://localhost/l/other/sheet/1")
	r.has("label of another drive", `value="Rosa L."`)
	lead.post("/drives/spring/cutting/table/out", "helper", "Rosa L.", "take", "http://localhost/l/spring/kit/1").has("label of a kit")
	lead.post("/drives/spring/cutting/table/out", "helper", "Rosa L.", "take", "").has("Scan a sheet, or type the number")

	r = lead.post("/drives/spring/cutting/table/out", "helper", "Rosa L.", "take", "http://localhost/l/spring/sheet/1 99,2-5")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Sheet 1 is with Rosa L.", "no sheet 99", "Sheet 2 has no revision 5", `value="99 2-5"`)
	lead.follow(lead.post("/drives/spring/cutting/table/out", "helper", "Rosa L.", "take", "2")).has("Sheet 2 is with Rosa L.", `value="Rosa L."`, "On the table now")

	r = lead.post("/drives/spring/cutting/table/cut", "cut", "1, 2 2 7")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Sheets 1 and 2 are cut. Kit 1 is complete: bag and label it.", "no sheet 7", `value="7"`)
	r = lead.post("/drives/spring/cutting/table/cut", "cut", "1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Sheet 1 is cut already.")

	require.Equal(t, http.StatusNotFound, ts.as(account.Reader).get("/drives/spring/cutting/table").Status)
	require.Equal(t, http.StatusNotFound, ts.as(account.Reader).post("/drives/spring/cutting/table/cut", "cut", "1").Status)
}

// The same form sent twice books once.
func TestTheTableBooksOnce(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	for range 2 {
		r := lead.post("/drives/spring/cutting/table/cut", "cut", "1 2", "once", "one-and-the-same")
		require.Equal(t, http.StatusSeeOther, r.Status)
	}
}

func TestPapersForCuttingDay(t *testing.T) {
	ts := newTestSite(t)
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/cutting/papers").has("Nothing to print")
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/cutting/papers/cut-sheets.pdf").Status)
	ts.accepted()
	lead.get("/drives/spring/cutting/papers?plan=1&which=all").has("<b>2</b> sheets of plan 1", "cut-sheets.pdf?paper=letter&amp;plan=1&amp;which=all", "Bundle slips")
	for _, kind := range cuttingPaperKinds() {
		r := lead.get("/drives/spring/cutting/papers/" + kind.Path + ".pdf?plan=1")
		require.Equal(t, http.StatusOK, r.Status, kind.Path)
		require.Equal(t, "application/pdf", r.Header.Get("Content-Type"))
	}
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/cutting/papers/other.pdf").Status)
}

// A code on paper names its revision: an old one says what replaced it and books nothing.
func TestAnOldPrintIsScanned(t *testing.T) {
	ts := newTestSite(t)
	ts.accepted()
	lead := ts.as(account.CuttingLead)
	lead.follow(lead.get("/l/spring/sheet/2")).lacks("Do not cut by that print")
	lead.post("/drives/spring/cutting/2/short", "found", "85 in")
	ts.workChange(2)
	lead.post("/drives/spring/plan/2/accept")

	old := "Revision 1 of sheet 2 is replaced: plan 2 laid it out anew. Put that print away; what is cut has the number 2-2."
	lead.follow(lead.get("/l/spring/sheet/2")).has("Do not cut by that print.", old)
	lead.follow(lead.get("/drives/spring/scan?code=sheet+2-1")).has(old)
	lead.follow(lead.get("/l/spring/sheet/2-2")).lacks("Do not cut by that print")
	lead.follow(lead.get("/drives/spring/scan?code=sheet+2")).lacks("Do not cut by that print")
	lead.post("/drives/spring/cutting/table/cut", "cut", "2").has(old)
	r := lead.post("/drives/spring/cutting/2/cut", "revision", "1")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has(old)
	require.Equal(t, http.StatusSeeOther, lead.post("/drives/spring/cutting/table/cut", "cut", "2-2").Status)
}
