package localpg

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// dataVariable makes the test binary a user of the private Postgres instead:
// the tests need several processes, some under another account, to kill.
const dataVariable = "BOLTWARD_LOCALPG_TEST_DATA"

func TestMain(m *testing.M) {
	if data := os.Getenv(dataVariable); data != "" {
		os.Exit(beUser(data))
	}
	os.Exit(run(m))
}

// program is a copy of the test binary where every account may run it.
var program string

func run(m *testing.M) int {
	dir, err := os.MkdirTemp("", "localpg-program-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	own, err := os.Executable()
	if err != nil {
		panic(err)
	}
	text, err := os.ReadFile(own)
	if err != nil {
		panic(err)
	}
	program = filepath.Join(dir, "user")
	if err := os.WriteFile(program, text, 0o755); err != nil {
		panic(err)
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		panic(err)
	}
	return m.Run()
}

// beUser starts the Postgres of the folder, answers one query a line, and
// closes at the end of its input. Ctrl-C is not for it.
func beUser(data string) int {
	signal.Ignore(syscall.SIGINT)
	var s *Server
	var err error
	if repository := os.Getenv(dataVariable + "_REPOSITORY"); repository != "" {
		err = useDownload(data, repository)
	} else {
		s, err = Start(context.Background(), Config{Data: data, Log: func(line string) { fmt.Fprintln(os.Stderr, line) }})
	}
	if err != nil {
		fmt.Println("error " + err.Error())
		return 1
	}
	if s == nil {
		fmt.Println("downloaded")
		return 0
	}
	fmt.Printf("ready %d\n", s.server.pid)
	for lines := bufio.NewScanner(os.Stdin); lines.Scan(); {
		answer, err := ask(s.ServerURL(), lines.Text())
		if err != nil {
			fmt.Println("error " + err.Error())
			continue
		}
		fmt.Println(answer)
	}
	if err := s.Close(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

func ask(url, query string) (string, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return "", err
	}
	defer conn.Close(ctx)
	var answer string
	err = conn.QueryRow(ctx, query).Scan(&answer)
	return answer, err
}

// person is a process that uses the private Postgres.
type person struct {
	t     *testing.T
	cmd   *exec.Cmd
	in    io.WriteCloser
	out   *bufio.Reader
	said  *strings.Builder
	first string // its first line
	pid   int    // of Postgres
}

// as is an account that tests run under: ourselves, or under root also nobody.
type as struct {
	name       string
	credential *syscall.Credential
}

func accounts(t *testing.T) []as {
	t.Helper()
	list := []as{{name: "ourselves"}}
	if os.Geteuid() == 0 {
		u, err := user.Lookup("nobody")
		require.NoError(t, err)
		uid, err := strconv.Atoi(u.Uid)
		require.NoError(t, err)
		gid, err := strconv.Atoi(u.Gid)
		require.NoError(t, err)
		list = append(list, as{"an ordinary user", &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}})
	}
	return list
}

// inMemory is where the tests' data lies: what they hold does not depend on a
// disk, and they make many databases.
func inMemory() string {
	var st syscall.Statfs_t
	if err := syscall.Statfs("/dev/shm", &st); err == nil && uint64(st.Bavail)*uint64(st.Bsize) > 1<<30 {
		return "/dev/shm"
	}
	return os.TempDir()
}

// folder makes a folder that belongs to the account, removed with the test.
func (a as) folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp(inMemory(), "localpg-test-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	if a.credential != nil {
		require.NoError(t, os.Chown(dir, int(a.credential.Uid), int(a.credential.Gid)))
	}
	return dir
}

// made gives a folder with a database in it, a copy of one that is made once.
func (a as) made(t *testing.T) string {
	t.Helper()
	seed := filepath.Join(filepath.Dir(program), a.name)
	if _, err := os.Stat(seed); err != nil {
		require.NoError(t, os.Mkdir(seed, 0o711))
		if a.credential != nil {
			require.NoError(t, os.Chown(seed, int(a.credential.Uid), int(a.credential.Gid)))
		}
		a.use(t, seed).leave()
		s, err := Start(context.Background(), Config{Data: seed})
		require.NoError(t, err)
		conn, err := pgx.Connect(context.Background(), s.OwnerURL())
		require.NoError(t, err)
		_, err = conn.Exec(context.Background(), `CREATE TABLE kept (n integer); GRANT SELECT, INSERT ON kept TO boltward_server`)
		require.NoError(t, err)
		require.NoError(t, conn.Close(context.Background()))
		require.NoError(t, s.Close())
	}
	data := filepath.Join(a.folder(t), "var")
	out, err := exec.Command("cp", "-a", seed, data).CombinedOutput()
	require.NoError(t, err, "%s", out)
	return data
}

