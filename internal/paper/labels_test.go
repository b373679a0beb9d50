package paper

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/papertest"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func spring() drive.Drive {
	return drive.NewDrive("spring", "Spring drive", "America/Chicago", length.In)
}

// measured is a lot of two kinds of pieces, as it lies on the shelf.
func measured() (drive.Lot, []drive.Piece) {
	at := time.Date(2026, time.October, 24, 10, 0, 0, 0, time.UTC)
	lot := drive.Lot{Number: 142, Kind: "bolt end", Shelf: "B2", MeasuredAt: &at, Make: drive.Make{
		Fibre: "cotton", Weight: "quilting", Print: drive.PrintFeature, Colours: []string{"blue", "green"}, Themes: []string{"forest", "foxes"},
	}}
	piece := func(n int, width, long, promised length.Length) drive.Piece {
		return drive.Piece{Lot: 142, Piece: n, Width: width, FreeLength: long, Free: length.Area(width) * length.Area(long), Promised: length.Area(width) * length.Area(promised)}
	}
	return lot, []drive.Piece{
		piece(1, 43*length.Inch, 2*length.Yard, length.Yard), piece(2, 43*length.Inch, 3*length.Yard, 0), piece(3, 9*length.Inch, length.Yard, 0), piece(4, 20*length.Inch, 0, 0),
	}
}

func TestLotLabelSaysWhatLiesThere(t *testing.T) {
	lot, pieces := measured()
	require.Equal(t, Label{
		Number: "142", Address: "https://drive.example.org/l/spring/lot/142", Shelf: "B2",
		Size: "2 of 43 in × 3 yd, 9 in × 1 yd", Look: "bolt end; quilting cotton; feature; blue, green; forest, foxes; not washed",
	}, LotLabel(spring(), "https://drive.example.org/", lot, pieces, 0))
	of := LotLabel(spring(), "https://drive.example.org", lot, pieces, 3)
	require.Equal(t, []string{"142/3", "https://drive.example.org/l/spring/piece/142-3", "9 in × 1 yd"}, []string{of.Number, of.Address, of.Size})
	require.Empty(t, LotLabel(spring(), "http://x", drive.Lot{Number: 7}, nil, 0).Size, "a lot that waits to be measured")
}

// labelsFor are labels of the kinds that come up: measured, waiting, a piece, one
// of several, and words that are long or in other scripts.
func labelsFor(n int) []Label {
	lot, pieces := measured()
	all := []Label{LotLabel(spring(), "https://drive.example.org", lot, pieces, 0)}
	for i := 1; i < n; i++ {
		l := drive.Lot{Number: int64(7 + 311*i), Kind: "fat quarters"}
		label := LotLabel(spring(), "https://drive.example.org", l, nil, 0)
		switch i % 4 {
		case 1:
			label.Shelf, label.Size, label.Look = "Полка Б", "115 cm × 2.5 m", "хлопок; 棉; חתולים 7; 🐈; "+strings.Repeat("very long words about a print ", 6)
		case 2:
			label.Copy = "2 of 5"
		case 3:
			label = LotLabel(spring(), "https://drive.example.org", lot, pieces, 3)
		}
		all = append(all, label)
	}
	return all
}

func TestGoldenLabels(t *testing.T) {
	for _, p := range drive.ReadyLabelPapers(length.In) {
		t.Run(p.Name, func(t *testing.T) {
			var pdf, again bytes.Buffer
			require.NoError(t, Labels(&pdf, "Labels", p, 4, labelsFor(p.PerSheet()), made))
			require.NoError(t, Labels(&again, "Labels", p, 4, labelsFor(p.PerSheet()), made))
			require.Equal(t, pdf.Bytes(), again.Bytes(), "the same labels are the same bytes")
			golden(t, "labels"+fmt.Sprint(p.Number), pdf.Bytes())
		})
	}
}

// rolls and sheets people have: a roll of 62 × 29 mm, one of upright tags, and the
// least label there is.
func someLabelPapers() []drive.LabelPaper {
	mm := length.Millimetre
	return append(drive.ReadyLabelPapers(length.CM),
		drive.LabelPaper{Name: "roll", PaperWidth: 62 * mm, PaperHeight: 29 * mm, LabelWidth: 62 * mm, LabelHeight: 29 * mm, Columns: 1, Rows: 1},
		drive.LabelPaper{Name: "upright", PaperWidth: 50 * mm, PaperHeight: 90 * mm, Left: 2 * mm, Top: 2 * mm, LabelWidth: 46 * mm, LabelHeight: 86 * mm, Columns: 1, Rows: 1},
		drive.LabelPaper{Name: "small", PaperWidth: 210 * mm, PaperHeight: 297 * mm, Left: 8 * mm, Top: 10 * mm, LabelWidth: 38 * mm, LabelHeight: 21 * mm, GapAcross: 2 * mm, GapDown: mm / 2, Columns: 4, Rows: 12},
	)
}

