package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
)

// What a test run makes for all its tests is made at first use, and goes here.
func TestMain(m *testing.M) {
	// A shell's background job has SIGINT ignored, and so would every program have it that is started
	// here: not as at a terminal.
	if signal.Ignored(os.Interrupt) {
		signal.Notify(make(chan os.Signal, 1), os.Interrupt)
	}
	code := m.Run()
	_, closeBrowser := theBrowser()
	closeBrowser()
	folder, err := testFolder()
	if err := errors.Join(err, os.RemoveAll(folder)); err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = max(code, 1)
	}
	os.Exit(code)
}

// testFolder holds what all tests of the run share. An ordinary user may enter it.
var testFolder = sync.OnceValues(func() (string, error) {
	folder, err := os.MkdirTemp("", "boltward-test-")
	if err != nil {
		return "", err
	}
	return folder, os.Chmod(folder, 0o755)
})

// How long the real program may take to answer and to end, on a machine that is
// busy with other tests, and a moment in which what it started ends too.
const (
	startsWithin = 2 * time.Minute
	endsWithin   = 3 * time.Minute
	aMoment      = 30 * time.Second
)

// built gives the program as people run it.
var built = sync.OnceValues(func() (string, error) {
	folder, err := testFolder()
	if err != nil {
		return "", err
	}
	binary := filepath.Join(folder, "boltward")
	if out, err := exec.Command("go", "build", "-o", binary, ".").CombinedOutput(); err != nil {
		return "", fmt.Errorf("build the program: %w: %s", err, out)
	}
	return binary, nil
})

// longRun says that the many rounds are wanted: make long.
func longRun() bool { return os.Getenv("BOLTWARD_LONG") != "" }

// settings are the environment of a program; nothing of the test's own but what
// every program needs comes with them.
type settings map[string]string

func (s settings) list() []string {
	list := []string{"PATH=" + os.Getenv("PATH"), "HOME=" + os.TempDir(), "TMPDIR=" + os.TempDir()}
	for name, value := range s {
		list = append(list, name+"="+value)
	}
	return list
}

// withDatabase gives settings with a database of the test's own, and a free port.
func withDatabase(t testing.TB) (settings, *pgtest.DB) {
	t.Helper()
	db := pgtest.New(t)
	return settings{"DATABASE_URL": db.URL, "BOLTWARD_DATA": t.TempDir(), "PORT": "0"}, db
}

// privateFolder gives a data folder for a private Postgres, which may run as
// another user.
func privateFolder(t testing.TB) string {
	t.Helper()
	folder, err := os.MkdirTemp("", "boltward-data-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(folder, 0o711))
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(folder)) })
	return filepath.Join(folder, "var")
}

// program is the real program in a process group of its own.
type program struct {
	t       testing.TB
	cmd     *exec.Cmd
	out     lockedBuffer
	errs    lockedBuffer
	ended   chan struct{} // closed once it has ended
	address string        // where serve answers
	link    string        // by which the first organiser comes in, if nobody can sign in
}

// launch starts the program; it is ended with the test, where it still runs then.
func launch(t testing.TB, set settings, args ...string) *program {
	t.Helper()
	return launchAs(t, nil, set, args...)
}

// launchAs starts it as another user, where one is named.
func launchAs(t testing.TB, who *syscall.Credential, set settings, args ...string) *program {
	t.Helper()
	binary, err := built()
	require.NoError(t, err)
	return launchBy(t, who, set, exec.Command(binary, args...))
}

// launchBy starts it by a command of the test's.
func launchBy(t testing.TB, who *syscall.Credential, set settings, cmd *exec.Cmd) *program {
	t.Helper()
	folder, err := testFolder()
	require.NoError(t, err)
	p := &program{t: t, cmd: cmd, ended: make(chan struct{})}
	p.cmd.Env = set.list()
	p.cmd.Dir = folder
	p.cmd.Stdout, p.cmd.Stderr = &p.out, &p.errs
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Credential: who}
	// What it leaves behind may hold its outputs open.
	p.cmd.WaitDelay = aMoment
	started := make(chan error, 1)
	go startAndWait(p.cmd, started, p.ended)
	require.NoError(t, <-started)
	t.Cleanup(p.stop)
	return p
}

