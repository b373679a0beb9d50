package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/backup"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// runAs runs a command line and gives its exit code and both outputs.
func runAs(t *testing.T, list []command, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	env := Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs,
		Getenv: func(string) string { return "" },
		Now:    func() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) },
	}
	code = dispatch(context.Background(), env, list)
	return code, out.String(), errs.String()
}

func TestExitCodes(t *testing.T) {
	ends := func(err error) []command {
		return []command{{name: "end", summary: "ends", example: "boltward end", run: func(_ context.Context, _ Env, args []string) error {
			if err := newFlags("end").none(args); err != nil {
				return err
			}
			return err
		}}}
	}
	for _, tt := range []struct {
		name   string
		err    error
		args   []string
		code   int
		stderr string
	}{
		{"done", nil, []string{"end"}, 0, ""},
		{"failed", errors.New("the disk is full"), []string{"end"}, 1, "boltward end: the disk is full\n"},
		{"not there", apperr.NotFound("there is no drive harrow-mill"), []string{"end"}, 1, "boltward end: there is no drive harrow-mill\n"},
		{"bad input", apperr.InvalidFields([]apperr.Field{{Name: "a", Why: "No."}, {Why: "Neither."}}), []string{"end"}, 2, "boltward end: a: No.\nboltward end: Neither.\n"},
		{"bad command line", usage("no"), []string{"end"}, 2, "boltward end: no\nboltward help end shows an example\n"},
		{"unknown flag", nil, []string{"end", "--loud"}, 2, "boltward end: there is no flag --loud\nboltward help end shows an example\n"},
		{"out of place", nil, []string{"end", "x"}, 2, "boltward end: \"x\" is out of place: every value has its flag\nboltward help end shows an example\n"},
		{"no such command", nil, []string{"begin"}, 2, "boltward: there is no command \"begin\"; boltward help lists them\n"},
	} {
		list := ends(tt.err)
		if tt.err != nil {
			list[0].run = func(context.Context, Env, []string) error { return tt.err }
		}
		code, stdout, stderr := runAs(t, list, tt.args...)
		require.Equal(t, tt.code, code, tt.name)
		require.Empty(t, stdout, tt.name)
		require.Equal(t, tt.stderr, stderr, tt.name)
	}
}

// Who stops a command by Ctrl-C reads that, not the words of a library; what else failed is told too.
func TestStoppedByAPerson(t *testing.T) {
	env := Env{Args: []string{"verify", "drive.boltward", "--identity", "key.txt"}, Getenv: func(string) string { return "" }, Now: time.Now}
	private, public, err := backup.NewIdentity()
	require.NoError(t, err)
	env.Args[1], env.Args[3] = filepath.Join(t.TempDir(), "drive.boltward"), filepath.Join(t.TempDir(), "key.txt")
	require.NoError(t, writeWhole(env.Args[3], []byte(private)))
	seal, err := backup.PublicKeys("", []string{public})
	require.NoError(t, err)
	_, err = backup.Write(t.Context(), postgres.New(pgtest.New(t).Pool, time.Now), backup.Order{File: env.Args[1], Seal: seal, Now: time.Now})
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	run := func() (int, string) {
		var out, errs bytes.Buffer
		env.Stdout, env.Stderr = &out, &errs
		return dispatch(ctx, env, commands()), errs.String()
	}
	code, said := run()
	require.Equal(t, exitDone, code, said)
	stop()
	code, said = run()
	require.Equal(t, exitFailed, code)
	require.Equal(t, "boltward verify: stopped before it was done\n", said)

	both := errors.Join(fmt.Errorf("read: %w", ctx.Err()), errors.New("the disk is full"), nil)
	require.EqualError(t, asStopped(ctx, both), "stopped before it was done\nthe disk is full")
	require.Equal(t, both, asStopped(t.Context(), both), "nobody stopped it")
	require.NoError(t, asStopped(ctx, nil))
}

func TestHelp(t *testing.T) {
	list := []command{sizeCommand()}
	for _, args := range [][]string{{}, {"help"}, {"--help"}, {"-h"}} {
		code, stdout, stderr := runAs(t, list, args...)
		require.Equal(t, exitDone, code)
		require.Contains(t, stdout, "size      finished size to cut sizes, and back")
		require.Empty(t, stderr)
	}
	for _, args := range [][]string{{"help", "size"}, {"size", "--help"}, {"size", "-h"}} {
		code, stdout, _ := runAs(t, list, args...)
		require.Equal(t, exitDone, code)
		require.Contains(t, stdout, "Example:\n  boltward size --finished")
		require.Contains(t, stdout, "--seam SEAM")
	}
	code, _, _ := runAs(t, list, "help", "sew")
	require.Equal(t, exitBad, code)
}

func TestEveryCommandShowsItsHelp(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range commands() {
		require.False(t, seen[c.name], "%s twice", c.name)
		seen[c.name] = true
		code, stdout, _ := runAs(t, commands(), c.name, "--help")
		require.Equal(t, exitDone, code, c.name)
		require.Contains(t, stdout, "Example:\n  boltward", c.name)
		require.NotEmpty(t, c.summary)
	}
}

func TestToldNothingItServes(t *testing.T) {
	served := false
	list := []command{sizeCommand(), {name: "serve", run: func(context.Context, Env, []string) error { served = true; return nil }}}
	code, _, _ := runAs(t, list)
	require.Equal(t, exitDone, code)
	require.True(t, served)
}

func TestFlagsBeforeAndAfter(t *testing.T) {
	for _, tt := range []struct {
		args  []string
		plain []string
		out   string
		loud  bool
	}{
		{[]string{"problem.json", "--out", "plan.json"}, []string{"problem.json"}, "plan.json", false},
		{[]string{"--out=plan.json", "problem.json", "-loud", "more"}, []string{"problem.json", "more"}, "plan.json", true},
		{[]string{"--loud", "--", "--out", "x"}, []string{"--out", "x"}, "", true},
		{[]string{"a", "--", "b", "--loud"}, []string{"a", "b", "--loud"}, "", false},
		{[]string{"-"}, []string{"-"}, "", false},
		{nil, nil, "", false},
	} {
		fs := newFlags("plan")
		out := fs.String("out", "", "")
		loud := fs.Bool("loud", false, "")
		plain, err := fs.parse(tt.args)
		require.NoError(t, err, "%q", tt.args)
		require.Equal(t, tt.plain, plain, "%q", tt.args)
		require.Equal(t, tt.out, *out, "%q", tt.args)
		require.Equal(t, tt.loud, *loud, "%q", tt.args)
	}
	fs := newFlags("plan")
	fs.String("out", "", "")
	_, err := fs.parse([]string{"a", "--out"})
	require.ErrorContains(t, err, "flag needs an argument")
}
