package main

import (
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// A spreadsheet with bad rows saves nothing before somebody says so, names each by
// its line and column, and gives them back to be mended.
func TestBringASpreadsheet(t *testing.T) {
	for name, hand := range everyHand() {
		if name == "without scripts" {
			continue // the page has none
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			set, db := withDatabase(t)
			p := serving(t, set)
			h := hand(t, p)
			organiser(t, h, p)
			startDrive(t, h, "Harbour pillowcases")
			file := filepath.Join(t.TempDir(), "fabric.csv")
			const rows = "Code,Length,Width,Given by,Fibre,Print\n" +
				"H01,3 yd,44 in,The bolt shop,cotton,solid\n" +
				"H02,4 km,44 in,The bolt shop,cotton,solid\n" +
				"H03,some,44 in,,cotton,solid\n"
			require.NoError(t, os.WriteFile(file, []byte(rows), 0o600))

			bring := func() {
				h.open(home + "/books/in")
				h.tick("fabric, one lot a line")
				h.attach("File", file)
				press(t, h, "Look at it")
			}
			bring()
			says(t, h, "1 of 3 rows to be taken", "2 refused", "4 km", "Nothing is taken yet")
			require.Contains(t, h.page().row(t, "3")["What becomes of it"], "Length:", "the second row stands in line 3 of the file")
			mend, refused := h.download("as CSV")
			require.Contains(t, mend, ".csv")
			require.Contains(t, string(refused), "H02")
			require.NotContains(t, string(refused), "H01")
			look := newPlain(t, p.address)
			again(t, look)
			look.open(home + "/fabric")
			says(t, look, "No fabric yet")

			press(t, h, "Take the good one")
			look.open(home + "/fabric")
			says(t, look, "1 lot", "The bolt shop")
			bring()
			says(t, h, "0 of 3 rows to be taken", "1 here already", "2 refused")
			press(t, h, "Leave it")
			look.open(home + "/fabric")
			says(t, look, "1 lot")
			require.Equal(t, http.StatusOK, look.status())
			balanced(t, t.Context(), db.Pool)
		})
	}
}