// Queries that only a crash-safe Postgres answers well later.
const (
	keep  = `INSERT INTO kept VALUES (1) RETURNING n::text`
	count = `SELECT count(*)::text FROM kept`
)

// use starts a process of the account that uses the Postgres of the folder, and
// waits for its first line.
func (a as) use(t *testing.T, data string, env ...string) *person {
	t.Helper()
	p := a.begin(t, data, env...)
	p.waitFirst()
	require.NotZero(t, p.pid, "%s said %q; %s", a.name, p.first, p.said)
	return p
}

// refused starts one that must not come to a start, and gives what it said.
func (a as) refused(t *testing.T, data string, env ...string) string {
	t.Helper()
	p := a.begin(t, data, env...)
	p.waitFirst()
	require.Error(t, p.cmd.Wait(), "it said %q", p.first)
	text, found := strings.CutPrefix(p.first, "error ")
	require.True(t, found, "%q", p.first)
	require.NotContains(t, text, "\n")
	return text
}

func (a as) begin(t *testing.T, data string, env ...string) *person {
	t.Helper()
	p := &person{t: t, said: new(strings.Builder)}
	p.cmd = exec.Command(program)
	p.cmd.Dir = "/"
	p.cmd.Env = append(append(os.Environ(), dataVariable+"="+data), env...)
	p.cmd.Stderr = p.said
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Credential: a.credential}
	var err error
	p.in, err = p.cmd.StdinPipe()
	require.NoError(t, err)
	out, err := p.cmd.StdoutPipe()
	require.NoError(t, err)
	p.out = bufio.NewReader(out)
	require.NoError(t, p.cmd.Start())
	t.Cleanup(func() { p.in.Close(); p.cmd.Wait() })
	return p
}

func (p *person) waitFirst() {
	p.t.Helper()
	line, err := p.out.ReadString('\n')
	require.NoError(p.t, err, "%s", p.said)
	p.first = strings.TrimSpace(line)
	if n, found := strings.CutPrefix(p.first, "ready "); found {
		p.pid, err = strconv.Atoi(n)
		require.NoError(p.t, err)
	}
}

func (p *person) ask(query string) string {
	p.t.Helper()
	fmt.Fprintln(p.in, query)
	line, err := p.out.ReadString('\n')
	require.NoError(p.t, err, "%s", p.said)
	return strings.TrimSpace(line)
}

// leave lets it end by itself.
func (p *person) leave() {
	p.t.Helper()
	require.NoError(p.t, p.in.Close())
	require.NoError(p.t, p.cmd.Wait(), "%s", p.said)
}

// kill ends it as a power cut would.
func (p *person) kill() {
	p.t.Helper()
	require.NoError(p.t, p.cmd.Process.Kill())
	p.cmd.Wait() // it was killed, which is an error to Wait
}

// requireGone waits until no living process of this Postgres or its keeper is left.
func requireGone(t *testing.T, data string) {
	t.Helper()
	require.Eventually(t, func() bool { return len(left(t, data)) == 0 }, 10*time.Second, 20*time.Millisecond,
		"processes that are left: %v", left(t, data))
}

// left lists the processes that belong to the data folder, apart from its users
// and from zombies, which have nothing of it any more.
func left(t *testing.T, data string) []string {
	t.Helper()
	out, err := exec.Command("ps", "-eo", "pid=,stat=,args=", "ww").Output()
	require.NoError(t, err)
	var list []string
	for line := range strings.Lines(string(out)) {
		fields := strings.Fields(line)
		if len(fields) < 3 || strings.HasPrefix(fields[1], "Z") {
			continue
		}
		pid, err := strconv.Atoi(fields[0])
		require.NoError(t, err)
		isKeeper := strings.Contains(line, "boltward-keeper "+filepath.Join(data, "postgres"))
		if isKeeper || lookAt(pid, filepath.Join(data, "postgres")) == ours {
			list = append(list, strings.TrimSpace(line))
		}
	}
	return list
}
