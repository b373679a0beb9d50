package main

import (
	"context"
	"errors"
	"io"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// nobodyReads is standard output that takes nothing, as on a full disk.
type nobodyReads struct{}

func (nobodyReads) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

var _ io.Writer = nobodyReads{}

// What could not be written is no success, whichever line of it was the first that could not.
func TestPlanThatCannotBeTold(t *testing.T) {
	problem := writeProblem(t, smallProblem)
	made := filepath.Join(t.TempDir(), "plan.json")
	for _, args := range [][]string{{"plan", problem, "--out", made}, {"replan", problem, made}} {
		env, _, errs := testEnv(t, nil)
		env.Args, env.Stdout = args, nobodyReads{}
		require.Equal(t, exitFailed, dispatch(context.Background(), env, commands()), args)
		require.Contains(t, errs.String(), "no space left on device", args)
	}
}

// That a plan cannot be written where it is to go is said before it is worked out, not after.
func TestPlanToNowhere(t *testing.T) {
	problem := writeProblem(t, smallProblem)
	nowhere := filepath.Join(t.TempDir(), "gone", "plan.json")
	for flag, args := range map[string][]string{
		"--out":  {"plan", problem, "--out", nowhere},
		"--kept": {"replan", problem, problem, "--kept", nowhere},
	} {
		code, out, errs := runAs(t, commands(), args...)
		require.Equal(t, exitBad, code, flag)
		require.Empty(t, out)
		require.Contains(t, errs, flag+": There is no folder", flag)
		require.NotContains(t, errs, "at most", "nothing was worked out")
	}
}