func TestLabelsKeepToTheirPlaces(t *testing.T) {
	for _, p := range someLabelPapers() {
		t.Run(p.Name, func(t *testing.T) {
			require.NoError(t, p.Check(length.CM))
			start := min(3, p.PerSheet())
			labels := labelsFor(p.PerSheet() + 1)
			var pdf bytes.Buffer
			require.NoError(t, Labels(&pdf, "Labels", p, start, labels, made))
			sheets := readSheets(t, pdf.Bytes())
			require.Len(t, sheets, (start-1+len(labels)+p.PerSheet()-1)/p.PerSheet())
			drawn := 0
			for i, s := range sheets {
				require.InDelta(t, mm(p.PaperWidth), s.width, 0.01)
				require.InDelta(t, mm(p.PaperHeight), s.height, 0.01)
				used := map[int]bool{}
				for _, b := range s.boxes {
					used[placeOf(t, p, b)] = true
				}
				for _, said := range s.texts {
					used[placeOf(t, p, box{said.x, said.y - 0.3, 0.1, 0.3})] = true
				}
				if i == 0 {
					for gone := range start - 1 {
						require.False(t, used[gone], "label %d is gone from the sheet", gone+1)
					}
				}
				drawn += len(used)
			}
			require.Equal(t, len(labels), drawn)
		})
	}
}

// placeOf gives the label of the sheet that a rectangle lies on, whole.
func placeOf(t *testing.T, p drive.LabelPaper, b box) int {
	t.Helper()
	for i := range p.PerSheet() {
		x, y := p.At(i)
		if b.x >= mm(x)-0.01 && b.y >= mm(y)-0.01 && b.x+b.w <= mm(x+p.LabelWidth)+0.01 && b.y+b.h <= mm(y+p.LabelHeight)+0.01 {
			return i
		}
	}
	require.Failf(t, "off every label", "%+v on %+v", b, p)
	return 0
}

// Codes are read back as a printer of 300 dots an inch prints them.
func TestLabelCodesAreReadBack(t *testing.T) {
	papertest.Needs(t, "zbarimg")
	for _, p := range someLabelPapers() {
		t.Run(p.Name, func(t *testing.T) {
			labels := labelsFor(p.PerSheet())
			var pdf bytes.Buffer
			require.NoError(t, Labels(&pdf, "Labels", p, 1, labels, made))
			for i, label := range labels[:min(len(labels), 4)] {
				x, y := p.At(i)
				require.Equal(t, label.Address, readCode(t, pdf.Bytes(), x, y, p.LabelWidth, p.LabelHeight), "label %d", i+1)
			}
		})
	}
}

func dots(l length.Length) int { return int(math.Round(mm(l) / 25.4 * 300)) }

// readCode prints one label off the first sheet and has its code read.
func readCode(t *testing.T, pdf []byte, x, y, w, h length.Length) string {
	t.Helper()
	papertest.Needs(t, "pdftoppm")
	name := filepath.Join(t.TempDir(), "label")
	require.NoError(t, os.WriteFile(name+".pdf", pdf, 0o644))
	out, err := exec.Command("pdftoppm", "-png", "-gray", "-singlefile", "-r", "300",
		"-x", fmt.Sprint(dots(x)), "-y", fmt.Sprint(dots(y)), "-W", fmt.Sprint(dots(w)), "-H", fmt.Sprint(dots(h)), name+".pdf", name).CombinedOutput()
	require.NoError(t, err, "%s", out)
	out, err = exec.Command("zbarimg", "--nodbus", "-q", "--raw", name+".png").Output()
	require.NoError(t, err, "no code on %v × %v at %v, %v: %s", w, h, x, y, out)
	return strings.TrimSpace(string(out))
}

// The trial shows exactly the grid that was typed: labels off by an eighth of an
// inch would miss the sheet.
func TestTrialIsTheGridAsTyped(t *testing.T) {
	for _, p := range someLabelPapers() {
		var pdf bytes.Buffer
		require.NoError(t, Trial(&pdf, p, length.CM, made))
		sheets := readSheets(t, pdf.Bytes())
		require.Len(t, sheets, 1)
		require.Len(t, sheets[0].boxes, p.PerSheet(), p.Name)
		for i, b := range sheets[0].boxes {
			column, row := float64(i%p.Columns), float64(i/p.Columns)
			require.InDelta(t, mm(p.Left)+column*mm(p.LabelWidth+p.GapAcross), b.x, 0.01)
			require.InDelta(t, mm(p.Top)+row*mm(p.LabelHeight+p.GapDown), b.y, 0.01)
			require.InDelta(t, mm(p.LabelWidth), b.w, 0.01)
			require.InDelta(t, mm(p.LabelHeight), b.h, 0.01)
		}
	}
}

func TestLabelsTooSmallForTheirCodes(t *testing.T) {
	p := someLabelPapers()[6]
	label := labelsFor(1)[0]
	label.Address = "https://" + strings.Repeat("long.", 40) + "example.org/l/spring/lot/1"
	require.ErrorContains(t, Labels(io.Discard, "", p, 1, []Label{label}, made), "Choose larger labels")
}

// Whatever people write, a label holds it or says less, and never fails.
func TestAnyWordsFitALabel(t *testing.T) {
	papers := someLabelPapers()
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.SampledFrom(papers).Draw(rt, "paper")
		label := labelsFor(1)[0]
		label.Look, label.Shelf = rapid.String().Draw(rt, "look"), rapid.String().Draw(rt, "shelf")
		label.Number = fmt.Sprint(rapid.Int64Range(1, 1_000_000_000).Draw(rt, "number"))
		require.NoError(rt, Labels(io.Discard, "", p, 1, []Label{label}, made))
	})
}
