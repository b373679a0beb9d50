package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestMain lets the test's own binary be the bare handler, as the program does.
func TestMain(m *testing.M) {
	if len(os.Args) == 3 && os.Args[1] == "bare" {
		main()
		return
	}
	os.Exit(m.Run())
}

// A few people for a few seconds: every kind of page and form is answered well, and
// the table is printed. The volunteers are so many that some of them come in that time.
func TestLoad(t *testing.T) {
	boltward := filepath.Join(t.TempDir(), "boltward")
	said, err := exec.Command("go", "build", "-o", boltward, "../../cmd/boltward").CombinedOutput()
	require.NoError(t, err, "%s", said)
	var out bytes.Buffer
	err = run(t.Context(), config{
		boltward: boltward, helpers: 4, volunteers: 90, step: 2 * time.Second, lasts: 4 * time.Second, turn: time.Second, most: 16,
	}, &out)
	require.NoError(t, err, "%s", &out)
	for _, what := range []string{"The ceiling: ", "POST /drives/:drive/fabric/tag", "/v/:token", "p99 times", "Every balance agrees with its ledger."} {
		require.Contains(t, out.String(), what)
	}
}
