package postgres

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A row's who is an account or a helper at a tablet, and signers knows both: a query that
// looks for it among accounts alone would show a helper as nobody.
func TestWhoIsLookedUpAmongSigners(t *testing.T) {
	byAccount := regexp.MustCompile(`accounts (\w+) ON (\w+\.\w*(who|_by) = \w+\.id|\w+\.id = \w+\.(who|begun_by))\b`)
	bySigner := regexp.MustCompile(`signers \w+ ON \w+\.id = \w+\.who\b`)
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	found := 0
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Empty(t, byAccount.FindString(string(text)), file)
		found += len(bySigner.FindAllString(string(text), -1))
	}
	require.Greater(t, found, 8)
	require.Regexp(t, byAccount, "LEFT JOIN accounts a ON a.id = e.who", "the pattern itself finds what it looks for")
}
