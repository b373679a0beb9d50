package main

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// fabricIn gives a drive with two unwashed lots of one piece, 41 × 106 in usable, and
// what runs a command in it.
func fabricIn(t *testing.T) (*postgres.Store, func(args ...string) (int, string, string)) {
	t.Helper()
	db := pgtest.New(t)
	settings := map[string]string{"DATABASE_URL": db.URL}
	now := func() time.Time { return time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC) }
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, settings)
		env.Now, env.Args = now, args
		code := dispatch(context.Background(), env, commands())
		return code, out.String(), errs.String()
	}
	env, _, _ := testEnv(t, settings)
	env.Now = now
	store, ctx := postgres.New(db.Pool, now), context.Background()
	_, err := store.CreateDrive(ctx, commandAct(env, ""), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In))
	require.NoError(t, err)
	day := drive.Day(now(), time.UTC)
	tagged, err := store.TagLots(ctx, commandAct(env, "spring"), []drive.Tagging{{Pieces: 1, ReceivedOn: day, Shelf: "A1"}, {Pieces: 1, ReceivedOn: day, Donor: "=Orla", Shelf: "A2"}})
	require.NoError(t, err)
	for _, lot := range tagged.Numbers {
		_, err := store.MeasureLot(ctx, commandAct(env, "spring"), lot, 1, drive.Measured{
			Make: drive.Make{Fibre: "cotton", Weight: "quilting", Print: drive.PrintSolid, Colours: []string{"navy"}},
			Cuts: []drive.Cuttings{{Pieces: 1, Length: 3 * length.Yard, Width: 44 * length.Inch}},
		})
		require.NoError(t, err)
	}
	return store, say
}

