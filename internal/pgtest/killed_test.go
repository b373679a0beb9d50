package pgtest

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const waitVariable = "BOLTWARD_PGTEST_WAIT"

// A test binary that is killed leaves neither Postgres nor its folder.
func TestKilledTestBinaryLeavesNothing(t *testing.T) {
	if os.Getenv(waitVariable) != "" {
		New(t)
		s, err := started()
		require.NoError(t, err)
		fmt.Println("folder " + s.folder)
		time.Sleep(time.Minute) // to be killed in
		t.Fatal("it was not killed")
	}
	own, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.Command(own, "-test.run", "^"+t.Name()+"$")
	cmd.Env = append(os.Environ(), waitVariable+"=yes")
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var folder string
	for lines := bufio.NewScanner(out); folder == "" && lines.Scan(); {
		folder, _ = strings.CutPrefix(lines.Text(), "folder ")
	}
	require.DirExists(t, folder)
	require.NoError(t, cmd.Process.Kill())
	require.Error(t, cmd.Wait(), "it was killed")

	require.Eventually(t, func() bool {
		_, err := os.Stat(folder)
		return os.IsNotExist(err)
	}, 10*time.Second, 20*time.Millisecond, "%s is left", folder)
	ps, err := exec.Command("ps", "-eo", "args=", "ww").Output()
	require.NoError(t, err)
	require.NotContains(t, string(ps), folder)
}
