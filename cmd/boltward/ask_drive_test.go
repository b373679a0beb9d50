package main

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"

	"github.com/stretchr/testify/require"
)

// demoStore is the demo drive in a database of its own.
func demoStore(t testing.TB) (*postgres.Store, string) {
	t.Helper()
	db := demoDatabase(t)
	return postgres.New(db.Pool, time.Now), db.URL
}

// A drive is asked and its lots are held against its shelf from the command line too; the keys
// of --json are held here.
func TestAskAndYieldOfADrive(t *testing.T) {
	store, url := demoStore(t)
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, map[string]string{"DATABASE_URL": url})
		env.Args = args
		code := dispatch(context.Background(), env, commands())
		return code, out.String(), errs.String()
	}
	code, out, errs := say("ask", "--drive", demoDrive, "--json")
	require.Zero(t, code, errs)
	var asked struct {
		Wishes []map[string]json.RawMessage
		Short  []map[string]json.RawMessage
		Whole  struct {
			Missing int
			Cloth   []driveLength
		}
	}
	require.NoError(t, json.Unmarshal([]byte(out), &asked))
	wishes := asked.Wishes
	require.NotEmpty(t, wishes)
	require.NotEmpty(t, asked.Short)
	for _, key := range []string{"line", "missing", "kind", "cloth"} {
		require.Contains(t, asked.Short[0], key)
	}
	for _, key := range []string{"fabric", "fibre", "kind", "washed", "print", "turn", "colours", "themes", "length", "width", "gained", "weight", "lines"} {
		require.Contains(t, wishes[0], key)
	}
	code, out, errs = say("ask", "--drive", demoDrive)
	require.Zero(t, code, errs)
	require.Contains(t, out, "more pillowcase")
	now, err := store.AskedForNow(t.Context(), demoDrive)
	require.NoError(t, err)
	require.Empty(t, now.State, "nothing is kept")
	theWholeNeed(t, store, asked.Whole.Missing, asked.Whole.Cloth, out)

	code, out, errs = say("yield", "--drive", demoDrive, "--size", "108 x 42 in", "--colours", "coral, white", "--washed", "--json")
	require.Zero(t, code, errs)
	var yielded map[string]json.RawMessage
	require.NoError(t, json.Unmarshal([]byte(out), &yielded))
	for _, key := range []string{"alone", "completes", "lines", "waits"} {
		require.Contains(t, yielded, key)
	}
	code, out, errs = say("yield", "--drive", demoDrive, "--size", "108 x 42 in", "--colours", "coral")
	require.Zero(t, code, errs)
	require.Contains(t, out, "It waits: to be washed")
	code, out, errs = say("yield", "--drive", demoDrive, "--lot", "5")
	require.Zero(t, code, errs)
	require.Contains(t, out, "With what is on the shelf:")

	for _, bad := range [][]string{
		{"ask", "--drive", demoDrive, "problem.json"},
		{"yield", "--drive", demoDrive},
		{"yield", "--drive", demoDrive, "--lot", "5", "--size", "3x3"},
		{"yield", "--drive", demoDrive, "--size", "0x3"},
	} {
		code, _, _ = say(bad...)
		require.Equal(t, 2, code, "%v", bad)
	}
	code, _, _ = say("ask", "--drive", "nowhere")
	require.Equal(t, 1, code)
}

// theWholeNeed holds what the command says of all that is short against the store's own plan of
// the same shelf: what is wanted less what is made, and the words that the page has for it.
func theWholeNeed(t *testing.T, store *postgres.Store, missing int, cloth []driveLength, out string) {
	t.Helper()
	_, err := store.RequestAsks(t.Context(), drive.Act{Drive: demoDrive, Key: "whole-need", At: time.Now()})
	require.NoError(t, err)
	work, err := store.BeginAsks(t.Context(), demoDrive)
	require.NoError(t, err)
	found, err := work.Input.FindAsks(t.Context(), work.Plan, length.In, planning.Options{Within: usualWithin, Now: time.Now})
	require.NoError(t, err)
	require.NoError(t, store.FinishAsks(t.Context(), demoDrive, work.At, found))
	kept, err := store.AskedForNow(t.Context(), demoDrive)
	require.NoError(t, err)
	require.Equal(t, kept.Wanted-kept.Made, missing)
	all, needs := drive.AllNeeds(kept.Short)
	require.Equal(t, all, missing)
	words := drive.ClothWords(needs, length.In)
	require.Contains(t, out, fmt.Sprintf("All that is short: %d pillowcases, about %s", missing, words))
	for _, c := range cloth {
		require.Contains(t, words, c.Length+" for ", "JSON says what the page does")
	}
	for _, n := range kept.Short {
		require.Contains(t, out, fmt.Sprintf(": %s of %s", pillowcases(n.Missing), orAny(n.Want.Kind())))
	}
}

// BenchmarkLotBrings is what somebody waits for at intake, on the demo drive: aim under 0.2 s.
func BenchmarkLotBrings(b *testing.B) {
	store, _ := demoStore(b)
	ctx := context.Background()
	cloth := []drive.Cloth{{
		ID: drive.ClothID(900, 1), Pieces: 2, Width: 42 * length.Inch, Length: 108 * length.Inch, Fibre: "cotton", Weight: "quilting", Washed: true,
		Print: drive.PrintSolid, Turn: drive.TurnEither, Colours: []string{"coral"},
	}}
	run := func(b *testing.B) {
		for b.Loop() {
			_, err := store.LotBrings(ctx, demoDrive, cloth)
			require.NoError(b, err)
		}
	}
	b.Run("with no plan kept", run)
	_, err := store.RequestAsks(ctx, drive.Act{Drive: demoDrive, Key: "bench-asks", At: time.Now()})
	require.NoError(b, err)
	work, err := store.BeginAsks(ctx, demoDrive)
	require.NoError(b, err)
	found, err := work.Input.FindAsks(ctx, work.Plan, length.In, planning.Options{Effort: 400})
	require.NoError(b, err)
	require.NoError(b, store.FinishAsks(ctx, demoDrive, work.At, found))
	b.Run("with the plan kept", run)
}
