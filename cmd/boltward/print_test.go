package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"boltward/internal/papertest"
)

// pdf is the page as it is printed, without the colours that browsers leave out.
func (b *tab) pdf() []byte {
	b.t.Helper()
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPreferCSSPageSize()))
	require.NoError(b.t, err)
	return pdf
}

// printed is what stands on paper.
func printed(t testing.TB, pdf []byte) string {
	t.Helper()
	papertest.Needs(t, "pdftotext")
	file := filepath.Join(t.TempDir(), "page.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	require.NoError(t, err)
	return string(text)
}

// onPaper holds the printed sheets to what a helper at the table needs.
func onPaper(t testing.TB, b *tab) {
	t.Helper()
	pdf := b.pdf()
	text := strings.Join(strings.Fields(printed(t, pdf)), " ")
	for _, words := range []string{"Sheet 1", "Sheet 2", "Sheet 3", "Lot 1", "Lot 2", "Lot 3", "shelf A1", "shelf B1", "In this order", "Revision 1 of plan 1", "Cut by ____"} {
		require.Contains(t, text, words, "on paper")
	}
	require.Contains(t, text, "Kit For Panels 1 "+ward+", standard body 1 to 6", "the kit and its panels on paper")
	require.NotContains(t, text, "Sign out", "no buttons on paper")
	folder := t.TempDir()
	if kept := os.Getenv("BOLTWARD_PICTURES"); kept != "" {
		folder = kept
	}
	sheets := papertest.Drawn(t, pdf, folder, "walk-sheets", 60)
	require.Len(t, sheets, 3, "each sheet on a page of its own")
	for _, png := range sheets {
		require.Greater(t, len(readFile(t, png)), 10_000, "something is drawn")
	}
}

// Totals stand below the last row of a list: at the foot of each page they would read as those of
// the page.
func TestTotalsStandOnceOnPaper(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	b.open("/drives/lantern-row/fabric")
	pdf := b.pdf()
	require.Greater(t, len(papertest.Drawn(t, pdf, t.TempDir(), "fabric", 20)), 1, "the list goes on over a page")
	require.Equal(t, 1, strings.Count(printed(t, pdf), "Together"))
}
