package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Headings that nobody knows are explained once; a long list of them shows how far
// it has come, is stopped with nothing taken, and is then taken whole.
func TestALongListIsWatchedAndStopped(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	set, db := withDatabase(t)
	p := serving(t, set)
	b := newTab(t, p.address)
	organiser(t, b, p)
	startDrive(t, b, "Harbour pillowcases")
	const lots = 8_000
	var text strings.Builder
	text.WriteString("Stoff;Laenge (m);Breite (cm);Wer\n")
	for i := range lots {
		fmt.Fprintf(&text, "S%05d;%d,5;110;Nachbarin %d\n", i, 1+i%4, i%200)
	}
	file := filepath.Join(t.TempDir(), "stoffe.csv")
	require.NoError(t, os.WriteFile(file, []byte(text.String()), 0o600))
	folder := os.Getenv("BOLTWARD_PICTURES")
	look := func(name string) {
		require.Empty(t, b.look(axe(t)), name)
		if folder != "" {
			b.picture(folder, name)
		}
	}

	b.open(home + "/books/in")
	look("bring")
	b.attach("File", file)
	b.press("Look at it")
	says(t, b, "The columns were not understood", "No line of headings was found")
	look("bring-unread")
	for heading, field := range map[string]string{"Stoff": "Code (needed)", "Laenge (m)": "Length", "Breite (cm)": "Width", "Wer": "Given by"} {
		b.fill("What "+heading+" holds", field)
	}
	b.press("Read it so")
	says(t, b, "Read anew", "8,000 of 8,000 rows to be taken")
	look("bring-read")

	b.press("Take all 8,000 rows")
	b.turns("of 8,000 rows written")
	if folder != "" {
		b.picture(folder, "bring-taking")
	}
	b.press("Stop and take nothing")
	b.turns("It was stopped, and nothing of it was taken.")
	balanced(t, t.Context(), db.Pool)
	other := newPlain(t, p.address)
	again(t, other)
	other.open(home + "/fabric")
	says(t, other, "No fabric yet")
	b.press("Take all 8,000 rows")
	b.turns("8,000 rows were taken, 0 here already, 0 refused.")
	says(t, b, "0 of 8,000 rows to be taken, 8,000 here already")
	look("bring-taken")
	other.open(home + "/fabric")
	says(t, other, "8,000 lots")
	balanced(t, t.Context(), db.Pool)
}
