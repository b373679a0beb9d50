package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Whoever types boltward plan - or import - and thinks better of it is let go by the first Ctrl-C, though
// nothing has come in and nobody closes the input.
func TestPlanStopsWhereNobodyTypes(t *testing.T) {
	in, typing, err := os.Pipe()
	require.NoError(t, err)
	defer typing.Close()
	out := filepath.Join(t.TempDir(), "plan.json")
	for _, args := range [][]string{{"plan", "-", "--out", out}, {"ask", "-"}, {"yield", "-"}, {"import", "fabric", "-", "--drive", "spring"}} {
		ctx, stop := context.WithCancel(t.Context())
		var said bytes.Buffer
		ended := make(chan int, 1)
		go func() {
			env := Env{Args: args, Stdin: in, Stdout: io.Discard, Stderr: &said, Getenv: func(string) string { return "" }, Now: time.Now}
			ended <- dispatch(ctx, env, commands())
		}()
		time.AfterFunc(20*time.Millisecond, stop)
		select {
		case code := <-ended:
			if args[0] == "plan" {
				require.Equal(t, exitFailed, code)
				require.Contains(t, said.String(), "stopped before the problem was read")
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("%v waits for what nobody types", args)
		}
		stop()
	}
	_, err = os.Stat(out)
	require.ErrorIs(t, err, os.ErrNotExist)
}

// stopsAtOnce is standard error that stops whoever tells the first progress there.
type stopsAtOnce struct {
	bytes.Buffer
	stop func()
}

func (w *stopsAtOnce) Write(p []byte) (int, error) {
	w.stop()
	return w.Buffer.Write(p)
}

// Who stops a question hears what is not known yet, not that more cloth would make nothing.
func TestAQuestionThatIsStopped(t *testing.T) {
	problem := writeProblem(t, smallProblem)
	run := func(args ...string) (code int, out, said string) {
		ctx, stop := context.WithCancel(t.Context())
		defer stop()
		var stdout bytes.Buffer
		stderr := &stopsAtOnce{stop: stop}
		env := Env{Args: append(args, "--json-progress"), Stdin: strings.NewReader(""), Stdout: &stdout, Stderr: stderr, Getenv: func(string) string { return "" }, Now: time.Now}
		code = dispatch(ctx, env, commands())
		return code, stdout.String(), stderr.String()
	}
	code, out, said := run("ask", problem)
	require.Equal(t, exitFailed, code, said)
	require.Empty(t, out)
	require.Contains(t, said, "stopped before it was known")
	code, out, said = run("yield", problem, "--size", "80x110", "--group", "boats")
	require.Equal(t, exitDone, code, said)
	require.Contains(t, out, "With what is on the shelf: at least ")
	require.Contains(t, said, notAllTried)
}
