package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
)

func sheetSample(state drive.SheetState) sheetPage {
	p := filled(sheetPage{}).(sheetPage)
	p.Sheet.State = state
	return p
}

func decimal(t *testing.T, text string) planning.Decimal {
	t.Helper()
	d, err := planning.ParseDecimal(text)
	require.NoError(t, err)
	return d
}

func (ts *testSite) path(parts ...any) string { return drivePath(ts.Drive, parts...) }

// accepted gives the drive two sheets to cut, for one kit of four.
func (ts *testSite) accepted() {
	ts.t.Helper()
	ts.shelfAndWants(4)
	number, err := ts.Store.RequestPlan(ts.t.Context(), ts.act("plan"))
	require.NoError(ts.t, err)
	ts.workPlan(number)
	_, err = ts.Store.AcceptPlan(ts.t.Context(), ts.act("accept"), number)
	require.NoError(ts.t, err)
}

func TestSheetsAreCut(t *testing.T) {
	ts := newTestSite(t)
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/cutting").has("No cut sheets yet")
	ts.accepted()
	lead.get("/drives/spring/cutting").has("<b>2</b> sheets, 12 panels", "B1", "B2", "navy print, space", "Sign it out")

	r := lead.get("/drives/spring/cutting/1")
	r.has("Sheet 1", "Revision 1 of plan 1", "shelf <b>B1</b>", "as sharp as a razor", "snip and tear across the full width",
		"then trim to the narrowest", "Larkspur ward, Standard", "cuff", "accent", "Fold the rest", "Lot 2", `data-print`)
	lead.get("/drives/spring/cutting/2").has("This print has an up", "up</text>", "body 1 to 4")

	r = lead.post("/drives/spring/cutting/1/out", "helper", "  ")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Say who takes the sheet")
	lead.follow(lead.post("/drives/spring/cutting/1/out", "helper", "Rosa L.")).has("Sheet 1 is with Rosa L.", "Undo", "on the table with <b>Rosa L.</b>")
	r = lead.post("/drives/spring/cutting/1/out", "helper", "Ben")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Nothing was changed.", "on the table with Rosa L. already")
	lead.get("/drives/spring/cutting?state=on+the+table").has("with Rosa L.", "It is cut")
	lead.follow(lead.post("/drives/spring/cutting/1/back")).has("waits on its shelf again")

	r = lead.follow(lead.post("/drives/spring/cutting/1/cut"))
	r.has("Sheet 1 is cut.")
	r.lacks("is complete")
	lead.follow(lead.post("/drives/spring/cutting/2/cut")).has("Sheet 2 is cut. Kit 1 is complete: bag and label it.")
	lead.get("/drives/spring/cutting").has("There is no sheet of that sort")
	lead.get("/drives/spring/cutting?state=cut").has("<b>2</b> sheets")
	lead.follow(lead.post("/drives/spring/cutting/2/undo")).has("counts as not cut")

	require.Equal(t, http.StatusNotFound, ts.as(account.Desk).get("/drives/spring/cutting").Status)
	reader := ts.as(account.Reader)
	reader.get("/drives/spring/cutting/2").lacks("It is cut</button>", "Sign it out")
	require.Equal(t, http.StatusNotFound, lead.get("/drives/spring/cutting/77").Status)
}

func TestSheetsToPrint(t *testing.T) {
	ts := newTestSite(t)
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/cutting/print").has("Nothing to print")
	ts.accepted()
	r := lead.get("/drives/spring/cutting/print?plan=1")
	r.has("Print 2 sheets", "<small>Sheet</small> 1", "<small>Sheet</small> 2", `class="new-page seam"`)
	lead.get("/drives/spring/cutting/print?plan=2").has("Nothing to print")
	lead.post("/drives/spring/cutting/1/cut")
	r = lead.get("/drives/spring/cutting/print")
	r.has("Print 1 sheet")
	r.lacks("<small>Sheet</small> 1")
	lead.post("/drives/spring/plan/1/withdraw").has("on the table or cut are sheets 1")
}

func TestRanges(t *testing.T) {
	for _, c := range []struct {
		numbers []int
		want    string
	}{
		{nil, ""}, {[]int{3}, "3"}, {[]int{1, 2}, "1, 2"}, {[]int{4, 1, 2, 3}, "1 to 4"}, {[]int{1, 2, 3, 5, 7, 8, 9}, "1 to 3, 5, 7 to 9"},
	} {
		require.Equal(t, c.want, drive.Ranges(c.numbers))
	}
}

// A long layout goes on in further rows; nothing is lost and no strip is parted.
// With thin strips there is less cloth in a row, so that they can be read.
func TestDrawingALongLayout(t *testing.T) {
	in := length.Inch
	for _, c := range []struct {
		strip length.Length
		n     int
		marks []string // the first figure of each ruler
	}{
		{27 * in, 9, []string{"0", "192"}},
		{9 * in, 30, []string{"0", "108", "204"}},
	} {
		var panels []drive.Panel
		for i := range c.n {
			panels = append(panels, drive.Panel{Panel: i + 1, Role: "body", Place: drive.Place{W: 42 * in, Y: length.Length(i) * c.strip, H: c.strip}})
		}
		d := drawLayout(layoutToDraw{Width: 43 * in, Used: length.Length(c.n) * c.strip, Panels: panels, Kit: drive.KitRef.String, Unit: length.In})
		drawn := 0
		for i, r := range d.Rows {
			drawn += len(r.Panels)
			require.Equal(t, c.marks[i], r.Marks[0].Text, "the ruler counts from the squared end")
			require.Equal(t, d.Rows[0].Width, r.Width, "all rows are to one scale")
			require.Equal(t, i == len(d.Rows)-1, r.End == "", "only the last row ends")
		}
		require.Len(t, d.Rows, len(c.marks))
		require.Equal(t, c.n, drawn)
	}
}
