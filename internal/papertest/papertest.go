// Package papertest looks at what tests print with the programs of the machine. A
// test that needs one which is not there is left out, and says so.
package papertest

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// Needs leaves a test out where a program is missing.
func Needs(t testing.TB, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skipf("LEFT OUT: there is no %s on this machine", program)
	}
}

// Drawn renders a PDF into a folder at dpi dots an inch, a PNG a sheet of paper,
// and gives the files in the order of the sheets.
func Drawn(t testing.TB, pdf []byte, folder, name string, dpi int) []string {
	t.Helper()
	Needs(t, "pdftoppm")
	file := filepath.Join(folder, name+".pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	out, err := exec.Command("pdftoppm", "-png", "-r", strconv.Itoa(dpi), file, filepath.Join(folder, name)).CombinedOutput()
	require.NoError(t, err, "%s", out)
	sheets, err := filepath.Glob(filepath.Join(folder, name+"-*.png"))
	require.NoError(t, err)
	require.NotEmpty(t, sheets)
	return sheets
}
