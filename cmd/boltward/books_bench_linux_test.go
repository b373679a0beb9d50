package main

import (
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"boltward/internal/drive"
	"boltward/internal/workbook"
)

// BenchmarkBooks writes the books of a large drive and, in turn with it, a bare stream
// writer of as many cells that say the same, into a file each. It prints both, how many
// times as long the books take, by the clock and by this program's own time on a processor
// (others may keep the machine busy, the database among them), and the most memory either holds.
func BenchmarkBooks(b *testing.B) {
	_, store := largeDrive(b)
	folder := b.TempDir()
	books := func() {
		into(b, filepath.Join(folder, "books.xlsx"), func(w io.Writer) error {
			return store.Books(b.Context(), largeBooks(), func(books drive.Books) error { return workbook.WriteBooks(w, books) })
		})
	}
	most := heapOver(books)
	cells, n := cellsOf(b, filepath.Join(folder, "books.xlsx"))
	bare := func() {
		into(b, filepath.Join(folder, "bare.xlsx"), func(w io.Writer) error { return bareBooks(w, cells) })
	}
	mostBare := heapOver(bare)
	var ours, theirs spent
	for b.Loop() {
		ours = ours.and(timeOf(books))
		theirs = theirs.and(timeOf(bare))
	}
	b.ReportMetric(float64(n), "cells")
	b.ReportMetric(ours.wall.Seconds()/float64(b.N), "s/books")
	b.ReportMetric(theirs.wall.Seconds()/float64(b.N), "s/bare")
	b.ReportMetric(ours.wall.Seconds()/theirs.wall.Seconds(), "times-bare")
	b.ReportMetric(ours.cpu.Seconds()/theirs.cpu.Seconds(), "times-bare-cpu")
	b.ReportMetric(float64(most)/(1<<20), "MiB-books")
	b.ReportMetric(float64(mostBare)/(1<<20), "MiB-bare")
}

// spent is time by the clock, and of this program on a processor.
type spent struct{ wall, cpu time.Duration }

func (s spent) and(more spent) spent { return spent{s.wall + more.wall, s.cpu + more.cpu} }

func timeOf(f func()) spent {
	runtime.GC()
	began, used := time.Now(), ownTime()
	f()
	return spent{time.Since(began), ownTime() - used}
}

func ownTime() time.Duration {
	var use syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &use); err != nil {
		panic(err)
	}
	return time.Duration(use.Utime.Nano() + use.Stime.Nano())
}

func into(t testing.TB, name string, write func(io.Writer) error) {
	t.Helper()
	file, err := os.Create(name)
	require.NoError(t, err)
	require.NoError(t, write(file))
	require.NoError(t, file.Close())
}

// cellsOf reads the cells of a workbook, sheet by sheet, numbers as numbers.
func cellsOf(t testing.TB, name string) (map[string][][]any, int) {
	t.Helper()
	x, err := excelize.OpenFile(name)
	require.NoError(t, err)
	defer func() { require.NoError(t, x.Close()) }()
	found, n := map[string][][]any{}, 0
	for _, sheet := range x.GetSheetList() {
		rows, err := x.GetRows(sheet, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		for _, row := range rows {
			cells := make([]any, len(row))
			for i, cell := range row {
				if cell == "" {
					continue
				}
				n++
				cells[i] = excelize.Cell{StyleID: 1, Value: cell}
				if v, err := strconv.ParseFloat(cell, 64); err == nil {
					cells[i] = excelize.Cell{StyleID: 1, Value: v}
				}
			}
			found[sheet] = append(found[sheet], cells)
		}
	}
	require.Greater(t, n, 1_000_000)
	return found, n
}

// bareBooks writes cells by excelize's stream writer and nothing else.
func bareBooks(w io.Writer, sheets map[string][][]any) error {
	x := excelize.NewFile()
	defer x.Close()
	if _, err := x.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}}); err != nil {
		return err
	}
	for sheet, rows := range sheets {
		if _, err := x.NewSheet(sheet); err != nil {
			return err
		}
		stream, err := x.NewStreamWriter(sheet)
		if err != nil {
			return err
		}
		for i, row := range rows {
			if err := stream.SetRow("A"+strconv.Itoa(i+1), row); err != nil {
				return err
			}
		}
		if err := stream.Flush(); err != nil {
			return err
		}
	}
	_, err := x.WriteTo(w)
	return err
}

// heapOver gives the most memory that the heap held while f ran, above what it held before.
func heapOver(f func()) uint64 {
	held := func(s []metrics.Sample) uint64 {
		metrics.Read(s)
		return s[0].Value.Uint64() + s[1].Value.Uint64()
	}
	samples := func() []metrics.Sample {
		return []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}, {Name: "/memory/classes/heap/unused:bytes"}}
	}
	runtime.GC()
	debug.FreeOSMemory()
	before := held(samples())
	stop, most := make(chan struct{}), make(chan uint64)
	go func() {
		s, top := samples(), uint64(0)
		tick := time.NewTicker(time.Millisecond)
		defer tick.Stop()
		for {
			top = max(top, held(s))
			select {
			case <-stop:
				most <- top - min(top, before)
				return
			case <-tick.C:
			}
		}
	}()
	f()
	close(stop)
	return <-most
}
