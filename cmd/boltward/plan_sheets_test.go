package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
)

func writeFile(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

const (
	fabricSheet = `code,length,width,fibre,print,turn,colours,themes,pieces,washed,flaws
F1,"3 1/2 yd",44,cotton,feature,along,navy/white,space,1,yes,
F2,2.5m,112 cm,cotton,solid,,navy,,1,yes,
F3,18 x 22 in,,cotton,tonal,,white,,4,yes,
`
	quotaSheet = `recipient,size,wanted,due,how much it matters,themes wanted,themes to avoid,kit size
Ward 4,standard,6,2020-01-31,must,space,,3
Shelter,standard,2,,if there is enough,,space,
`
)

func readMade(t *testing.T, problem, plan string) (*planning.Problem, *planning.Plan) {
	t.Helper()
	text, err := os.Open(problem)
	require.NoError(t, err)
	defer text.Close()
	p, err := planning.ReadProblem(text)
	require.NoError(t, err)
	made, err := os.Open(plan)
	require.NoError(t, err)
	defer made.Close()
	out, err := planning.ReadPlan(made)
	require.NoError(t, err)
	return p, out
}

func TestPlanFromSpreadsheets(t *testing.T) {
	fabric, quota := writeFile(t, "fabric.csv", fabricSheet), writeFile(t, "quota.csv", quotaSheet)
	problem, out := filepath.Join(t.TempDir(), "problem.json"), filepath.Join(t.TempDir(), "plan.json")
	code, stdout, stderr := runAs(t, commands(), "plan", "--fabric", fabric, "--quota", quota, "--problem-out", problem, "--out", out, "--effort", "200")
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Makes ")
	p, plan := readMade(t, problem, out)
	require.Empty(t, planning.Check(p, plan))

	require.Equal(t, "mm", p.Unit)
	require.Len(t, p.Fabrics, 3)
	require.Equal(t, planning.Fabric{
		ID: "F1/1", Length: p.Fabrics[0].Length, Width: p.Fabrics[0].Width, Pieces: 1, Group: p.Fabrics[0].Group, Roles: []string{"body"}, Turn: planning.Along,
	}, p.Fabrics[0], "a feature print that lies along is for bodies alone")
	require.Equal(t, []any{"F3/1", 4, planning.Either}, []any{p.Fabrics[2].ID, p.Fabrics[2].Pieces, p.Fabrics[2].Turn})
	require.Equal(t, "Ward 4, standard", p.Quotas[0].ID)
	require.Equal(t, []any{6, 3, planning.Whole(100)}, []any{p.Quotas[0].Wanted, p.Quotas[0].Kit, p.Quotas[0].Weight})
	require.Equal(t, []string{p.Fabrics[0].Group}, p.Quotas[0].Bodies)
	require.NotContains(t, p.Quotas[1].Bodies, p.Fabrics[0].Group)
	require.Equal(t, planning.MM(42*40640-40640), p.Cases[0].Panels[0].Around, "the built-in standard is 41 in around")
}

// The sizes of a problem stand in for the built-in ones, in their own unit.
func TestPlanFromSpreadsheetsWithSizes(t *testing.T) {
	sizes := writeFile(t, "sizes.json", `{"unit": "cm", "cases": [{"id": "Doll", "panels": [{"role": "body", "around": 40, "along": 20.5}]}]}`)
	quota := writeFile(t, "quota.csv", "recipient,size,wanted\nWard 4,doll,3\n")
	problem, out := filepath.Join(t.TempDir(), "problem.json"), filepath.Join(t.TempDir(), "plan.json")
	code, stdout, stderr := runAs(t, commands(), "plan", "--fabric", writeFile(t, "fabric.csv", fabricSheet), "--quota", quota,
		"--sizes", sizes, "--problem-out", problem, "--out", out)
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Makes 3 pillowcases")
	p, plan := readMade(t, problem, out)
	require.Empty(t, planning.Check(p, plan))
	require.Equal(t, []planning.Panel{{Role: "body", Around: planning.Whole(400), Along: planning.Whole(205), Pieces: 1}}, p.Cases[0].Panels)
}

func TestPlanFromTheDemoSpreadsheets(t *testing.T) {
	problem, out := filepath.Join(t.TempDir(), "problem.json"), filepath.Join(t.TempDir(), "plan.json")
	code, stdout, stderr := runAs(t, commands(), "plan", "--fabric", "../../testdata/demo/fabric.csv", "--quota", "../../testdata/demo/asked.csv",
		"--problem-out", problem, "--out", out, "--effort", "100")
	require.Equal(t, exitDone, code, stderr)
	require.Contains(t, stdout, "Makes ")
	require.Contains(t, stderr, "fabric.csv line 15: Taken for cotton")
	p, plan := readMade(t, problem, out)
	require.Empty(t, planning.Check(p, plan))
	require.Len(t, p.Quotas, 5)
}

func TestPlanFromSpreadsheetsRefuses(t *testing.T) {
	fabric, quota := writeFile(t, "fabric.csv", fabricSheet), writeFile(t, "quota.csv", quotaSheet)
	for _, c := range []struct {
		name string
		args []string
		says []string
	}{
		{"one file", []string{"--fabric", fabric}, []string{"needs both"}},
		{"a problem too", []string{"--fabric", fabric, "--quota", quota, "problem.json"}, []string{"either a problem, or"}},
		{"no such unit", []string{"--fabric", fabric, "--quota", quota, "--unit", "ell"}, []string{`not "ell"`}},
		{"no such file", []string{"--fabric", "nowhere.csv", "--quota", quota}, []string{"nowhere.csv: cannot be opened"}},
		{"bad rows", []string{
			"--fabric", writeFile(t, "fabric.csv", "code,length,width,print\nF1,4 km,44,solid\nF1,2 yd,44,solid\n,2 yd,44,solid\n"),
			"--quota", writeFile(t, "quota.csv", "recipient,size,wanted\nWard 4,standard,many\nWard 5,bolster,3\n"),
		}, []string{"fabric.csv line 2, length", "fabric.csv line 3, code", "fabric.csv line 4, code", "quota.csv line 2, wanted", "quota.csv line 3, size"}},
		{"a picture", []string{"--fabric", writeFile(t, "fabric.csv", "\x89PNG\r\n\x1a\n\x00\x00"), "--quota", quota}, []string{"fabric.csv: This is a picture"}},
		{
			"sizes that are none",
			[]string{"--fabric", fabric, "--quota", quota, "--sizes", writeFile(t, "sizes.json", `{"unit": "in", "cases": [{"id": "a", "panels": []}]}`)},
			[]string{"cases[0].panels: a case needs a body"},
		},
		{"sizes in no language", []string{"--fabric", fabric, "--quota", quota, "--sizes", quota}, []string{"is no problem file"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "plan.json")
			code, stdout, stderr := runAs(t, commands(), append([]string{"plan", "--out", out}, c.args...)...)
			require.Equal(t, exitBad, code, stderr)
			require.Empty(t, stdout)
			for _, text := range c.says {
				require.Contains(t, stderr, text)
			}
			require.NoFileExists(t, out)
		})
	}
}
