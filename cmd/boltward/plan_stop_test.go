package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
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
