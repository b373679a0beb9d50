package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

func TestImportCommand(t *testing.T) {
	db := pgtest.New(t)
	settings := map[string]string{"DATABASE_URL": db.URL}
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, settings)
		env.Now = func() time.Time { return time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC) }
		env.Args = append([]string{"import"}, args...)
		code := dispatch(context.Background(), env, commands())
		return code, out.String(), errs.String()
	}
	env, _, _ := testEnv(t, settings)
	store := postgres.New(db.Pool, env.Now)
	_, err := store.CreateDrive(context.Background(), commandAct(env, ""), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In))
	require.NoError(t, err)
	for _, name := range []string{"standard", "queen", "travel"} {
		built, ok := sizing.CaseNamed(name)
		require.True(t, ok)
		_, err := store.CreateSize(context.Background(), commandAct(env, "spring"), drive.Size{Name: built.Name, Spec: built.Spec})
		require.NoError(t, err)
	}
	report := func(out string) (r drive.ImportReport) {
		t.Helper()
		require.NoError(t, json.Unmarshal([]byte(out), &r), out)
		return r
	}
	demo := func(name string) string { return filepath.Join("..", "..", "testdata", "demo", name) }

	code, out, errs := say("fabric", demo("fabric.csv"), "--drive", "spring", "--dry-run", "--json")
	require.Zero(t, code, errs)
	would := report(out)
	code, out, errs = say("fabric", demo("fabric.csv"), "--drive", "spring", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, would, report(out), "a dry run says what happens")
	require.Equal(t, would.Rows, would.Taken)
	require.Contains(t, out, `"refused":[]`)
	code, out, _ = say("fabric", demo("fabric.csv"), "--drive", "spring", "--json")
	require.Zero(t, code)
	require.Equal(t, would.Rows, report(out).Unchanged, "the same file twice changes nothing")
	for kind, file := range map[string]string{"volunteers": "people.csv", "asked": "asked.csv"} {
		code, out, errs = say(kind, demo(file), "--drive", "spring", "--json")
		require.Zero(t, code, "%s: %s", kind, errs)
		require.Positive(t, report(out).Taken, kind)
	}

	bad := filepath.Join(t.TempDir(), "bad.csv")
	require.NoError(t, os.WriteFile(bad, []byte("Code;Yardage;Width;Given by\nX1;2,5 m;110 cm;Orla\nX2;4 km;110 cm;Orla\nX3;4000 m;44\";Orla\nX1;1 yd;44;Orla\n"), 0o600))
	code, out, errs = say("fabric", bad, "--drive", "spring", "--json")
	require.Equal(t, exitBad, code)
	r := report(out)
	require.Zero(t, r.Taken)
	require.Len(t, r.Refused, 3)
	require.Equal(t, drive.Refusal{Line: 4, Column: "Yardage", Why: r.Refused[1].Why}, r.Refused[1])
	require.Contains(t, r.Refused[1].Why, "longer than any bolt")
	require.Contains(t, r.Refused[2].Why, "stands on line 2 already")
	require.Contains(t, errs, "--take-good takes the 1 good ones")
	code, out, errs = say("fabric", bad, "--drive", "spring", "--take-good", "--refused", filepath.Join(bad, "mend.xlsx"))
	require.Equal(t, exitBad, code)
	require.Empty(t, out)
	require.Contains(t, errs, "--refused: There is no folder")
	folder := filepath.Join(t.TempDir(), "mend.xlsx")
	require.NoError(t, os.Mkdir(folder, 0o700))
	code, out, errs = say("fabric", bad, "--drive", "spring", "--take-good", "--refused", folder)
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "Cannot write ")
	require.Contains(t, out, "4 rows: 1 taken, 0 here already, 3 refused.", "what was taken is told although the rest could not be written")
	require.Contains(t, out, "line 4, Yardage: ")

	mend := filepath.Join(t.TempDir(), "mend.xlsx")
	code, _, _ = say("fabric", bad, "--drive", "spring", "--dry-run", "--refused", mend)
	require.Equal(t, exitBad, code)
	code, out, _ = say("fabric", mend, "--drive", "spring", "--json")
	require.Equal(t, exitBad, code)
	require.Len(t, report(out).Refused, 3)
	require.Contains(t, report(out).Refused[2].Why, "The code X1 hangs on lot", "the second use of a code is refused by what is here, too")
	blank := filepath.Join(t.TempDir(), "blank.xlsx")
	code, _, errs = say("donors", "--blank", blank, "--drive", "spring")
	require.Zero(t, code, errs)
	code, _, errs = say("donors", blank, "--drive", "spring")
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "nothing below the headings")

	// What a heading means was said on the page.
	number, err := store.KeepUpload(context.Background(), commandAct(env, "spring"), drive.BringDonors, "a.csv", []byte("Wer\nOrla\n"))
	require.NoError(t, err)
	wer := postgres.UploadReading{Means: map[string]string{"wer": "name"}}
	require.NoError(t, store.ReadUploadAs(context.Background(), commandAct(env, "spring"), number, wer))
	donors := filepath.Join(t.TempDir(), "donors.csv")
	require.NoError(t, os.WriteFile(donors, []byte("Wer;Phone\nOrla;555 0101\nPim Aldous;555 0102\n"), 0o600))
	code, out, errs = say("donors", donors, "--drive", "spring", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, 1, report(out).Taken)
	require.Equal(t, 1, report(out).Unchanged)

	for name, test := range map[string]struct {
		args []string
		code int
		says string
	}{
		"nothing said":  {nil, exitBad, "say what the file is a list of"},
		"no such kind":  {[]string{"yarn", bad, "--drive", "spring"}, exitBad, "fabric, people, asked or donors"},
		"no drive":      {[]string{"fabric", bad}, exitBad, "--drive"},
		"unknown drive": {[]string{"fabric", bad, "--drive", "autumn"}, exitFailed, "no drive"},
		"no sheet":      {[]string{"fabric", mend, "--drive", "spring", "--sheet", "May"}, exitBad, "There is no sheet called"},
		"odd refused":   {[]string{"fabric", bad, "--drive", "spring", "--refused", "mend.txt"}, exitBad, ".xlsx or .csv"},
		"odd blank":     {[]string{"fabric", "--drive", "spring", "--blank", "blank.csv"}, exitBad, ".xlsx"},
		"no such file":  {[]string{"fabric", bad + ".gone", "--drive", "spring"}, exitBad, "cannot be opened"},
		"another list":  {[]string{"asked", bad, "--drive", "spring"}, exitBad, "No line of headings"},
	} {
		code, _, errs := say(test.args...)
		require.Equal(t, test.code, code, "%s: %s", name, errs)
		require.True(t, strings.Contains(errs, test.says), "%s: %s", name, errs)
	}
}
