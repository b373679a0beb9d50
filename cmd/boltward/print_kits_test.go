package main

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/postgres"
)

// Labels and cards of the demo's kits from the command line: of its accepted plan,
// each with the address that its code opens.
func TestPrintOfKits(t *testing.T) {
	ctx := context.Background()
	store, url := demoStore(t)
	settings := map[string]string{"DATABASE_URL": url, "BOLTWARD_URL": "https://drive.example.org/"}
	out := filepath.Join(t.TempDir(), "kits.pdf")
	say := func(args ...string) (int, string) {
		env, _, errs := testEnv(t, settings)
		env.Args = append([]string{"print"}, args...)
		code := dispatch(ctx, env, commands())
		return code, errs.String()
	}
	code, errs := say("kit-labels", "--drive", demoDrive, "--out", out)
	require.Equal(t, 0, code, errs)
	require.Contains(t, errs, "labels for the kits of plan")
	kits := kitsOfDemo(t, store)
	labels := readFile(t, out)
	for _, k := range kits {
		require.Contains(t, strings.Fields(printed(t, labels)), k)
	}
	code, errs = say("kit-cards", "--drive", demoDrive, "--size", "a4", "--out", out)
	require.Equal(t, 0, code, errs)
	text := strings.Join(strings.Fields(printed(t, readFile(t, out))), " ")
	for _, k := range kits {
		require.Contains(t, text, "Slip for kit "+k+": tear off")
	}
	require.Contains(t, text, "Rotary cutter: the blade is as sharp as a scalpel")
	for _, wrong := range [][]string{
		{"kit-labels", "--drive", demoDrive, "--plan", "999", "--out", out},
		{"kit-cards", "--drive", demoDrive, "--size", "a3", "--out", out},
		{"kit-labels", "--drive", demoDrive, "--start", "99", "--out", out},
		{"kit-cards", "--drive", "nowhere", "--out", out},
	} {
		code, errs := say(wrong...)
		require.NotEqual(t, 0, code, "%v", wrong)
		require.NotEmpty(t, errs)
	}
}

func kitsOfDemo(t *testing.T, store *postgres.Store) []string {
	t.Helper()
	plan, err := store.PlanToCut(context.Background(), demoDrive, 0)
	require.NoError(t, err)
	refs, err := store.KitsOfPlan(context.Background(), demoDrive, plan)
	require.NoError(t, err)
	require.NotEmpty(t, refs)
	var names []string
	for _, ref := range refs {
		names = append(names, ref.String())
	}
	return names
}
