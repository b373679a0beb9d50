package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
)

func TestProgressForPrograms(t *testing.T) {
	code, _, stderr := runAs(t, commands(), "plan", "--json-progress", writeProblem(t, smallProblem))
	require.Equal(t, exitDone, code)
	told := lines(stderr)
	var last map[string]any
	for _, line := range told {
		last = nil
		require.NoError(t, json.Unmarshal([]byte(line), &last), line)
		for _, key := range []string{"made", "bound", "cases", "phase", "seconds"} {
			require.Contains(t, last, key)
		}
	}
	require.Equal(t, []any{2.0, 2.0, 2.0, 2.0}, []any{last["made"], last["bound"], last["cases"], last["cases_bound"]})
}

// Each new figure is told at once; what is being done, only when that lasts.
func TestProgressIsThinned(t *testing.T) {
	at := time.Unix(0, 0)
	step := func(after time.Duration, cases int, phase string) planning.Progress {
		at = at.Add(after)
		return planning.Progress{Made: planning.Whole(int64(cases)), Bound: planning.Whole(9), Cases: cases, CasesBound: 9, Phase: phase}
	}
	tell := func(asJSON bool) []string {
		var out bytes.Buffer
		m := newPlanMeter(t.Context(), Env{Stderr: &out, Now: func() time.Time { return at }}, asJSON)
		m.show(step(0, 1, "cutting"))
		for range 3 {
			m.show(step(10*time.Millisecond, 1, "improving"))
			m.show(step(10*time.Millisecond, 1, "proving"))
		}
		m.show(step(10*time.Millisecond, 2, "improving"))
		m.show(step(time.Second, 2, "improving"))
		m.show(step(time.Second, 2, "saving cloth"))
		m.end()
		return lines(out.String())
	}
	require.Len(t, tell(true), 3)
	require.Contains(t, tell(true)[2], `"phase":"saving cloth"`)
	require.Equal(t, []string{
		"1 of at most 9 pillowcases, 0.0 s: laying out a first plan",
		"2 of at most 9 pillowcases, 0.0 s: looking for a better way to cut, or for proof that there is none",
	}, tell(false))
}

func TestProgressInWords(t *testing.T) {
	m := newPlanMeter(t.Context(), Env{Stderr: &bytes.Buffer{}, Now: time.Now}, false)
	require.Equal(t, "looking at the problem", m.words())
	m.show(planning.Progress{Made: planning.Whole(120), Bound: planning.Whole(131), Cases: 3, CasesBound: 5, Phase: "proving", Seconds: 1.26})
	require.Equal(t, "3 of at most 5 pillowcases, worth 120 of at most 131, 1.3 s: looking for a better way to cut, or for proof that there is none", m.words())
	require.False(t, strings.Contains(m.words(), "\n"))
	m.show(planning.Progress{Made: planning.Whole(131), Bound: planning.Whole(131), Cases: 4, CasesBound: 5, Phase: "saving cloth", Seconds: 1.3})
	require.Equal(t, "4 of at most 5 pillowcases, worth 131 of at most 131, 1.3 s: closed, nothing better is possible: looking for a way to make the same from less cloth", m.words())
}
