package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// pdf is the page as it is printed, without the colours that browsers leave out.
func (b *tab) pdf() []byte {
	b.t.Helper()
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPreferCSSPageSize()))
	require.NoError(b.t, err)
	return pdf
}

// needs leaves a test out where a program is missing.
func needs(t testing.TB, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skipf("LEFT OUT: there is no %s on this machine", program)
	}
}

// printed is what stands on paper.
func printed(t testing.TB, pdf []byte) string {
	t.Helper()
	needs(t, "pdftotext")
	file := filepath.Join(t.TempDir(), "page.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	require.NoError(t, err)
	return string(text)
}

// drawn renders a PDF, a PNG a sheet of paper, and gives the files.
func drawn(t testing.TB, pdf []byte, folder, name string, dpi int) []string {
	t.Helper()
	needs(t, "pdftoppm")
	file := filepath.Join(folder, name+".pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	out, err := exec.Command("pdftoppm", "-png", "-r", fmt.Sprint(dpi), file, filepath.Join(folder, name)).CombinedOutput()
	require.NoError(t, err, "%s", out)
	sheets, err := filepath.Glob(filepath.Join(folder, name+"-*.png"))
	require.NoError(t, err)
	require.NotEmpty(t, sheets)
	return sheets
}
