package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"boltward/internal/planning"

	"github.com/stretchr/testify/require"
)

// smallProblem is one cut and a few trims, in centimetres; it makes four.
const smallProblem = `{"unit": "cm",
 "fabrics": [
  {"id": "boats", "length": 150, "width": 108.5, "group": "boats", "roles": ["body"], "turn": "either"},
  {"id": "blue", "length": 60, "width": 108.5, "group": "blue", "roles": ["body", "cuff", "accent"]}],
 "cases": [{"id": "standard", "panels": [{"role": "body", "around": 104, "along": 69}, {"role": "cuff", "around": 104, "along": 23}]}],
 "trims": {"boats": ["blue"]},
 "quotas": [{"id": "ward", "cases": ["standard"], "wanted": 6, "bodies": ["boats"]}],
 "kit": {"cases": 4}}`

func writeProblem(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "problem.json")
	require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	return name
}

func TestPlanCommand(t *testing.T) {
	problem := writeProblem(t, smallProblem)
	out := filepath.Join(t.TempDir(), "plan.json")
	code, stdout, stderr := runAs(t, commands(), "plan", problem, "--out", out)
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Makes 2 pillowcases")
	file, err := os.Open(out)
	require.NoError(t, err)
	defer file.Close()
	plan, err := planning.ReadPlan(file)
	require.NoError(t, err)
	asked, err := planning.ReadProblem(strings.NewReader(smallProblem))
	require.NoError(t, err)
	require.Empty(t, planning.Check(asked, plan))

	code, stdout, _ = runAs(t, commands(), "plan", "--json", "--json-progress", problem)
	require.Equal(t, exitDone, code)
	var sum struct {
		Cases int    `json:"cases_made"`
		Bound int    `json:"cases_bound"`
		Why   string `json:"stopped"`
	}
	require.NoError(t, json.Unmarshal([]byte(stdout), &sum))
	require.Equal(t, 2, sum.Cases)
	require.Equal(t, 2, sum.Bound)
	require.Equal(t, "closed", sum.Why)
}

func TestPlanCommandRefuses(t *testing.T) {
	bad := strings.Replace(smallProblem, `"width": 108.5, "group": "boats"`, `"width": -1, "group": "boats"`, 1)
	bad = strings.Replace(bad, `"cases": ["standard"]`, `"cases": ["queen"]`, 1)
	out := filepath.Join(t.TempDir(), "plan.json")
	code, stdout, stderr := runAs(t, commands(), "plan", writeProblem(t, bad), "--out", out)
	require.Equal(t, exitBad, code)
	require.Empty(t, stdout)
	require.Contains(t, stderr, "fabrics[0].width")
	require.Contains(t, stderr, "quotas[0].cases")
	require.NoFileExists(t, out, "nothing is written")
	for _, args := range [][]string{{"plan"}, {"plan", "nowhere.json"}, {"plan", "a", "b"}, {"plan", "--within", "-1s", "a"}} {
		code, _, stderr = runAs(t, commands(), args...)
		require.Equal(t, exitBad, code, "%v", args)
		require.NotEmpty(t, stderr)
	}
}
