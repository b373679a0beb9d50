package localpg

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// kept is a private Postgres that this process keeps going.
type kept struct {
	*Server
	t    *testing.T
	said *sayings
}

type sayings struct {
	mu   sync.Mutex
	list []string
}

func (s *sayings) say(text string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.list = append(s.list, text)
}

func (s *sayings) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return strings.Join(s.list, "\n")
}

func keepGoing(t *testing.T, data string) kept {
	t.Helper()
	k := kept{t: t, said: &sayings{}}
	var err error
	k.Server, err = Start(t.Context(), Config{Data: data, Log: k.said.say})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		k.Keep(ctx)
	}()
	t.Cleanup(func() {
		cancel()
		<-done
		require.NoError(t, k.Close())
	})
	return k
}

// comesBack waits until Postgres answers as another process than before.
func (k kept) comesBack(before int) (now int) {
	k.t.Helper()
	require.Eventually(k.t, func() bool {
		p, err := readPostmaster(k.folder.database())
		if err != nil || p.pid == before || !p.ready {
			return false
		}
		now = p.pid
		answer, err := ask(k.ServerURL(), `SELECT 'here'`)
		return err == nil && answer == "here"
	}, time.Minute, 20*time.Millisecond, "it does not come back: %s", k.said)
	return now
}

// Postgres that ends under a user who goes on is started again: killed, told to stop
// by somebody, and by whoever comes first where there are two.
func TestKeptGoing(t *testing.T) {
	data := filepath.Join(as{name: "ourselves"}.folder(t), "var")
	t.Cleanup(func() { require.Empty(t, left(t, data), "processes are left") })
	first := keepGoing(t, data)
	port, pid := first.server.port, first.server.pid
	for _, signal := range []syscall.Signal{syscall.SIGKILL, syscall.SIGINT, syscall.SIGQUIT} {
		require.NoError(t, syscall.Kill(pid, signal))
		pid = first.comesBack(pid)
		now, err := readPostmaster(first.folder.database())
		require.NoError(t, err)
		require.Equal(t, port, now.port, "it is where it was")
	}
	second := keepGoing(t, data)
	require.NoError(t, syscall.Kill(pid, syscall.SIGKILL))
	second.comesBack(pid)
	first.comesBack(pid)
	require.Contains(t, first.said.String(), "The database has stopped by itself")
}

// A folder that is gone is not replaced by an empty one; once it is there again,
// so is Postgres.
func TestKeptGoingWithoutItsFolder(t *testing.T) {
	data := filepath.Join(as{name: "ourselves"}.folder(t), "var")
	t.Cleanup(func() { require.Empty(t, left(t, data), "processes are left") })
	k := keepGoing(t, data)
	pid := k.server.pid
	aside := k.folder.database() + ".aside"
	require.NoError(t, os.Rename(k.folder.database(), aside))
	require.NoError(t, syscall.Kill(pid, syscall.SIGKILL))
	require.Eventually(t, func() bool { return strings.Contains(k.said.String(), "is gone: put it back") }, time.Minute, 20*time.Millisecond)
	require.NoDirExists(t, k.folder.database())
	require.NoError(t, os.Rename(aside, k.folder.database()))
	k.comesBack(pid)
}
