package localpg

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func forEachAccount(t *testing.T, test func(t *testing.T, a as)) {
	for _, a := range accounts(t) {
		t.Run("as "+a.name, func(t *testing.T) { test(t, a) })
	}
}

func TestFirstStart(t *testing.T) {
	forEachAccount(t, func(t *testing.T, a as) {
		data := filepath.Join(a.folder(t), "var")
		p := a.use(t, data)
		for query, want := range map[string]string{
			`SELECT current_user`:                                                              "boltward",
			`SELECT current_database()`:                                                        "boltward",
			`SELECT current_setting('fsync')`:                                                  "on",
			`SELECT current_setting('jit')`:                                                    "off",
			`SELECT current_setting('autovacuum_naptime')`:                                     "5min",
			`SELECT current_setting('listen_addresses')`:                                       "127.0.0.1",
			`SELECT current_setting('server_encoding')`:                                        "UTF8",
			`SELECT current_setting('data_checksums')`:                                         "on",
			`SELECT pg_has_role('boltward', 'boltward_server', 'MEMBER')::text`:                "true",
			`SELECT string_agg(rolname, ' ') FROM pg_roles WHERE rolsuper`:                     "postgres",
			`SELECT pg_get_userbyid(datdba)::text FROM pg_database WHERE datname = 'boltward'`: "boltward_owner",
		} {
			require.Equal(t, want, p.ask(query), query)
		}
		require.Contains(t, p.said.String(), "Making the database folder")
		info, err := os.Stat(filepath.Join(data, "postgres.json"))
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "the passwords can be read by others")
		p.leave()
		require.Empty(t, left(t, data), "it ended before what it started")

		again := a.use(t, data)
		require.NotContains(t, again.said.String(), "Making the database folder")
		again.leave()
	})
}

func TestBothWaysInAskForThePassword(t *testing.T) {
	s, err := Start(context.Background(), Config{Data: filepath.Join(t.TempDir(), "var"), Throwaway: true})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	for _, host := range []string{s.server.sockets, "127.0.0.1"} {
		at := "host=" + host + " port=" + strconv.Itoa(s.server.port) + " user=boltward dbname=boltward sslmode=disable password="
		answer, err := ask(at+s.secrets.Server, `SELECT 'in'`)
		require.NoError(t, err, host)
		require.Equal(t, "in", answer)
		_, err = ask(at+"wrong", `SELECT 'in'`)
		require.ErrorContains(t, err, "28P01", "%s takes a wrong password", host)
	}
}

func TestTheLastUserStopsIt(t *testing.T) {
	forEachAccount(t, func(t *testing.T, a as) {
		data := a.made(t)
		first := a.use(t, data)
		second := a.use(t, data)
		require.Equal(t, first.pid, second.pid, "two Postgres on one folder")

		first.leave() // the one that started it
		require.Equal(t, "here", second.ask(`SELECT 'here'`))
		third := a.use(t, data)
		require.Equal(t, first.pid, third.pid)
		second.leave()
		require.Equal(t, "here", third.ask(`SELECT 'here'`))
		third.leave()
		require.Empty(t, left(t, data), "it ended before what it used")
	})
}

func TestManyStartAtOnce(t *testing.T) {
	data := t.TempDir()
	people := make([]*person, 5)
	for i := range people {
		people[i] = as{name: "ourselves"}.begin(t, data)
	}
	for _, p := range people {
		p.waitFirst()
		require.Equal(t, people[0].pid, p.pid, "%s", p.said)
	}
	var leaving sync.WaitGroup
	for _, p := range people {
		leaving.Go(p.leave)
	}
	leaving.Wait()
	require.Empty(t, left(t, data))
}

func TestKilledUser(t *testing.T) {
	forEachAccount(t, func(t *testing.T, a as) {
		data := a.made(t)
		p := a.use(t, data)
		require.Equal(t, "1", p.ask(keep))
		p.kill()
		requireGone(t, data)

		again := a.use(t, data)
		require.Equal(t, "1", again.ask(count))
		again.kill()
		at := time.Now()
		meanwhile := a.use(t, data) // the keeper may be at work still
		require.Equal(t, "1", meanwhile.ask(count))
		require.Less(t, time.Since(at), 10*time.Second)
		time.Sleep(300 * time.Millisecond)
		require.Equal(t, "1", meanwhile.ask(count), "the keeper of the one before stopped the one after")
		meanwhile.leave()
		require.Empty(t, left(t, data))
	})
}

func TestKilledStarterLeavesItToTheOthers(t *testing.T) {
	me := as{name: "ourselves"}
	data := me.made(t)
	first := me.use(t, data)
	second := me.use(t, data)
	first.kill()
	time.Sleep(300 * time.Millisecond)
	require.Equal(t, "here", second.ask(`SELECT 'here'`))
	second.kill()
	requireGone(t, data)
}

