package main

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// The cutting table on a tablet: sheets go out and come back cut many in a row, a code on
// paper opens its sheet with one button, cloth is reported flawed and the change of the plan
// stands there at once, a rule by eye says what it costs.
func TestTheCuttingTable(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	look := func(name string) {
		t.Helper()
		require.Empty(t, b.look(axe(t)), name)
		if folder := os.Getenv("BOLTWARD_PICTURES"); folder != "" {
			b.picture(folder, name)
			b.size(wide, 900)
		}
	}
	b.open("/drives/lantern-row/cutting")
	look("cutting-list")
	b.press("Print for cutting day")
	look("cutting-papers")
	b.press("All sheets")
	b.press("At the table")
	b.fill("Who takes them", "Agnes P.")
	b.fill("Sheets to take", "36 37 1")
	b.press("Sign out these sheets")
	require.Contains(t, b.page().says(), "Sheets 36 and 37 are with Agnes P.")
	require.Contains(t, b.page().says(), "Sheet 1 is cut already.")
	look("cutting-table")
	b.fill("Sheets that are cut", p.address+"/l/lantern-row/sheet/36")
	b.press("They are cut")
	require.Contains(t, b.page().says(), "Sheet 36 is cut.")
	require.Equal(t, "f-cut", eval[string](b, `document.activeElement.id`), "the next one is typed at once")

	// The code on paper opens the sheet.
	b.open("/l/lantern-row/sheet/37")
	look("sheet-by-code")
	b.press("It is cut")
	require.Contains(t, b.page().says(), "Sheet 37 is cut.")

	b.open("/drives/lantern-row/cutting/38")
	b.press("This piece is short, narrow, flawed or longer")
	look("sheet-short")
	b.fill("Or: where it is flawed", "somewhere")
	b.press("Report it")
	require.Contains(t, b.page().says(), "does not say from where to where")
	b.fill("Or: where it is flawed", "10 to 12 in across")
	b.press("Report it")
	b.turns("Accept this change")
	require.Contains(t, b.page().says(), "Whom it concerns")
	look("plan-change-at-once")

	b.open("/drives/lantern-row/plan/1/eye")
	look("plan-eye")
}
