package planning

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

const shared = "../../../shared"

// drive gives an invented drive of the shared generator, or skips.
func drive(t testing.TB, seed, fabrics string, more ...string) *Problem {
	gen := filepath.Join(shared, "peer", "gen.py")
	if _, err := os.Stat(gen); err != nil {
		t.Skip("the shared folder with the generator of drives is not here")
	}
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("python3 is not here, which the generator of drives needs")
	}
	out, err := exec.Command(python, append([]string{gen, seed, fabrics, "4"}, more...)...).Output()
	require.NoError(t, err)
	p, err := ReadProblem(bytes.NewReader(out))
	require.NoError(t, err)
	return p
}

// requireValid holds a plan to both checks: ours, and the shared one where it is present.
func requireValid(t testing.TB, p *Problem, plan *Plan) {
	require.Empty(t, Check(p, plan))
	script := filepath.Join(shared, "check", "check_plan.py")
	python, err := exec.LookPath("python3")
	if _, missing := os.Stat(script); missing != nil || err != nil {
		return
	}
	dir := t.TempDir()
	write := func(name string, v any) string {
		data, err := json.Marshal(v)
		require.NoError(t, err)
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, data, 0o600))
		return path
	}
	out, err := exec.Command(python, script, write("problem.json", p), write("plan.json", plan)).CombinedOutput()
	require.NoError(t, err, "the shared check says: %s", out)
}

func TestPlansOfInventedDrivesAreValid(t *testing.T) {
	sizes, effort := []string{"10", "30", "300"}, int64(120)
	if long() {
		sizes, effort = []string{"10", "30", "60", "300", "1000"}, 0
	}
	for _, n := range sizes {
		for _, seed := range []string{"1", "2", "3"} {
			p := drive(t, seed, n)
			plan, err := Solve(context.Background(), p, Options{Effort: effort})
			require.NoError(t, err)
			requireValid(t, p, plan)
			requireProven(t, p, plan)
			t.Logf("%s fabrics, seed %s: made %s of at most %s, %.2f s, %s", n, seed, plan.Summary.WeightMade, plan.Summary.WeightBound, plan.Summary.Seconds, plan.Summary.Stopped)
		}
	}
}
