package paper

import (
	"bytes"
	"compress/zlib"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/stretchr/testify/require"

	"boltward/internal/papertest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// made is the moment at which test papers are printed.
var made = time.Date(2026, time.October, 26, 9, 30, 0, 0, time.UTC)

// box is a rectangle on a sheet in millimetres from its top left.
type box struct{ x, y, w, h float64 }

// spoken is text on a sheet; x is its left end, y its baseline.
type spoken struct {
	x, y, points float64
	words        string
}

// sheetRead is one sheet as its own PDF operators have it.
type sheetRead struct {
	width, height float64
	boxes         []box
	texts         []spoken
}

// words gives all text of a sheet, a run a line.
func (s sheetRead) words() string {
	var b strings.Builder
	for _, t := range s.texts {
		b.WriteString(t.words + "\n")
	}
	return b.String()
}

var (
	mediaBox = regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`)
	streams  = regexp.MustCompile(`(?s)<<[^>]*/Length \d+[^>]*>>\s*stream\n(.*?)\nendstream`) // a carriage return before the end is the data's own
	// What fpdf writes for Rect and for Text in a UTF-8 font.
	rectOp = regexp.MustCompile(`(-?[\d.]+) (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) re`)
	fontOp = regexp.MustCompile(`/F\S+ ([\d.]+) Tf`)
	textOp = regexp.MustCompile(`(?s)BT (-?[\d.]+) (-?[\d.]+) Td \((.*?[^\\]|)\) Tj ET|BT (-?[\d.]+) (-?[\d.]+) Td \((.*?)\) Tj ET`)
)

const pointsInMM = 72 / 25.4

// readSheets gives what is drawn on each sheet of a PDF.
func readSheets(t *testing.T, pdf []byte) []sheetRead {
	t.Helper()
	var sheets []sheetRead
	for _, plain := range plainSheets(pdf) {
		sheets = append(sheets, readSheet(t, plain))
	}
	sizes := mediaBox.FindAllSubmatch(pdf, -1)
	require.NotEmpty(t, sizes)
	for i := range sheets {
		size := sizes[min(i, len(sizes)-1)]
		sheets[i].width, sheets[i].height = float(t, string(size[1]))/pointsInMM, float(t, string(size[2]))/pointsInMM
		for k := range sheets[i].boxes {
			sheets[i].boxes[k].y = sheets[i].height - sheets[i].boxes[k].y
		}
		for k := range sheets[i].texts {
			sheets[i].texts[k].y = sheets[i].height - sheets[i].texts[k].y
		}
	}
	return sheets
}

// plainSheets gives the operators of each sheet of a PDF.
func plainSheets(pdf []byte) []string {
	var sheets []string
	for _, m := range streams.FindAllSubmatch(pdf, -1) {
		z, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue
		}
		plain, err := io.ReadAll(z)
		if err != nil || !(bytes.Contains(plain, []byte(" re")) || bytes.Contains(plain, []byte("BT "))) || bytes.Contains(plain, []byte("begincmap")) || bytes.HasPrefix(plain, []byte("\x00\x01")) {
			continue
		}
		sheets = append(sheets, string(plain))
	}
	return sheets
}

func readSheet(t *testing.T, ops string) sheetRead {
	var s sheetRead
	for _, m := range rectOp.FindAllStringSubmatch(ops, -1) {
		b := box{float(t, m[1]) / pointsInMM, float(t, m[2]) / pointsInMM, float(t, m[3]) / pointsInMM, float(t, m[4]) / pointsInMM}
		if b.h < 0 { // fpdf draws downwards
			b.h = -b.h
		}
		s.boxes = append(s.boxes, b)
	}
	fonts := fontOp.FindAllStringSubmatchIndex(ops, -1)
	for _, at := range textOp.FindAllStringSubmatchIndex(ops, -1) {
		m := textOp.FindStringSubmatch(ops[at[0]:at[1]])
		if m[1] == "" {
			m[1], m[2], m[3] = m[4], m[5], m[6]
		}
		points := 0.0
		for _, f := range fonts {
			if f[0] < at[0] {
				points = float(t, ops[f[2]:f[3]])
			}
		}
		s.texts = append(s.texts, spoken{float(t, m[1]) / pointsInMM, float(t, m[2]) / pointsInMM, points, decoded(m[3])})
	}
	return s
}

// decoded gives the text of a PDF string in UTF-16.
func decoded(escaped string) string {
	var raw []byte
	for i := 0; i < len(escaped); i++ {
		if escaped[i] == '\\' && i+1 < len(escaped) {
			i++
			if escaped[i] == 'r' {
				raw = append(raw, '\r')
				continue
			}
		}
		raw = append(raw, escaped[i])
	}
	var units []uint16
	for i := 0; i+1 < len(raw); i += 2 {
		units = append(units, uint16(raw[i])<<8|uint16(raw[i+1]))
	}
	return string(utf16.Decode(units))
}

func float(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// golden holds what a PDF says and where to a file; -update writes it.
func golden(t *testing.T, name string, pdf []byte) {
	t.Helper()
	var b strings.Builder
	for i, s := range readSheets(t, pdf) {
		fmt.Fprintf(&b, "sheet %d: %.2f × %.2f mm, %d rectangles\n", i+1, s.width, s.height, len(s.boxes))
		for _, said := range s.texts {
			fmt.Fprintf(&b, "%7.2f %7.2f %5.1f  %s\n", said.x, said.y, said.points, said.words)
		}
	}
	file := filepath.Join("testdata", name+".txt")
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(b.String()), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), b.String(), "%s; -update writes it anew", name)
	if kept := os.Getenv("BOLTWARD_PICTURES"); kept != "" {
		papertest.Drawn(t, pdf, kept, name, 110)
	}
}
