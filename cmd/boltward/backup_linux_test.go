package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"boltward/internal/pgtest"
)

// At a terminal the passphrase is asked for twice and never shown.
func TestPassphraseAtTerminal(t *testing.T) {
	db := pgtest.New(t)
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "key"), []byte(strings.Repeat("ab", 32)), 0o600))
	set := settings{"DATABASE_URL": db.URL, "BOLTWARD_DATA": folder}
	file := filepath.Join(folder, "typed.boltward")
	const secret = "needle cushion bobbin"
	typed := func(x *terminal, after, text string) {
		x.until("it asks, and shows no more what is typed", func() bool {
			now, err := unix.IoctlGetTermios(int(x.master.Fd()), unix.TCGETS)
			return strings.Contains(x.out.String(), after) && err == nil && now.Lflag&unix.ECHO == 0
		})
		_, err := x.master.WriteString(text + "\n")
		require.NoError(t, err)
	}
	x := atTerminalWith(t, set, "backup", file)
	typed(x, "Passphrase: ", secret)
	typed(x, "The same once more: ", secret+"s")
	require.Equal(t, exitBad, x.wait())
	require.NoFileExists(t, file)
	x = atTerminalWith(t, set, "backup", file)
	typed(x, "Passphrase: ", secret)
	typed(x, "The same once more: ", secret)
	require.Zero(t, x.wait(), x.out.String())
	require.NotContains(t, x.out.String(), secret)
	x = atTerminalWith(t, set, "verify", file)
	typed(x, "Passphrase: ", secret)
	require.Zero(t, x.wait(), x.out.String())
	require.NotContains(t, x.out.String(), secret)
	// Ctrl-C while it asks ends it, and the terminal shows again what is typed.
	x = atTerminalWith(t, set, "verify", file)
	x.until("it asks", func() bool { return strings.Contains(x.out.String(), "Passphrase: ") })
	x.ctrlC()
	require.Equal(t, exitFailed, x.wait(), x.out.String())
	now, err := unix.IoctlGetTermios(int(x.master.Fd()), unix.TCGETS)
	require.NoError(t, err)
	require.NotZero(t, now.Lflag&unix.ECHO, "it shows what is typed")
}

// A disk that is full while it writes: a sentence, and nothing left on it.
func TestBackupOnAFullDisk(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("LEFT OUT: only root may mount a small disk")
	}
	s := savedDemo(t)
	disk := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", disk).CombinedOutput(); err != nil {
		t.Skipf("LEFT OUT: no small disk can be mounted here: %s", out)
	}
	t.Cleanup(func() { require.NoError(t, exec.Command("umount", disk).Run()) })
	db := pgtest.Empty(t)
	set := map[string]string{"DATABASE_URL": db.OwnerURL, "BOLTWARD_DATA": t.TempDir()}
	code, _, errs := say(t, set, "restore", s.file, "--identity", s.identity)
	require.Zero(t, code, errs)
	code, out, errs := say(t, set, "backup", filepath.Join(disk, "demo.boltward"), "--recipient", publicOf(t, s))
	require.Equal(t, exitFailed, code)
	require.Contains(t, errs, "There is no room left for the backup in "+disk)
	require.Empty(t, out)
	left, err := os.ReadDir(disk)
	require.NoError(t, err)
	require.Empty(t, left)
}

// A drive of 20,000 kits and 100,000 entries of the three ledgers, by the real program.
func TestBackupOfALargeDrive(t *testing.T) {
	if !longRun() {
		t.Skip("LEFT OUT: a large drive is backed up and restored in make long")
	}
	_, err := built() // that takes its time too, once
	require.NoError(t, err)
	db, _ := largeDrive(t)
	s := savedDemo(t)
	// What is cut of its lots lies on sheets, pillowcases stand in its kits, and numbers go on
	// from what there is.
	for _, q := range []string{
		`INSERT INTO plans (drive_id, number, state, problem, plan, who, created_at) VALUES ('large', 1, 'accepted', '{}', '{}', 1, '2026-01-05')`,
		`INSERT INTO sheets (drive_id, number, plan, lot, piece, state, used, cut_at, created_at) SELECT 'large', i, 1, i, 1, 'cut', 1463040, '2026-01-06', '2026-01-05' FROM generate_series(1, 4000) i`,
		`INSERT INTO panels (drive_id, sheet, panel, role, size, x, y, w, h, kit, pillowcase) SELECT 'large', i, 1, 'body', 1, 0, 0, 1600000, 1500000, i, 1 FROM generate_series(1, 4000) i`,
		`INSERT INTO case_balances (drive_id, asked, size, kit, part, state, n) SELECT 'large', 1 + i % 120, 1, i, 1, 'cut', 5 FROM generate_series(1, 20000) i`,
		`UPDATE kits SET since = '2026-01-06'::date + (number % 300)::int + 2`,
		`INSERT INTO counters (drive_id, kind, last) VALUES ('large', 'plan', 1), ('large', 'sheet', 4000), ('large', 'lot', 4000), ('large', 'kit', 20000),
			('large', 'donor', 300), ('large', 'person', 500), ('large', 'recipient', 40), ('large', 'asked', 120)
			ON CONFLICT ON CONSTRAINT counters_pkey DO UPDATE SET last = EXCLUDED.last`,
	} {
		_, err := db.Owner().Exec(t.Context(), q)
		require.NoError(t, err, q)
	}
	file := filepath.Join(t.TempDir(), "large.boltward")
	measured := func(set settings, args ...string) {
		t.Helper()
		begun := time.Now()
		p := launch(t, set, args...)
		peak := peakOf(p)
		require.Zero(t, p.wait(), p.errs.String())
		t.Logf("%s: %.1f s, of them %.1f s of its own work, at most %.0f MiB", args[0], time.Since(begun).Seconds(),
			(p.cmd.ProcessState.UserTime() + p.cmd.ProcessState.SystemTime()).Seconds(), peak())
	}
	measured(settings{"DATABASE_URL": db.URL, "BOLTWARD_DATA": s.folder}, "backup", file, "--recipient", publicOf(t, s))
	info, err := os.Stat(file)
	require.NoError(t, err)
	t.Logf("the file has %.1f MiB", float64(info.Size())/(1<<20))
	measured(settings{}, "verify", file, "--identity", s.identity)
	there := pgtest.Empty(t)
	measured(settings{"DATABASE_URL": there.OwnerURL, "BOLTWARD_DATA": t.TempDir()}, "restore", file, "--identity", s.identity)
	_, was, _ := say(t, map[string]string{"DATABASE_URL": db.URL}, "check", "--json")
	code, is, errs := say(t, map[string]string{"DATABASE_URL": there.URL}, "check", "--json")
	require.Zero(t, code, errs)
	require.Equal(t, was, is)
	require.Contains(t, is, `"case_entries":40000`)
}
