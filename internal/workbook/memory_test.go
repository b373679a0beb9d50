package workbook

import (
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// mostMemory is how much reading any file may hold at once.
const mostMemory = 300 << 20

// peak gives the most memory that the heap held while f ran, from a clean start.
func peak(f func()) uint64 {
	runtime.GC()
	debug.FreeOSMemory()
	stop, most := make(chan struct{}), make(chan uint64)
	go func() {
		s := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}, {Name: "/memory/classes/heap/unused:bytes"}}
		var top uint64
		for {
			metrics.Read(s)
			top = max(top, s[0].Value.Uint64()+s[1].Value.Uint64())
			select {
			case <-stop:
				most <- top
				return
			case <-time.After(time.Millisecond):
			}
		}
	}()
	f()
	close(stop)
	return <-most
}

// Files made to fill memory are refused, or read, within bounds: what unpacks to as
// much as it may is walked as a stream, and what is kept of it is counted.
func TestMemoryIsBounded(t *testing.T) {
	const much = 60 << 20
	row := func(cells string) string {
		return `<worksheet><sheetData><row>` + cells + `</row></sheetData></worksheet>`
	}
	shared := row(`<c t="s"><v>0</v></c>`)
	for _, tt := range []struct {
		name string
		long bool // takes a while
		file func() []byte
	}{
		{"a comment of 60 MiB", false, func() []byte { return packed(t, parts("<!--"+strings.Repeat("a", much)+"-->", noTexts)) }},
		{"one text of 60 MiB", false, func() []byte {
			return packed(t, parts(row(`<c t="str"><v>`+strings.Repeat("a", much)+`</v></c>`), noTexts))
		}},
		{"tags as long as they may be", true, func() []byte {
			return packed(t, parts(row(strings.Repeat("<c "+strings.Repeat(`a="" `, 12_000)+"/>", 900)), noTexts))
		}},
		{"as many shared texts as may be", true, func() []byte {
			return packed(t, parts(shared, "<sst>"+strings.Repeat("<si><t>a</t></si>", maxTexts-1)+"</sst>"))
		}},
		{"more of them", true, func() []byte { return packed(t, parts(shared, "<sst>"+strings.Repeat("<si/>", much/5)+"</sst>")) }},
		{"as many cells as may be", true, func() []byte {
			return packed(t, parts("<worksheet><sheetData>"+strings.Repeat("<row>"+strings.Repeat("<c><v>1</v></c>", 80)+"</row>", 49_999)+"</sheetData></worksheet>", noTexts))
		}},
		{"merged cells over merged cells", true, func() []byte {
			return packed(t, parts("<worksheet><sheetData>"+strings.Repeat("<row><c><v>1</v></c></row>", 50_000)+"</sheetData><mergeCells>"+
				strings.Repeat(`<mergeCell ref="A1:A1048576"/>`, 1_000_000)+"</mergeCells></worksheet>", noTexts))
		}},
		{"CSV of nothing but cells", false, func() []byte {
			return []byte(strings.Repeat(strings.Repeat("a,", 199)+"a\n", MaxBytes/400))
		}},
		{"CSV of nothing but quotes", false, func() []byte { return []byte(strings.Repeat(`"`, MaxBytes)) }},
		{"CSV of nothing but lines", false, func() []byte { return []byte(strings.Repeat("\n", MaxBytes)) }},
		{"CSV of nothing but words", true, func() []byte {
			return []byte("Code,Themes,Flaws\n" + strings.Repeat("a,"+strings.Repeat("x;", 80)+","+strings.Repeat("3 to 4;", 10)+"\n", 40_000))
		}},
	} {
		if tt.long && os.Getenv("BOLTWARD_LONG") == "" {
			continue
		}
		d, today := spring()
		file := tt.file()
		require.LessOrEqual(t, len(file), MaxBytes, tt.name)
		most := peak(func() {
			// Whether it is taken or refused does not matter here.
			_, _ = Read(drive.BringFabric, file, Terms{Drive: d, Today: today})
		})
		t.Logf("%s: %d KiB, at most %d MiB", tt.name, len(file)>>10, most>>20)
		require.Less(t, most, uint64(mostMemory), tt.name)
	}
}

// A few kilobytes say much where cells refer to one long text, where a cell stands
// far to the right, and on sheet after sheet.
func TestSmallWorkbooksThatSayMuch(t *testing.T) {
	sheet := func(rows string) string { return `<worksheet><sheetData>` + rows + `</sheetData></worksheet>` }
	text := func(s string) string { return `<sst><si><t>` + s + `</t></si></sst>` }
	far := func(n int) string {
		var rows strings.Builder
		for i := range n {
			fmt.Fprintf(&rows, `<row><c r="GR%d"><v>1</v></c></row>`, i+1)
		}
		return sheet(rows.String())
	}
	shared := strings.Repeat(`<c t="s"><v>0</v></c>`, 20)
	for _, tt := range []struct {
		name string
		file []byte
		says string
	}{
		{"one long text in every cell", packed(t, parts(sheet(strings.Repeat("<row>"+shared+"</row>", 300)), text(strings.Repeat("a_x0007_ ", 3_000)))), "32 MiB of text"},
		{"cells far to the right", packed(t, parts(far(40_000), noTexts)), "5 million cells"},
		{"one long text as every heading", packed(t, parts(sheet(strings.Repeat("<row>"+shared+"</row>", 20)), text(strings.Repeat("a ", 16_000)))), "No line of headings"},
	} {
		d, today := spring()
		var err error
		begin := time.Now()
		most := peak(func() { _, err = Read(drive.BringFabric, tt.file, Terms{Drive: d, Today: today}) })
		t.Logf("%s: %d KiB, at most %d MiB, %v", tt.name, len(tt.file)>>10, most>>20, time.Since(begin))
		require.Contains(t, apperr.Fields(err)["file"], tt.says, tt.name)
		require.Less(t, most, uint64(mostMemory), tt.name)
	}
	long := "Code,Flaws,Themes\nA1," + strings.Repeat("3 to 4; ", 2_000) + "," + strings.Repeat("x;", 20) + "\n"
	d, today := spring()
	got, err := Read(drive.BringFabric, []byte(long), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	require.Equal(t, []drive.Fault{{Column: "Flaws", Why: "This is longer than anything that belongs here. Write 2,000 characters at most."}}, got.Fabric[0].Faults)
}
