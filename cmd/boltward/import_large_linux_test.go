package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

const tenThousand = 10_000

// largeList gives a list of 10,000 lots, twelve columns wide, flaws and borders
// among them, as rows of cells.
func largeList() [][]string {
	rows := [][]string{{"Code", "Yardage", "Width", "Given by", "Date in", "What is it", "Print", "Border", "Fibre", "Colours", "Flaws", "Notes"}}
	for i := range tenThousand {
		border, flaw := "", ""
		if i%15 == 0 {
			border = "one selvedge"
		}
		if i%10 == 3 {
			flaw = "stain 20 to 22 in"
		}
		rows = append(rows, []string{
			fmt.Sprintf("L%05d", i), fmt.Sprintf("%d 1/2 yd", 1+i%6), "44", fmt.Sprintf("Donor %d", i%300), "2026-10-24",
			"quilting cotton", "feature", border, "cotton", "navy, white", flaw, "folded once, as it came through the door",
		})
	}
	return rows
}

func asWorkbook(t testing.TB, rows [][]string) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	w, err := f.NewStreamWriter("Sheet1")
	require.NoError(t, err)
	for i, row := range rows {
		cells := make([]any, len(row))
		for j, c := range row {
			cells[j] = c
		}
		require.NoError(t, w.SetRow(fmt.Sprintf("A%d", i+1), cells))
	}
	require.NoError(t, w.Flush())
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	return out.Bytes()
}

// cost is what a run of the program took.
type cost struct {
	wall, cpu time.Duration
	database  time.Duration // the work of the database's processes meanwhile
	peak      float64       // MiB of the program's memory
}

func (c cost) String() string {
	return fmt.Sprintf("%.1f s, of them %.1f s of this program's own work and %.1f s of the database's, at most %.0f MiB",
		c.wall.Seconds(), c.cpu.Seconds(), c.database.Seconds(), c.peak)
}

// postgresWork sums up how long a database's processes have worked: the first of
// them, those that it still has, and those that have ended.
func postgresWork(t testing.TB, db *pgtest.DB) time.Duration {
	t.Helper()
	type process struct{ parent, own, ended int }
	all := map[int]process{}
	main := 0
	folders, err := filepath.Glob("/proc/[0-9]*")
	require.NoError(t, err)
	for _, folder := range folders {
		stat, err := os.ReadFile(filepath.Join(folder, "stat"))
		command, cerr := os.ReadFile(filepath.Join(folder, "cmdline"))
		if err != nil || cerr != nil {
			continue // it has ended meanwhile
		}
		// Behind the name in brackets: state, parent, …, the times as 12th to 15th (proc(5)).
		f := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
		n := func(at int) int { v, _ := strconv.Atoi(f[at]); return v }
		pid, err := strconv.Atoi(filepath.Base(folder))
		require.NoError(t, err)
		all[pid] = process{n(1), n(11) + n(12), n(13) + n(14)}
		if port := fmt.Sprintf("port=%d\x00", db.Pool.Config().ConnConfig.Port); bytes.Contains(command, []byte(port)) {
			main = pid
		}
	}
	require.NotZero(t, main, "the database's first process")
	ticks := all[main].own + all[main].ended
	for _, p := range all {
		if p.parent == main {
			ticks += p.own
		}
	}
	return time.Duration(ticks) * time.Second / 100 // USER_HZ
}

// bringLarge lets the real program take a file in and says what that took.
func bringLarge(t testing.TB, name string, content []byte) cost {
	t.Helper()
	set, db := withDatabase(t)
	act := drive.Act{Key: "start the drive", At: time.Now()}
	_, err := postgres.New(db.Pool, time.Now).CreateDrive(context.Background(), act, drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In))
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, content, 0o600))
	_, err = built() // that takes its time too, once
	require.NoError(t, err)
	before := postgresWork(t, db)
	begun := time.Now()
	p := launch(t, set, "import", "fabric", file, "--drive", "spring", "--json")
	peak := peakOf(p)
	p.wait()
	took := time.Since(begun)
	worked := postgresWork(t, db) - before
	require.Zero(t, p.cmd.ProcessState.ExitCode(), p.errs.String())
	var report drive.ImportReport
	require.NoError(t, json.Unmarshal([]byte(p.out.String()), &report))
	require.Equal(t, tenThousand, report.Taken)
	balanced(t, context.Background(), db.Pool)
	return cost{took, p.cmd.ProcessState.UserTime() + p.cmd.ProcessState.SystemTime(), worked, peak()}
}

// The aim is under 10 s and 300 MiB on two cores. Time depends on what else the
// machine does, memory does not.
func TestTenThousandLots(t *testing.T) {
	took := bringLarge(t, "large.xlsx", asWorkbook(t, largeList()))
	t.Logf("10,000 lots: %s", took)
	require.Less(t, took.peak, 300.0, "MiB at most")
}

func BenchmarkTenThousandLots(b *testing.B) {
	rows := largeList()
	var text strings.Builder
	for _, row := range rows {
		text.WriteString(`"` + strings.Join(row, `","`) + "\"\n")
	}
	for name, content := range map[string][]byte{"large.csv": []byte(text.String()), "large.xlsx": asWorkbook(b, rows)} {
		b.Run(filepath.Ext(name)[1:], func(b *testing.B) {
			var sum cost
			for b.Loop() {
				took := bringLarge(b, name, content)
				sum.wall += took.wall
				sum.cpu += took.cpu
				sum.database += took.database
				sum.peak = max(sum.peak, took.peak)
			}
			b.ReportMetric(sum.wall.Seconds()/float64(b.N), "s/import")
			b.ReportMetric(sum.cpu.Seconds()/float64(b.N), "s-program")
			b.ReportMetric(sum.database.Seconds()/float64(b.N), "s-database")
			b.ReportMetric(sum.peak, "MiB-peak")
		})
	}
}
