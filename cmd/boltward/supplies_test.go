package main

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// commandsIn gives a drive with two measured lots and a way to run commands on it.
func commandsIn(t *testing.T) func(args ...string) (int, string, string) {
	t.Helper()
	db := pgtest.New(t)
	settings := map[string]string{"DATABASE_URL": db.URL}
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, settings)
		env.Args = args
		code := dispatch(context.Background(), env, commands())
		return code, out.String(), errs.String()
	}
	env, _, _ := testEnv(t, settings)
	store := postgres.New(db.Pool, env.Now)
	ctx := context.Background()
	_, err := store.CreateDrive(ctx, commandAct(env, ""), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In))
	require.NoError(t, err)
	for range 2 {
		tagged, err := store.TagLots(ctx, commandAct(env, "spring"), []drive.Tagging{{Pieces: 1, ReceivedOn: drive.Day(time.Now(), time.UTC)}})
		require.NoError(t, err)
		m := drive.Measured{Cuts: []drive.Cuttings{{Length: 100 * length.Inch, Width: 44 * length.Inch, Pieces: 1}}}
		m.Make = drive.Make{Fibre: "cotton", Weight: "quilting", Print: drive.PrintFeature, Turn: drive.TurnEither, Washed: true}
		_, err = store.MeasureLot(ctx, commandAct(env, "spring"), tagged.Numbers[0], 1, m)
		require.NoError(t, err)
	}
	return say
}

func TestSuppliesCommand(t *testing.T) {
	say := commandsIn(t)
	code, out, errs := say("supplies", "add", "white thread", "--drive", "spring", "--have", "12", "--unit", "spools", "--used", "1", "--kits", "4")
	require.Zero(t, code, errs)
	require.Equal(t, "Supply 1: there are 12.\n", out)
	code, out, _ = say("supplies", "came", "1", "--drive", "spring", "--n", "10", "--json")
	require.Zero(t, code)
	require.JSONEq(t, `{"number": 1, "have": 22}`, out)
	code, _, errs = say("supplies", "went", "1", "--drive", "spring", "--n", "30")
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "Only 22 are booked")
	code, _, errs = say("supplies", "change", "1", "--drive", "spring", "--have", "5")
	require.Zero(t, code, errs)
	code, out, _ = say("supplies", "list", "--drive", "spring", "--json")
	require.Zero(t, code)
	require.JSONEq(t, `{"kits": 0, "supplies": [{"number": 1, "name": "white thread", "unit": "spools", "have": 5, "used": 1, "kits": 4, "enough_for": 20, "short": false}]}`, out)
	code, _, errs = say("supplies", "burn", "1", "--drive", "spring")
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "is nothing that can be done")
	code, out, _ = say("supplies", "retire", "1", "--drive", "spring", "--json")
	require.Zero(t, code)
	require.JSONEq(t, `{"number": 1, "have": 5}`, out)
	code, out, _ = say("supplies", "list", "--drive", "spring")
	require.Zero(t, code)
	require.NotContains(t, out, "white thread")
}

func TestStocktakeCommand(t *testing.T) {
	say := commandsIn(t)
	code, _, errs := say("stocktake", "show", "--drive", "spring")
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "No stocktake is open")
	code, out, errs := say("stocktake", "begin", "--drive", "spring", "--json")
	require.Zero(t, code, errs)
	require.JSONEq(t, `{"stocktake": 1}`, out)
	code, out, errs = say("stocktake", "count", "1", "--drive", "spring")
	require.Zero(t, code, errs)
	require.Equal(t, "Lot 1 is as booked.\n", out)
	code, _, errs = say("stocktake", "count", "2", "--drive", "spring", "--length", "2 yd")
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "does not say which piece")
	code, out, errs = say("stocktake", "count", "2", "--drive", "spring", "--length", "1=2 yd", "--json")
	require.Zero(t, code, errs)
	require.JSONEq(t, `{"stocktake": 1, "lot": 2, "differs": true}`, out)
	code, out, errs = say("stocktake", "count", "2", "--drive", "spring", "--length", "1=1 yd")
	require.Zero(t, code, errs)
	require.Equal(t, "Lot 2 differs.\n", out)
	code, out, _ = say("stocktake", "show", "--drive", "spring")
	require.Zero(t, code)
	require.Contains(t, out, "2 lots counted, 1 differ, 0 to count.")
	require.Contains(t, out, "lay there 1 yd")
	code, _, _ = say("stocktake", "post", "--drive", "spring")
	require.Equal(t, exitBad, code, "without a reason")
	code, out, errs = say("stocktake", "post", "--drive", "spring", "--why", "counted")
	require.Zero(t, code, errs)
	require.Equal(t, "Stocktake 1 is posted: 2 lots counted, 1 differed.\n", out)
	code, _, errs = say("fabric", "undo", "2", "--drive", "spring", "--deed", "1")
	require.Zero(t, code, errs)
}
