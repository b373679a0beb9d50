package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/planning"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

// A drive's plan is changed from the command line: shown, then kept and accepted, its bound
// proven by the second checker.
func TestReplanOfADrive(t *testing.T) {
	ctx := context.Background()
	db := pgtest.New(t)
	settings := map[string]string{"DATABASE_URL": db.URL}
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, settings)
		env.Args = args
		code := dispatch(ctx, env, commands())
		return code, out.String(), errs.String()
	}
	env, _, _ := testEnv(t, settings)
	store := postgres.New(db.Pool, env.Now)
	_, err := store.CreateDrive(ctx, commandAct(env, ""), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In))
	require.NoError(t, err)
	code, _, errs := say("replan", "--drive", "spring")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "No plan of spring stands")

	built, ok := sizing.CaseNamed("standard")
	require.True(t, ok)
	z, err := store.CreateSize(ctx, commandAct(env, "spring"), drive.Size{Name: built.Name, Spec: built.Spec})
	require.NoError(t, err)
	r, err := store.CreateRecipient(ctx, commandAct(env, "spring"), drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4"})
	require.NoError(t, err)
	a, err := store.CreateAsked(ctx, commandAct(env, "spring"), drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: 6, Matter: drive.MatterMust})
	require.NoError(t, err)
	for range 2 {
		tagged, err := store.TagLots(ctx, commandAct(env, "spring"), []drive.Tagging{{Donor: "Mill", Pieces: 1, ReceivedOn: drive.Day(env.Now(), time.UTC)}})
		require.NoError(t, err)
		m := drive.Measured{
			Make: drive.Make{Fibre: "cotton", Weight: "quilting", Washed: true, Print: "solid", Colours: []string{"navy"}},
			Cuts: []drive.Cuttings{{Pieces: 1, Length: 190 * length.Inch, Width: 44 * length.Inch}},
		}
		_, err = store.MeasureLot(ctx, commandAct(env, "spring"), tagged.Numbers[0], 1, m)
		require.NoError(t, err)
	}
	number, err := store.RequestPlan(ctx, commandAct(env, "spring"))
	require.NoError(t, err)
	problem, err := store.BeginPlan(ctx, "spring", number)
	require.NoError(t, err)
	plan, err := planning.Solve(ctx, problem, planning.Options{})
	require.NoError(t, err)
	done, err := store.FinishPlan(ctx, "spring", number, plan)
	require.NoError(t, err)
	require.True(t, done)
	_, err = store.AcceptPlan(ctx, commandAct(env, "spring"), number)
	require.NoError(t, err)

	code, out, errs := say("replan", "--drive", "spring")
	require.Zero(t, code, errs)
	require.Contains(t, out, "Nothing would change: plan 1 is still the best there is.")
	code, out, errs = say("replan", "--drive", "spring", "--leave-kits")
	require.Zero(t, code, errs)
	require.Contains(t, out, "the best there is with every kit left as it is.")
	a.Wanted = 4
	_, err = store.UpdateAsked(ctx, commandAct(env, "spring"), a)
	require.NoError(t, err)
	code, out, errs = say("replan", "--drive", "spring")
	require.Zero(t, code, errs)
	require.Contains(t, out, "Makes 4 pillowcases.")
	require.Contains(t, out, "Ward 4, standard: 4, was 6")
	plans, _, err := store.Plans(ctx, "spring", 0, 0)
	require.NoError(t, err)
	require.Len(t, plans, 1, "nothing is kept without being asked for")

	dir := t.TempDir()
	changed, kept := filepath.Join(dir, "new.json"), filepath.Join(dir, "kept.json")
	code, out, errs = say("replan", "--drive", "spring", "--plan", "1", "--keep", "--json", "--out", changed, "--kept", kept)
	require.Zero(t, code, errs)
	var got map[string]json.RawMessage
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	for _, key := range []string{"of", "number", "plan", "problem", "kept", "changed", "gone", "new", "quotas", "recut", "tries"} {
		require.Contains(t, got, key)
	}
	require.Equal(t, []string{"1", "2"}, []string{string(got["of"]), string(got["number"])})
	code, out, errs = say("plan", "--prove", kept, changed)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Proven")
	_, err = os.Stat(changed)
	require.NoError(t, err)
	accepted, err := store.AcceptPlan(ctx, commandAct(env, "spring"), 2)
	require.NoError(t, err)
	require.Equal(t, []any{int64(1), 4}, []any{accepted.Changed, accepted.Cases})
	code, _, errs = say("check")
	require.Zero(t, code, errs)

	// Stopped, the best so far is kept, and told.
	stopped, stop := context.WithCancel(ctx)
	defer stop()
	env, told, _ := testEnv(t, settings)
	ended := planning.Options{Now: func() time.Time { stop(); return time.Now() }}
	require.NoError(t, driveChange{drive: "spring", keep: true, o: ended}.run(stopped, env))
	require.Error(t, stopped.Err())
	require.Contains(t, told.String(), "Kept as plan 3")

	code, _, errs = say("replan", "--drive", "spring", "--plan", "1")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "does not stand")
	code, _, _ = say("replan", "--keep", "a.json", "b.json")
	require.Equal(t, 2, code)
	code, _, _ = say("replan", "--drive", "spring", "a.json")
	require.Equal(t, 2, code)
}
