package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
)

// terminal is the real program as a person runs it at a terminal.
type terminal struct {
	*program
	master *os.File
}

// atTerminal starts the program with a terminal of its own as input and both outputs.
func atTerminal(t testing.TB, args ...string) *terminal {
	t.Helper()
	return atTerminalWith(t, settings{}, args...)
}

func atTerminalWith(t testing.TB, set settings, args ...string) *terminal {
	t.Helper()
	binary, err := built()
	require.NoError(t, err)
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	if errors.Is(err, os.ErrNotExist) {
		t.Skip("LEFT OUT: this machine has no terminals to give")
	}
	require.NoError(t, err)
	t.Cleanup(func() { master.Close() }) // ends what still reads from it
	var number, unlocked uint32
	require.NoError(t, control(master, syscall.TIOCSPTLCK, &unlocked))
	require.NoError(t, control(master, syscall.TIOCGPTN, &number))
	slave, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	defer slave.Close()
	p := &program{t: t, cmd: exec.Command(binary, args...), ended: make(chan struct{})}
	p.cmd.Env = append(set.list(), "TERM=xterm")
	p.cmd.Stdin, p.cmd.Stdout, p.cmd.Stderr = slave, slave, slave
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	started := make(chan error, 1)
	go startAndWait(p.cmd, started, p.ended)
	require.NoError(t, <-started)
	t.Cleanup(func() { p.kill() })
	go func() {
		// It ends with an error once nobody writes any more.
		_, _ = io.Copy(&p.out, master)
	}()
	return &terminal{p, master}
}

func control(file *os.File, request uintptr, value *uint32) error {
	if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, file.Fd(), request, uintptr(unsafe.Pointer(value))); errno != 0 {
		return errno
	}
	return nil
}

// ctrlC types Ctrl-C; the terminal makes a signal of it.
func (x *terminal) ctrlC() {
	x.t.Helper()
	_, err := x.master.WriteString("\x03")
	require.NoError(x.t, err)
}

// drawnLine is one drawing of the line that updates.
var drawnLine = regexp.MustCompile(`\r\x1b\[\?7l(\d+) of at most (\d+) pillowcases[^\x1b]*, (\d+\.\d) s: ([^\x1b]+)\x1b\[K\x1b\[\?7h`)

// largeProblem is a drive of so many fabrics from the general-purpose peer's generator.
func largeProblem(t testing.TB, fabrics string) string {
	t.Helper()
	generator := filepath.Join("..", "..", "..", "shared", "peer", "gen.py")
	const python = "/usr/bin/python3"
	for _, needed := range []string{generator, python} {
		if _, err := os.Stat(needed); err != nil {
			t.Skip("LEFT OUT: there is no " + needed)
		}
	}
	text, err := exec.Command(python, generator, "5", fabrics, "4").Output()
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "problem.json")
	require.NoError(t, os.WriteFile(file, text, 0o600))
	return file
}

// A large drive planned at a terminal: one line updates, Ctrl-C is answered within
// a second and keeps the best, a valid plan with a proven bound.
func TestCtrlCKeepsTheBest(t *testing.T) {
	problem := largeProblem(t, "3000")
	out := filepath.Join(t.TempDir(), "plan.json")
	x := atTerminal(t, "plan", problem, "--out", out, "--within", "0s", "--effort", "10000000")
	x.until("a first good plan is shown", func() bool {
		for _, line := range drawnLine.FindAllStringSubmatch(x.out.String(), -1) {
			if line[1] != "0" {
				return true
			}
		}
		return false
	})
	pressed := time.Now()
	x.ctrlC()
	require.Zero(t, x.wait(), x.out.String())
	took := time.Since(pressed)
	t.Logf("Ctrl-C was answered in %v", took)
	require.Less(t, took, aMoment, "it ends")
	said := x.out.String()
	require.Contains(t, said, "stopping, keeping the best so far")
	require.Contains(t, said, "Somebody stopped the search")
	require.Equal(t, 1, strings.Count(said[:strings.Index(said, "Makes ")], "\n"), "one line updates")

	file, err := os.Open(out)
	require.NoError(t, err)
	defer file.Close()
	plan, err := planning.ReadPlan(file)
	require.NoError(t, err)
	asked, err := os.Open(problem)
	require.NoError(t, err)
	defer asked.Close()
	p, err := planning.ReadProblem(asked)
	require.NoError(t, err)
	require.Empty(t, planning.Check(p, plan))
	require.Equal(t, planning.StoppedByPerson, plan.Summary.Stopped)
	code, proven, errs := run(t, nil, "plan", "--prove", problem, out)
	require.Zero(t, code, errs)
	require.Contains(t, proven, "Proven")
}

// Reading from a terminal waits for what never comes; nothing is lost by ending.
func TestCtrlCEndsReading(t *testing.T) {
	x := atTerminal(t, "plan", "-")
	x.until("it waits for what is typed", x.rests)
	x.ctrlC()
	require.Equal(t, 1, x.wait(), "%s", x.out.String())
}

// A file that nobody writes cannot even be opened: the second Ctrl-C does not wait for it.
func TestSecondCtrlCEndsAtOnce(t *testing.T) {
	nobody := filepath.Join(t.TempDir(), "problem.json")
	require.NoError(t, syscall.Mkfifo(nobody, 0o600))
	x := atTerminal(t, "plan", "--prove", nobody, nobody)
	x.until("it waits for the file", x.rests)
	x.ctrlC()
	// The terminal shows the first once it has sent the signal. A second that came before the first is
	// handed over and taken would be one with it.
	x.until("the terminal has sent the first", func() bool { return strings.Contains(x.out.String(), "^C") })
	x.until("it is handed over", func() bool { return !waitsFor(x.cmd.Process.Pid, syscall.SIGINT) })
	x.until("it is taken", x.rests)
	x.ctrlC()
	x.wait()
	require.True(t, x.cmd.ProcessState.Sys().(syscall.WaitStatus).Signaled(), "it is ended by the signal")
}

// waitsFor says whether a signal that was sent to a process has not come there yet.
func waitsFor(process int, s syscall.Signal) bool {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", process))
	if err != nil {
		return false // it has ended
	}
	_, after, _ := strings.Cut(string(status), "ShdPnd:")
	pending, err := strconv.ParseUint(strings.TrimSpace(strings.SplitN(after, "\n", 2)[0]), 16, 64)
	return err != nil || pending>>(s-1)&1 == 1
}

// rests says whether every thread of the program sleeps, two looks long: whatever one of them does,
// one is awake until all of it is done.
func (x *terminal) rests() bool {
	for range 2 {
		threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", x.cmd.Process.Pid))
		if err != nil || len(threads) == 0 {
			return false
		}
		for _, name := range threads {
			stat, err := os.ReadFile(name)
			if _, after, _ := strings.Cut(string(stat), ") "); err != nil || !strings.HasPrefix(after, "S") {
				return false
			}
		}
	}
	return true
}
