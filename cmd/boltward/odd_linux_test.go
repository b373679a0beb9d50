package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const oddCases = `"cases":[{"id":"c","panels":[{"role":"body","around":1041.387,"along":685.813},{"role":"cuff","around":1041.387,"along":228.617}]}],"trims":{"a":["a"]},"kit":{"cases":4}`

// amidst is how much processor time a program has used that is in the middle of planning.
const amidst = 1500 * time.Millisecond

// Cloth as odd as it comes is planned in bounded memory, and Ctrl-C ends it soon. What that takes
// is counted in processor time, which other work on the machine does not change: at most a second
// on each of two cores.
func TestOddDrivesAreStoppedSoon(t *testing.T) {
	var many strings.Builder
	for i := range 1000 {
		fmt.Fprintf(&many, `{"id":"%d","length":%d,"width":1100,"group":"a","roles":["body","cuff"]},`, i, 2000)
	}
	lot := func(length, pieces string) string {
		return `{"id":"F","length":` + length + `,"width":1100.003,"pieces":` + pieces + `,"group":"a","roles":["body","cuff"]}`
	}
	for name, x := range map[string]struct{ fabrics, wanted string }{
		"a kilometre":      {lot("1000000", "1"), "5000"},
		"a thousand alike": {strings.TrimSuffix(many.String(), ","), "30000"},
	} {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "problem.json")
			problem := `{"unit":"mm","fabrics":[` + x.fabrics + `],` + oddCases + `,"quotas":[{"id":"q","cases":["c"],"wanted":` + x.wanted + `,"bodies":["a"]}]}`
			require.NoError(t, os.WriteFile(file, []byte(problem), 0o600))
			p := launch(t, nil, "plan", file, "--within", "0s", "--effort", "10000000")
			peak := peakOf(p)
			before, running := processorTime(p.cmd.Process.Pid)
			for ; running && before < amidst; before, running = processorTime(p.cmd.Process.Pid) {
				time.Sleep(10 * time.Millisecond)
			}
			if running {
				_ = p.cmd.Process.Signal(syscall.SIGINT) // it may have ended since
			}
			require.Zero(t, p.wait(), p.errs.String())
			state := p.cmd.ProcessState
			after := state.UserTime() + state.SystemTime() - before
			most := peak()
			t.Logf("%v after the signal, %.0f MiB: %.120s", after, most, p.out.String())
			require.Less(t, most, 600.0, "MiB")
			if running {
				require.Less(t, after, 2*time.Second)
			}
		})
	}
}

// peakOf watches how much memory a program takes, and gives the most in MiB once it has
// ended. What the system counts of an ended child begins with what its parent took.
func peakOf(p *program) func() float64 {
	most := make(chan float64)
	go func() {
		kib := 0
		for {
			text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
			_, peak, living := strings.Cut(string(text), "VmHWM:")
			if err != nil || !living {
				most <- float64(kib) / 1024
				return
			}
			if _, err := fmt.Sscan(peak, &kib); err != nil {
				most <- math.Inf(1)
				return
			}
			time.Sleep(5 * time.Millisecond)
		}
	}()
	return func() float64 { return <-most }
}

// processorTime gives what a process has used so far, false where it has ended.
func processorTime(pid int) (time.Duration, bool) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0, false
	}
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	var ticks int64
	for _, f := range fields[11:13] {
		n, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			return 0, false
		}
		ticks += n
	}
	return time.Duration(ticks) * 10 * time.Millisecond, fields[0] != "Z"
}
