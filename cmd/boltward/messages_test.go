package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// toldAProgram runs the real program and reads its standard error as a program does: each line an object.
func toldAProgram(t *testing.T, args ...string) (code int, objects []map[string]any) {
	t.Helper()
	binary, err := built()
	require.NoError(t, err)
	cmd := exec.Command(binary, args...)
	var errs bytes.Buffer
	cmd.Env, cmd.Stderr = settings{"BOLTWARD_DATA": t.TempDir()}.list(), &errs
	if err = cmd.Run(); err != nil {
		var ended *exec.ExitError
		require.ErrorAs(t, err, &ended)
		code = ended.ExitCode()
	}
	for _, line := range lines(errs.String()) {
		var o map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &o), "%v: %s", args, line)
		objects = append(objects, o)
	}
	return code, objects
}

// with gives the objects that have a key, and what they say by it.
func with(objects []map[string]any, key string) (texts []string) {
	for _, o := range objects {
		if text, ok := o[key].(string); ok {
			texts = append(texts, text)
		}
	}
	return texts
}

// Who reads progress line by line reads notes and faults so too: a sentence between the objects
// would end most readers.
func TestEachLineForAProgramIsAnObject(t *testing.T) {
	t.Parallel()
	problem := writeProblem(t, strings.Replace(smallProblem, `"group": "boats"`, `"peices": 2, "group": "boats"`, 1))
	plan := filepath.Join(t.TempDir(), "plan.json")
	code, said := toldAProgram(t, "plan", problem, "--out", plan, "--json-progress")
	require.Equal(t, exitDone, code)
	require.Len(t, with(said, "note"), 1)
	require.Contains(t, with(said, "note")[0], "peices")
	require.NotEmpty(t, with(said, "phase"))

	for _, args := range [][]string{
		{"replan", problem, plan, "--json-progress"},
		{"ask", problem, "--json-progress"},
		{"yield", problem, "--size", "80x110", "--group", "boats", "--json-progress"},
	} {
		code, said = toldAProgram(t, args...)
		require.Equal(t, exitDone, code, "%v", args)
		require.Len(t, with(said, "note"), 1, "%v", args)
		require.NotEmpty(t, with(said, "phase"), "%v", args)
	}

	bad := writeProblem(t, strings.Replace(smallProblem, `"width": 108.5, "group": "boats"`, `"width": -1, "group": "boats"`, 1))
	code, said = toldAProgram(t, "plan", "--json-progress", bad)
	require.Equal(t, exitBad, code)
	require.Equal(t, []string{"fabrics[0].width"}, with(said, "at"))
	require.Len(t, with(said, "error"), 1)

	fabric, quota := tables(t)
	code, said = toldAProgram(t, "plan", "--json-progress", "--fabric", fabric, "--quota", quota)
	require.Equal(t, exitDone, code, said)
	require.NotEmpty(t, with(said, "note"), "what was taken for granted")

	for _, args := range [][]string{
		{"plan", "--json-progress"},
		{"plan", "--no-such-flag", "--json-progress"},
		{"plan", "--json-progress=maybe", problem},
		{"ask", "--json-progress", "nowhere.json"},
		{"yield", "--json-progress", problem},
		{"drives", "--json-progress"},
	} {
		code, said = toldAProgram(t, args...)
		require.Equal(t, exitBad, code, "%v", args)
		require.NotEmpty(t, with(said, "error"), "%v", args)
	}
}

// tables are a spreadsheet of fabric, where a fibre is not said, and one of what is asked for.
func tables(t *testing.T) (fabric, quota string) {
	t.Helper()
	fabric = filepath.Join(t.TempDir(), "fabric.csv")
	quota = filepath.Join(t.TempDir(), "quota.csv")
	require.NoError(t, writeWhole(fabric, []byte("code,length,width,fibre,print,colours\nA1,3 yd,44 in,cotton,solid,navy\nA2,2 yd,44 in,cotton,solid,white\nA3,2 yd,44 in,,solid,white\n")))
	require.NoError(t, writeWhole(quota, []byte("recipient,size,wanted\nWard 4,standard,3\n")))
	return fabric, quota
}

func TestMessages(t *testing.T) {
	var out bytes.Buffer
	m := &messages{out: &out}
	for _, part := range []string{"half a ", "sentence <b>\n\n{\"made\": 1}\n{not an", " object}\nno end"} {
		n, err := m.Write([]byte(part))
		require.NoError(t, err)
		require.Len(t, part, n)
	}
	m.end()
	require.Equal(t, "{\"note\":\"half a sentence <b>\"}\n{\"made\": 1}\n{\"note\":\"{not an object}\"}\n{\"note\":\"no end\"}\n", out.String())
	out.Reset()
	m.failed(errors.New("it broke"))
	require.Equal(t, "{\"error\":\"it broke\"}\n", out.String())

	for args, want := range map[string]bool{
		"p.json --json-progress":            true,
		"-json-progress p.json":             true,
		"--json-progress=false p.json":      false,
		"--json-progress=true":              true,
		"-- --json-progress":                false,
		"--json p.json":                     false,
		"json-progress":                     false,
		"--json-progress --json-progress=0": false,
	} {
		require.Equal(t, want, asksForObjects(strings.Fields(args)), args)
	}
}
