package main

import (
	"archive/zip"
	"compress/flate"
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
// writer of as many cells that say the same, into a file each: once packed as excelize packs
// by itself (bare), once as fast as the books are (alike). It prints all three, how many times
// as long the books take, by the clock and by this program's own time on a processor (others
// may keep the machine busy, the database among them), and the most memory either holds.
func BenchmarkBooks(b *testing.B) {
	_, store := largeDrive(b)
	folder := b.TempDir()
	books := func() {
		into(b, filepath.Join(folder, "books.xlsx"), func(w io.Writer) error {
			return store.Books(b.Context(), largeBooks(), func(books drive.Books) error { return workbook.WriteBooks(w, books) })
		})
	}
	most := heapOver(books)
	cells, texts, n := cellsOf(b, filepath.Join(folder, "books.xlsx"))
	bare := func() {
		into(b, filepath.Join(folder, "bare.xlsx"), func(w io.Writer) error { return bareBooks(w, cells, texts, nil) })
	}
	alike := func() {
		into(b, filepath.Join(folder, "bare.xlsx"), func(w io.Writer) error { return bareBooks(w, cells, texts, fastest) })
	}
	mostBare := heapOver(bare)
	var ours, theirs, packedAlike spent
	for b.Loop() {
		ours = ours.and(timeOf(books))
		theirs = theirs.and(timeOf(bare))
		packedAlike = packedAlike.and(timeOf(alike))
	}
	b.ReportMetric(float64(n), "cells")
	b.ReportMetric(ours.wall.Seconds()/float64(b.N), "s/books")
	b.ReportMetric(theirs.wall.Seconds()/float64(b.N), "s/bare")
	b.ReportMetric(ours.wall.Seconds()/theirs.wall.Seconds(), "times-bare")
	b.ReportMetric(ours.cpu.Seconds()/theirs.cpu.Seconds(), "times-bare-cpu")
	b.ReportMetric(packedAlike.wall.Seconds()/float64(b.N), "s/alike")
	b.ReportMetric(ours.wall.Seconds()/packedAlike.wall.Seconds(), "times-alike")
	b.ReportMetric(ours.cpu.Seconds()/packedAlike.cpu.Seconds(), "times-alike-cpu")
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

// bareSheet is the cells of a sheet. They hold no pointers, so that to keep them while
// the books are written costs the books nothing.
type bareSheet struct {
	name  string
	cells []bareCell
	rows  []int // where each row ends in cells
}

// bareCell is a number, or the text of that place in a list, or nothing.
type bareCell struct {
	number float64
	text   int32 // 0: a number; -1: an empty cell
}

// cellsOf reads the cells of a workbook, sheet by sheet, numbers as numbers, and each
// text there is once; the first of them stands for none.
func cellsOf(t testing.TB, name string) (sheets []bareSheet, texts []any, n int) {
	t.Helper()
	x, err := excelize.OpenFile(name)
	require.NoError(t, err)
	defer func() { require.NoError(t, x.Close()) }()
	texts, known := []any{""}, map[string]int32{}
	for _, name := range x.GetSheetList() {
		sheet := bareSheet{name: name}
		rows, err := x.GetRows(name, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		for _, row := range rows {
			for _, said := range row {
				cell := bareCell{text: -1}
				if said != "" {
					n++
					if v, err := strconv.ParseFloat(said, 64); err == nil {
						cell = bareCell{number: v}
					} else if place, ok := known[said]; ok {
						cell.text = place
					} else {
						cell.text = int32(len(texts))
						known[said], texts = cell.text, append(texts, said)
					}
				}
				sheet.cells = append(sheet.cells, cell)
			}
			sheet.rows = append(sheet.rows, len(sheet.cells))
		}
		sheets = append(sheets, sheet)
	}
	require.Greater(t, n, 1_000_000)
	return sheets, texts, n
}

// fastest packs as the books are packed.
func fastest(to io.Writer) (io.WriteCloser, error) { return flate.NewWriter(to, flate.BestSpeed) }

// bareBooks writes cells by excelize's stream writer and nothing else, packed as it does by
// itself where pack is nil.
func bareBooks(w io.Writer, sheets []bareSheet, texts []any, pack zip.Compressor) error {
	x := excelize.NewFile()
	defer x.Close()
	if _, err := x.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}}); err != nil {
		return err
	}
	var cells []excelize.Cell
	var row []any
	for _, sheet := range sheets {
		if _, err := x.NewSheet(sheet.name); err != nil {
			return err
		}
		stream, err := x.NewStreamWriter(sheet.name)
		if err != nil {
			return err
		}
		begin := 0
		for i, end := range sheet.rows {
			if wide := end - begin; wide > len(cells) {
				cells, row = make([]excelize.Cell, wide), make([]any, wide)
			}
			for at, cell := range sheet.cells[begin:end] {
				cells[at], row[at] = excelize.Cell{StyleID: 1}, &cells[at]
				switch cell.text {
				case -1:
					row[at] = nil
				case 0:
					cells[at].Value = cell.number
				default:
					cells[at].Value = texts[cell.text]
				}
			}
			if err := stream.SetRow("A"+strconv.Itoa(i+1), row[:end-begin]); err != nil {
				return err
			}
			begin = end
		}
		if err := stream.Flush(); err != nil {
			return err
		}
	}
	x.SetZipWriter(func(io.Writer) excelize.ZipWriter {
		packed := zip.NewWriter(w)
		if pack != nil {
			packed.RegisterCompressor(zip.Deflate, pack)
		}
		return packed
	})
	_, err := x.WriteTo(io.Discard)
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
