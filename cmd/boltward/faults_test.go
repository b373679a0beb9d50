package main

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"
)

// faulty is a program with a private Postgres of its own under which things break,
// and a crowd that sends forms all the while.
type faulty struct {
	*crowd
	t   testing.TB
	set settings
	p   *program
}

// newFaulty starts a drive with a size in it.
func newFaulty(t testing.TB, data string) *faulty {
	t.Helper()
	f := &faulty{t: t, set: settings{"BOLTWARD_DATA": data, "PORT": "0"}}
	f.p = serving(t, f.set)
	f.crowd = newCrowd(t, inHarbour(t, f.p))
	return f
}

// inHarbour signs an organiser in and starts a drive that has one size.
func inHarbour(t testing.TB, p *program) *plain {
	t.Helper()
	h := newPlain(t, p.address)
	organiser(t, h, p)
	startDrive(t, h, "Harbour pillowcases")
	h.open(home + "/sizes")
	press(t, h, "Add standard")
	return h
}

// serveAgain starts the program anew and tells the crowd where it is.
func (f *faulty) serveAgain() {
	f.t.Helper()
	f.p = serving(f.t, f.set)
	f.at(f.p.address)
}

// whole requires that every balance agrees, by the program's own word and by sums of
// the test's, that nothing is lost that anybody was told, and that the program says it is well.
func (f *faulty) whole() {
	f.t.Helper()
	for end := patience(); ; end.wait(f.t, "it is ready again") {
		if code, _ := get(f.t, f.p.address+"/readyz", ""); code == http.StatusOK {
			break
		}
	}
	f.atRest(func() {
		wellChecked(f.t, f.set)
		ledgers(f.t, f.set["BOLTWARD_DATA"], func(ctx context.Context, pool *pgxpool.Pool) {
			f.there(ctx, pool)
			balanced(f.t, ctx, pool)
		})
	})
}

// wellChecked requires that boltward check finds nothing.
func wellChecked(t testing.TB, set settings) {
	t.Helper()
	code, out, errs := run(t, set, "check")
	require.Zero(t, code, "%s\n%s", out, errs)
	require.Contains(t, out, "Every balance agrees with its ledger.")
}

// postmaster gives the main process of the private Postgres.
func (f *faulty) postmaster() int {
	f.t.Helper()
	first, _, _ := strings.Cut(string(readFile(f.t, filepath.Join(f.set["BOLTWARD_DATA"], "postgres", "postmaster.pid"))), "\n")
	pid, err := strconv.Atoi(first)
	require.NoError(f.t, err)
	return pid
}

// breaks are what breaks under the load, by name.
var breaks = []struct {
	name string
	make func(*faulty)
}{
	{"the server is killed", func(f *faulty) {
		f.p.kill()
		f.serveAgain()
	}},
	{"everything is killed at once", func(f *faulty) {
		f.p.powerCut(f.set["BOLTWARD_DATA"])
		f.serveAgain()
	}},
	{"Postgres is stopped", func(f *faulty) { f.signal(f.postmaster(), syscall.SIGINT) }},
	{"Postgres is stopped at once", func(f *faulty) { f.signal(f.postmaster(), syscall.SIGQUIT) }},
	{"Postgres is killed", func(f *faulty) { f.signal(f.postmaster(), syscall.SIGKILL) }},
	{"a process of Postgres is killed", func(f *faulty) {
		if runtime.GOOS != "linux" { // only /proc tells whose they are
			return
		}
		// After a fault they come with the next form; one may end before it is killed.
		killed := func() bool {
			for pid, command := range processesIn(f.t, f.set["BOLTWARD_DATA"]) {
				if strings.HasPrefix(command, "postgres: boltward boltward ") && syscall.Kill(pid, syscall.SIGKILL) == nil {
					return true
				}
			}
			return false
		}
		require.Eventually(f.t, killed, startsWithin, 20*time.Millisecond, "a process of Postgres is found")
	}},
}

func (f *faulty) signal(pid int, signal syscall.Signal) {
	f.t.Helper()
	if err := syscall.Kill(pid, signal); err != syscall.ESRCH { // it may have ended by itself
		require.NoError(f.t, err)
	}
}

// Whatever is killed or stopped under people who send forms: after it the program
// goes on by itself, or once it is started again where it was the one that was
// killed; the ledgers balance and nothing that was confirmed is gone.
func TestFaultsUnderLoad(t *testing.T) {
	t.Parallel()
	rounds := 1
	if longRun() {
		rounds = 20
	}
	f := newFaulty(t, privateFolder(t))
	f.send(6)
	for range rounds {
		for _, fault := range breaks {
			f.more(15)
			fault.make(f)
			f.more(15)
			f.whole()
		}
	}
	f.end()
	f.whole()
	f.same(60)
	t.Logf("%d rounds of %d faults: %d forms confirmed, all of them there; sent again without an answer %d times", rounds, len(breaks), len(f.confirmed()), f.again)
	require.NotZero(t, f.again, "the faults were felt")
	f.p.stop()
	nothingLeft(t, f.set["BOLTWARD_DATA"])
}

// The disk fills up under people who send forms. Nothing that was confirmed is lost,
// and once there is room again everything goes on by itself.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	rounds, room := 1, 192<<20
	if longRun() {
		rounds, room = 20, 1536<<20 // what Postgres keeps to recover by grows with them
	}
	disk := smallDisk(t, room)
	f := newFaulty(t, filepath.Join(disk, "var"))
	f.send(4)
	for round := range rounds {
		f.more(10)
		filler := fillUp(t, disk)
		// Everybody comes to feel it: what is sent goes round.
		before := f.failed()
		require.Eventually(t, func() bool { return f.failed() > before+8 }, startsWithin, 10*time.Millisecond, "the disk is full, and nobody notices")
		if round == 0 {
			answer, err := http.Get(f.p.address + "/healthz")
			require.NoError(t, err, "the program itself goes on")
			require.NoError(t, answer.Body.Close())
		}
		require.NoError(t, os.Remove(filler))
		f.more(10)
		f.whole()
	}
	f.end()
	f.whole()
	f.same(40)
	t.Logf("the disk was full %d times: %d forms confirmed, all of them there; sent again without an answer %d times", rounds, len(f.confirmed()), f.again)
	f.p.stop()
	nothingLeft(t, f.set["BOLTWARD_DATA"])
}

func (c *crowd) failed() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.again
}

// fillUp leaves no room on a disk and gives the file that takes it.
func fillUp(t testing.TB, disk string) string {
	t.Helper()
	path := filepath.Join(disk, "in-the-way")
	file, err := os.Create(path)
	require.NoError(t, err)
	block := make([]byte, 1<<20)
	for err == nil {
		if _, err = file.Write(block); err != nil && len(block) > 1 {
			block, err = block[:len(block)/2], nil
		}
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NoError(t, file.Close())
	return path
}