func TestKilledWithItsKeeper(t *testing.T) {
	forEachAccount(t, func(t *testing.T, a as) {
		for _, postgresToo := range []bool{false, true} {
			data := a.made(t)
			p := a.use(t, data)
			require.Equal(t, "1", p.ask(keep))
			killKeeper(t, data)
			if postgresToo {
				require.NoError(t, syscall.Kill(p.pid, syscall.SIGKILL))
			}
			p.kill()

			again := a.use(t, data)
			require.NotEqual(t, p.pid, again.pid, "a Postgres that nobody watches went on")
			require.Equal(t, "1", again.ask(count))
			again.leave()
			require.Empty(t, left(t, data))
		}
	})
}

func killKeeper(t *testing.T, data string) {
	t.Helper()
	for _, line := range left(t, data) {
		if strings.Contains(line, "boltward-keeper") {
			pid, err := strconv.Atoi(strings.Fields(line)[0])
			require.NoError(t, err)
			require.NoError(t, syscall.Kill(pid, syscall.SIGKILL))
			return
		}
	}
	t.Fatal("there is no keeper")
}

func TestPostgresKilledUnderItsUsers(t *testing.T) {
	me := as{name: "ourselves"}
	data := me.made(t)
	first := me.use(t, data)
	require.NoError(t, syscall.Kill(first.pid, syscall.SIGKILL))
	second := me.use(t, data)
	require.NotEqual(t, first.pid, second.pid)
	require.Equal(t, "here", first.ask(`SELECT 'here'`), "the first does not find the new one")
	second.leave()
	require.Equal(t, "here", first.ask(`SELECT 'here'`), "the second stopped it under the first")
	first.kill()
	requireGone(t, data)
}

func TestCtrlCDoesNotReachIt(t *testing.T) {
	me := as{name: "ourselves"}
	data := me.made(t)
	p := me.use(t, data)
	require.NoError(t, syscall.Kill(-p.cmd.Process.Pid, syscall.SIGINT), "interrupt the group, as a terminal does")
	time.Sleep(200 * time.Millisecond)
	require.Equal(t, "here", p.ask(`SELECT 'here'`))
	p.leave()
	require.Empty(t, left(t, data))
}

func TestRootUnderAFolderOthersMayNotEnter(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root runs Postgres as another user")
	}
	home := t.TempDir()
	require.NoError(t, os.Chmod(home, 0o700))
	data := filepath.Join(home, "clone", "var")
	for range 2 {
		p := as{name: "ourselves"}.use(t, data)
		require.Equal(t, "here", p.ask(`SELECT 'here'`))
		p.leave()
	}
	info, err := os.Stat(filepath.Join(data, "postgres"))
	require.NoError(t, err)
	require.NotZero(t, info.Sys().(*syscall.Stat_t).Uid, "Postgres ran as root")
}

// Neither a temporary folder with a long path nor one that others may not enter
// keeps it from starting.
func TestTemporaryFolderOfLittleUse(t *testing.T) {
	forEachAccount(t, func(t *testing.T, a as) {
		closed := filepath.Join(a.folder(t), "closed") // the folder above has mode 0700
		long := filepath.Join(closed, strings.Repeat("long", 25))
		for _, tmp := range []string{closed, long, filepath.Join(closed, "missing")} {
			data := filepath.Join(a.folder(t), "var")
			if tmp != closed {
				data = a.made(t)
			}
			if filepath.Base(tmp) != "missing" {
				require.NoError(t, os.MkdirAll(tmp, 0o777))
			}
			p := a.use(t, data, "TMPDIR="+tmp)
			require.Equal(t, "here", p.ask(`SELECT 'here'`), "with TMPDIR=%s", tmp)
			p.leave()
		}
	})
}

// A number in a lock file that was left over may belong to anything by now.
func TestLockFileLeftOver(t *testing.T) {
	forEachAccount(t, func(t *testing.T, a as) {
		data := a.made(t)
		for name, pid := range map[string]int{
			"a stranger": startAs(t, a, false),
			"a zombie":   startAs(t, a, true),
			"nobody":     1 << 21,
		} {
			lockFile := filepath.Join(data, "postgres", "postmaster.pid")
			text := strconv.Itoa(pid) + "\n" + data + "\n1790000000\n5432\n/tmp/boltward-none\n127.0.0.1\n\nready\n"
			require.NoError(t, os.WriteFile(lockFile, []byte(text), 0o600))
			owner, err := os.Stat(filepath.Dir(lockFile))
			require.NoError(t, err)
			st := owner.Sys().(*syscall.Stat_t)
			require.NoError(t, os.Chown(lockFile, int(st.Uid), int(st.Gid)))
			p := a.use(t, data)
			require.Equal(t, "here", p.ask(`SELECT 'here'`), "where the lock file names %s", name)
			p.leave()
			require.Empty(t, left(t, data))
		}
	})
}

// startAs starts a process that sleeps, or a zombie, under the account that
// Postgres of this account runs as.
func startAs(t *testing.T, a as, zombie bool) int {
	t.Helper()
	cmd := exec.Command("sleep", "600")
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: a.credential}
	if a.credential == nil {
		acct, err := runAs(t.TempDir() + "/none")
		require.NoError(t, err)
		acct.command(cmd)
	}
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	if zombie {
		require.NoError(t, cmd.Process.Kill())
		time.Sleep(50 * time.Millisecond)
		require.Equal(t, gone, lookAt(cmd.Process.Pid, t.TempDir()))
	}
	return cmd.Process.Pid
}