// serving starts serve and waits until it answers.
func serving(t testing.TB, set settings) *program {
	t.Helper()
	p := launch(t, set, "serve")
	p.answers()
	return p
}

// answers waits until serve has said where it is and answers there.
func (p *program) answers() {
	p.t.Helper()
	const before, after = "Boltward is at ", " (Ctrl-C stops it)\n"
	p.until("it says where it is", func() (whole bool) {
		_, rest, _ := strings.Cut(p.out.String(), before)
		p.address, _, whole = strings.Cut(rest, after)
		return whole
	})
	p.until("it answers", func() bool {
		answer, err := http.Get(p.address + "/healthz")
		if err != nil {
			return false
		}
		defer answer.Body.Close()
		body, err := io.ReadAll(answer.Body)
		return err == nil && answer.StatusCode == http.StatusOK && string(body) == "ok\n"
	})
	// It has said all by the time it answers.
	_, rest, _ := strings.Cut(p.out.String(), after)
	p.link = anAddress.FindString(rest)
}

func (p *program) until(what string, done func() bool) {
	p.t.Helper()
	for end := time.Now().Add(startsWithin); !done(); time.Sleep(5 * time.Millisecond) {
		select {
		case <-p.ended:
			require.FailNow(p.t, "the program ended before "+what, "exit code %d\n%s\n%s", p.code(), p.out.String(), p.errs.String())
		default:
		}
		require.True(p.t, time.Now().Before(end), "the program did not get so far in %v that %s:\n%s\n%s", startsWithin, what, p.out.String(), p.errs.String())
	}
}

// wait gives the exit code, once it has ended.
func (p *program) wait() int {
	p.t.Helper()
	select {
	case <-p.ended:
	case <-time.After(endsWithin):
		require.FailNow(p.t, "the program does not end", "%s\n%s", p.out.String(), p.errs.String())
	}
	return p.code()
}

func (p *program) code() int { return p.cmd.ProcessState.ExitCode() }

// interrupt is Ctrl-C: the terminal sends it to the whole process group.
func (p *program) interrupt() {
	p.t.Helper()
	require.NoError(p.t, syscall.Kill(-p.cmd.Process.Pid, syscall.SIGINT))
}

// kill ends the process with no chance to do anything first.
func (p *program) kill() {
	p.t.Helper()
	if err := p.cmd.Process.Kill(); !errors.Is(err, os.ErrProcessDone) {
		require.NoError(p.t, err)
	}
	p.wait()
}

// stop ends a program that still runs, by Ctrl-C, and requires that it does so in order.
func (p *program) stop() {
	p.t.Helper()
	select {
	case <-p.ended:
		return
	default:
	}
	p.interrupt()
	require.Zero(p.t, p.wait(), "it ends in order: %s", p.errs.String())
}

// run runs a command to its end and gives its exit code and both outputs.
func run(t testing.TB, set settings, args ...string) (code int, out, errs string) {
	t.Helper()
	p := launch(t, set, args...)
	code = p.wait()
	return code, p.out.String(), p.errs.String()
}

// lines parts what a program said.
func lines(text string) []string {
	return strings.Split(strings.TrimSpace(text), "\n")
}

func TestTheRealProgram(t *testing.T) {
	data := privateFolder(t)
	p := serving(t, settings{"BOLTWARD_DATA": data, "PORT": "0"})
	require.NotEmpty(t, p.link, "it says how the first organiser comes in")
	someAtWork(t, data)
	for _, path := range []string{"/healthz", "/readyz", "/sign-in"} {
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		request, err := http.NewRequestWithContext(ctx, http.MethodGet, p.address+path, nil)
		require.NoError(t, err)
		answer, err := http.DefaultClient.Do(request)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		cancel()
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
	}
	for _, line := range []string{"Starting the database…", "Bringing the database up to this version…"} {
		require.Contains(t, p.errs.String(), line, "it says what it is doing")
	}
	p.interrupt()
	require.Zero(t, p.wait(), p.errs.String())
	require.Contains(t, p.errs.String(), "Stopping…")
	nothingLeft(t, data)
}
