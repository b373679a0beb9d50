package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/papertest"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// Labels for fabric from the command line: everything on the shelf, what has none
// yet, and lots by number, on a paper by its name.
func TestPrintFabricLabels(t *testing.T) {
	ctx := context.Background()
	db := pgtest.New(t)
	settings := map[string]string{"DATABASE_URL": db.URL, "BOLTWARD_URL": "https://drive.example.org/"}
	say := func(args ...string) (int, string) {
		env, _, errs := testEnv(t, settings)
		env.Args = args
		code := dispatch(ctx, env, commands())
		return code, errs.String()
	}
	env, _, _ := testEnv(t, settings)
	store := postgres.New(db.Pool, env.Now)
	_, err := store.CreateDrive(ctx, commandAct(env, ""), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.CM))
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "labels.pdf")
	code, errs := say("print", "fabric-labels", "--drive", "spring", "--out", out)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "There is no fabric on the shelf")

	lots := []drive.Tagging{{Kind: "bolt end", Shelf: "B2", Pieces: 3, ReceivedOn: drive.Day(env.Now(), env.Now().Location())}, {Pieces: 1, ReceivedOn: drive.Day(env.Now(), env.Now().Location())}}
	_, err = store.TagLots(ctx, commandAct(env, "spring"), lots)
	require.NoError(t, err)
	code, errs = say("print", "fabric-labels", "--drive", "spring", "--out", out)
	require.Equal(t, 0, code, errs)
	require.Contains(t, errs, "2 labels for Spring drive on A4, 8 large tags", "no paper is named")
	due, err := store.LabelsDue(ctx, "spring")
	require.NoError(t, err)
	require.Equal(t, 2, due.Missing, "nothing is noted")

	code, errs = say("print", "fabric-labels", "--drive", "spring", "--new", "--each", "--paper", "letter, 18 tags", "--start", "17", "--out", out)
	require.Equal(t, 0, code, errs)
	require.Contains(t, errs, "4 labels")
	code, errs = say("print", "fabric-labels", "--drive", "spring", "--new", "--out", out)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "Every lot on the shelf has its label")
	pdf, err := os.ReadFile(out)
	require.NoError(t, err)
	text := strings.Fields(printed(t, pdf))
	for _, words := range []string{"B2", "1", "2", "bolt", "measured"} {
		require.Contains(t, text, words)
	}
	papertest.Needs(t, "zbarimg")
	sheets := papertest.Drawn(t, pdf, t.TempDir(), "labels", 300)
	require.Len(t, sheets, 2, "labels 17 and 18, then two of the next sheet")
	codes, err := exec.Command("zbarimg", "--nodbus", "-q", "--raw", sheets[1]).Output()
	require.NoError(t, err)
	require.Contains(t, string(codes), "https://drive.example.org/l/spring/lot/2")

	for _, tt := range []struct {
		args []string
		says string
	}{
		{[]string{"print", "--drive", "spring", "--out", out}, "say what to print"},
		{[]string{"print", "fabric-labels", "--out", out}, "needs --drive"},
		{[]string{"print", "fabric-labels", "--drive", "spring", "--out", "labels.txt"}, "ends in .pdf"},
		{[]string{"print", "fabric-labels", "--drive", "spring", "--out", out, "--lots", "9"}, "no lot 9"},
		{[]string{"print", "fabric-labels", "--drive", "spring", "--out", out, "--lots", "x"}, "no number of a lot"},
		{[]string{"print", "fabric-labels", "--drive", "spring", "--out", out, "--start", "9"}, "labels 1 to 8"},
		{[]string{"print", "fabric-labels", "--drive", "spring", "--out", out, "--paper", "pink"}, "There is no paper"},
		{[]string{"print", "fabric-labels", "--drive", "spring", "--out", out, "--new", "--lots", "1"}, "do not go together"},
	} {
		code, errs := say(tt.args...)
		require.Equal(t, 2, code, "%v: %s", tt.args, errs)
		require.Contains(t, errs, tt.says)
	}
}
