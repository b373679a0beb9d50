package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// The wrong file is listed, looked at and taken back; what somebody has touched stays and is named.
func TestImportUndoCommand(t *testing.T) {
	db := pgtest.New(t)
	now := func() time.Time { return time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC) }
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, map[string]string{"DATABASE_URL": db.URL})
		env.Now, env.Args = now, append([]string{"import"}, args...)
		code := dispatch(context.Background(), env, commands())
		return code, out.String(), errs.String()
	}
	env, _, _ := testEnv(t, nil)
	env.Now = now
	store, ctx := postgres.New(db.Pool, now), context.Background()
	_, err := store.CreateDrive(ctx, commandAct(env, ""), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In))
	require.NoError(t, err)
	code, out, errs := say("list", "--drive", "spring")
	require.Zero(t, code, errs)
	require.Empty(t, out)
	require.Contains(t, errs, "No spreadsheet was brought in yet.")

	folder := t.TempDir()
	for name, text := range map[string]string{"a.csv": "Code;Yardage;Width;Given by\nX1;2,5 m;110 cm;Orla\nX2;3 m;110 cm;Orla\n", "b.csv": "Code;Yardage;Width\nX3;2,5 m;110 cm\n"} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	for _, name := range []string{"a.csv", "b.csv"} {
		code, _, errs = say("fabric", filepath.Join(folder, name), "--drive", "spring")
		require.Zero(t, code, errs)
	}
	_, err = store.SetAside(ctx, commandAct(env, "spring"), 2, "mildew")
	require.NoError(t, err)

	code, out, errs = say("list", "--drive", "spring", "--json")
	require.Zero(t, code, errs)
	require.JSONEq(t, `{"imports": [
		{"import": 2, "list": "fabric", "rows": 1, "at": "2026-11-25T10:00:00Z", "who": "", "left": 1, "undone": 0},
		{"import": 1, "list": "fabric", "rows": 2, "at": "2026-11-25T10:00:00Z", "who": "", "left": 3, "undone": 0}]}`, out)

	const stays = `"stays": [{"kind": "lot", "number": 2, "name": "X2", "why": "Lot 2 was changed since."}, {"kind": "donor", "number": 1, "name": "Orla", "why": "Gave a lot that stays."}]}`
	for _, how := range [][]string{{"--dry-run"}, {"--dry-run"}, nil} { // a look takes nothing
		code, out, errs = say(append([]string{"undo", "1", "--drive", "spring", "--json"}, how...)...)
		require.Equal(t, exitBad, code, "%s %s", out, errs)
		require.JSONEq(t, `{"import": 1, "undone": 1, `+stays, out)
		require.Contains(t, errs, "was used or changed since stays")
	}
	code, out, errs = say("undo", "1", "--drive", "spring")
	require.Equal(t, exitFailed, code, "nothing of what is left goes")
	require.Equal(t, "0 taken back, 2 stay.\nlot 2, X2: Lot 2 was changed since.\ndonor 1, Orla: Gave a lot that stays.\n", out)
	require.Contains(t, errs, "so it stays")
	code, _, errs = say("undo", "1", "--drive", "spring", "--dry-run")
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "Nothing of it would be taken back.")

	code, out, errs = say("undo", "2", "--drive", "spring", "--dry-run")
	require.Zero(t, code, errs)
	require.Equal(t, "1 would be taken back, 0 stay.\n", out)
	code, out, errs = say("undo", "2", "--drive", "spring")
	require.Zero(t, code, errs)
	require.Equal(t, "1 taken back, 0 stay.\n", out)
	code, out, errs = say("list", "--drive", "spring")
	require.Zero(t, code, errs)
	require.Regexp(t, `2 +fabric +1 +2026-11-25 10:00 +the command line +taken back\n1 +fabric +2 +2026-11-25 10:00 +the command line +1 taken back, 2 here`, out)
	balances, err := store.CheckBalances(ctx)
	require.NoError(t, err)
	require.Empty(t, balances.Differences)

	for name, test := range map[string]struct {
		args []string
		code int
		says string
	}{
		"which":       {[]string{"undo", "--drive", "spring"}, exitBad, "say which"},
		"no number":   {[]string{"undo", "first", "--drive", "spring"}, exitBad, "no number of an import"},
		"no drive":    {[]string{"undo", "1"}, exitBad, "--drive"},
		"no such one": {[]string{"undo", "9", "--drive", "spring"}, exitFailed, "Nothing was brought in under this number."},
		"again":       {[]string{"undo", "2", "--drive", "spring"}, exitFailed, "taken back already"},
		"odd flag":    {[]string{"undo", "2", "--drive", "spring", "--take-good"}, exitBad, "--take-good has nothing to do with import undo"},
		"too much":    {[]string{"list", "all", "--drive", "spring"}, exitBad, "out of place"},
		"autumn":      {[]string{"list", "--drive", "autumn"}, exitFailed, "no drive"},
	} {
		code, _, errs := say(test.args...)
		require.Equal(t, test.code, code, "%s: %s", name, errs)
		require.Contains(t, errs, test.says, name)
	}
}
