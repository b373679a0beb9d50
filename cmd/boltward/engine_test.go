package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What else the engine answers, as a person at a terminal asks it.
func TestEngineCommands(t *testing.T) {
	problem := writeProblem(t, smallProblem)
	plan := filepath.Join(t.TempDir(), "plan.json")
	code, _, stderr := runAs(t, commands(), "plan", problem, "--out", plan)
	require.Equal(t, exitDone, code, stderr)

	code, stdout, stderr := runAs(t, commands(), "plan", "--prove", problem, plan)
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Proven: no plan is worth more than 2")
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	lie := filepath.Join(t.TempDir(), "lie.json")
	require.NoError(t, os.WriteFile(lie, []byte(strings.Replace(string(text), `"weight_bound": 2`, `"weight_bound": 1`, 1)), 0o600))
	code, _, stderr = runAs(t, commands(), "plan", "--prove", problem, lie)
	require.Equal(t, exitFailed, code)
	require.Contains(t, stderr, "not proven")

	code, stdout, _ = runAs(t, commands(), "ask", problem, "--plan", plan, "--json")
	require.Equal(t, exitDone, code)
	var wishes []struct {
		Group  string
		Gained int
	}
	require.NoError(t, json.Unmarshal([]byte(stdout), &wishes))
	require.NotNil(t, wishes)

	code, stdout, _ = runAs(t, commands(), "yield", problem, "--plan", plan, "--size", "80x110", "--group", "boats")
	require.Equal(t, exitDone, code)
	require.Contains(t, stdout, "alone: 1 × body of standard")

	code, stdout, _ = runAs(t, commands(), "plan", problem, "--why")
	require.Equal(t, exitDone, code)
	require.Contains(t, stdout, " short. ")
	code, stdout, _ = runAs(t, commands(), "plan", problem, "--why", "--json")
	require.Equal(t, exitDone, code)
	var told struct {
		CasesMade int `json:"cases_made"`
		Short     []struct {
			Missing int
			Text    string
			Lacks   []struct{ Cases int }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(stdout), &told))
	require.NotEmpty(t, told.Short)
	require.NotEmpty(t, told.Short[0].Text)
	require.Equal(t, told.Short[0].Missing, told.Short[0].Lacks[0].Cases)

	out := filepath.Join(t.TempDir(), "new.json")
	code, stdout, stderr = runAs(t, commands(), "replan", problem, plan, "--out", out)
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Changed: none. Fallen away: none. New: none.")
	require.FileExists(t, out)
	code, stdout, stderr = runAs(t, commands(), "replan", problem, plan, "--leave-kits")
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Changed: none. Fallen away: none. New: none.")
}

// What is settled and was misspelt would be planned otherwise, though somebody has cut it.
func TestReplanRefusesSettledThatThePlanDoesNotHave(t *testing.T) {
	problem := writeProblem(t, smallProblem)
	plan := filepath.Join(t.TempDir(), "plan.json")
	code, _, stderr := runAs(t, commands(), "plan", problem, "--out", plan)
	require.Equal(t, exitDone, code, stderr)
	for text, why := range map[string]string{
		`{"kit": ["K1"]}`:        "unknown field",
		`{"kits": ["K1", "K9"]}`: `kits[1]: the plan has no kit "K9"`,
		`{"kits": ["K1"]} {}`:    "something follows",
		`{"kits": ["K1"], "pieces": [{"fabric": "boats", "piece": 2}, {"fabric": "boat", "piece": 1}]}`: `pieces[1]: the plan cuts nothing from piece 1 of "boat"`,
	} {
		code, _, stderr = runAs(t, commands(), "replan", problem, plan, "--settled", writeProblem(t, text))
		require.Equal(t, exitBad, code, text)
		require.Contains(t, stderr, why)
	}
	code, stdout, stderr := runAs(t, commands(), "replan", problem, plan, "--settled", writeProblem(t, "\ufeff"+`{"kits": ["K1"]}`))
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Changed: none")
}

// A problem saved with a byte order mark is planned, proven and read for its sizes as any other.
func TestFilesWithAByteOrderMark(t *testing.T) {
	problem := writeProblem(t, "\ufeff"+smallProblem)
	plan := filepath.Join(t.TempDir(), "plan.json")
	code, _, stderr := runAs(t, commands(), "plan", problem, "--out", plan)
	require.Equal(t, exitDone, code, stderr)
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	code, _, stderr = runAs(t, commands(), "plan", "--prove", problem, writeProblem(t, "\ufeff"+string(text)))
	require.Equal(t, exitDone, code, stderr)
	sizes, err := readSizesFile(problem)
	require.NoError(t, err)
	require.Len(t, sizes, 1)
}

func TestEngineCommandsRefuse(t *testing.T) {
	problem := writeProblem(t, smallProblem)
	for _, args := range [][]string{
		{"ask"},
		{"ask", problem, "--plan", "nowhere.json"},
		{"yield", problem},
		{"yield", problem, "--size", "0x3", "--group", "boats"},
		{"replan", problem},
		{"plan", "--prove", problem},
		{"plan", "--prove", problem, "nowhere.json"},
	} {
		code, _, stderr := runAs(t, commands(), args...)
		require.Equal(t, exitBad, code, "%v", args)
		require.NotEmpty(t, stderr)
	}
}