func TestFabricCommand(t *testing.T) {
	store, say := fabricIn(t)
	do := func(pieces string, args ...string) (said string) {
		t.Helper()
		code, out, errs := say(append([]string{"fabric"}, append(args, "--drive", "spring", "--json")...)...)
		require.Zero(t, code, errs)
		var got struct {
			Lot, Deed int64
			Pieces    json.RawMessage
		}
		require.NoError(t, json.Unmarshal([]byte(out), &got), out)
		require.Positive(t, got.Deed)
		require.Equal(t, pieces, string(got.Pieces))
		return errs
	}
	do("[2]", "wash", "1", "--size", "1=40in x 100in")
	require.Contains(t, do("[3]", "part", "1/2", "--flaw", "30 to 34 in from the edge"), "is not said: it is cut out across", "what was taken for granted")
	do("[4,5]", "part", "1/3", "--border", "9in")
	do("[2,3,4]", "part", "2/1", "--borders", "9 in")
	do("[5,6]", "part", "2/3", "--strip", "9in")
	do("[]", "give", "1/2", "--length", "6in", "--why", "to the guild")
	do("[]", "discard", "1/5", "--all", "--why", "mildew")
	do("[]", "square", "1/2", "--length", "1in")
	do("[6]", "remnant", "1/2", "--width", "10in", "--length", "6in", "--why", "kept")
	do("[]", "count", "1/2", "--length", "20in", "--why", "counted again")
	code, out, errs := say("fabric", "show", "1", "--drive", "spring", "--json")
	require.Zero(t, code, errs)
	var shown struct {
		Pieces  []shownPiece
		History []shownEntry
	}
	require.NoError(t, json.Unmarshal([]byte(out), &shown), out)
	require.Len(t, shown.Pieces, 6)
	require.Equal(t, "508", shown.Pieces[1].Length)
	require.Equal(t, "516128", shown.Pieces[1].Free)
	last := shown.History[len(shown.History)-1]
	require.EqualValues(t, 10, *last.Deed)
	code, out, errs = say("fabric", "show", "1", "--drive", "spring")
	require.Zero(t, code, errs)
	require.Contains(t, out, "Lost in the wash")
	code, _, errs = say("fabric", "undo", "1", "--drive", "spring", "--deed", "2")
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "Undo that first")
	do("[]", "undo", "1", "--deed", "10")
	for _, counts := range [][]string{{"fabric", "count", "1/2", "--length", "30 yd", "--why", "counted again"}, {"stocktake", "count", "1", "--length", "2=60 yd"}} {
		if counts[0] == "stocktake" {
			code, _, errs = say("stocktake", "begin", "--drive", "spring")
			require.Zero(t, code, errs)
		}
		counts = append(counts, "--drive", "spring")
		code, _, errs = say(counts...)
		require.Equal(t, exitBad, code, errs)
		require.Contains(t, errs, "0 yd is far more than the")
		require.Contains(t, errs, "--sure: Add it where the tape says so, or mend --length.")
		require.NotContains(t, errs, "Tick")
		code, _, errs = say(append(counts, "--sure")...)
		require.Zero(t, code, errs)
	}

	for _, tt := range []struct {
		args []string
		says string
	}{
		{[]string{"count", "1", "--length", "2yd"}, "say which piece"},
		{[]string{"wash", "1/1"}, "whole lot"},
		{[]string{"melt", "1"}, "nothing that can be done"},
		{[]string{"show", "x"}, "no lot or piece"},
		{[]string{"count", "1/2"}, "--length: Give the length"},
		{[]string{"count", "1/2", "--length", "wide"}, "--length:"},
		{[]string{"part", "1/2", "--flaw", "a hole"}, "--flaw:"},
		{[]string{"wash", "2", "--size", "big"}, "--size:"},
		{[]string{"discard", "1/2", "--all"}, "reason: Say why"},
	} {
		code, out, errs := say(append([]string{"fabric"}, append(tt.args, "--drive", "spring")...)...)
		require.Equal(t, exitBad, code, "%s: %s", tt.args, errs)
		require.Empty(t, out)
		require.Contains(t, errs, tt.says, "%s", tt.args)
	}
	code, out, errs = say("fabric", "list", "--drive", "spring", "--shelf", "A2")
	require.Zero(t, code, errs)
	require.Contains(t, out, "\r\n2,,,'=Orla,2026-11-25,A2,yes")
	require.NotContains(t, out, "\r\n1,")
	code, out, errs = say("fabric", "list", "--drive", "spring", "--shelf", "A2", "--json")
	require.Zero(t, code, errs)
	var listed struct{ Lots []map[string]any }
	require.NoError(t, json.Unmarshal([]byte(out), &listed), out)
	require.Len(t, listed.Lots, 1)
	require.Equal(t, []any{2.0, nil, "=Orla", "2026-11-25", "A2", true}, []any{
		listed.Lots[0]["lot"], listed.Lots[0]["tag"], listed.Lots[0]["given_by"], listed.Lots[0]["came_in"], listed.Lots[0]["shelf"], listed.Lots[0]["measured"],
	}, out)
	require.Len(t, listed.Lots[0], 21, out)
	require.Equal(t, []any{4.0, "0"}, []any{listed.Lots[0]["free_pieces"], listed.Lots[0]["promised"]})
	// Nobody knows what is free of a lot before it is measured: that is no 0.
	_, err := store.TagLots(t.Context(), drive.Act{Drive: "spring", Key: "not measured", At: time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC)}, []drive.Tagging{{Pieces: 2, ReceivedOn: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), Shelf: "Z8"}})
	require.NoError(t, err)
	_, out, _ = say("fabric", "list", "--drive", "spring", "--shelf", "Z8", "--json")
	require.NoError(t, json.Unmarshal([]byte(out), &listed), out)
	require.Len(t, listed.Lots[0], 21, out)
	for _, field := range []string{"free_pieces", "width", "free_length", "free_length_together", "free"} {
		require.Nil(t, listed.Lots[0][field], "%s: %s", field, out)
	}
	code, out, errs = say("fabric", "list", "--drive", "spring", "--shelf", "Z9", "--json")
	require.Zero(t, code, errs)
	require.JSONEq(t, `{"lots": []}`, out)
	balances, err := store.CheckBalances(context.Background())
	require.NoError(t, err)
	require.Empty(t, balances.Differences)
}
