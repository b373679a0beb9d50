package drive

import (
	"strings"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestLabelPaperRefusesAtItsField(t *testing.T) {
	good := ReadyLabelPapers(length.CM)[0]
	require.NoError(t, good.Check(length.CM))
	for _, tt := range []struct {
		name  string
		spoil func(*LabelPaper)
		want  map[string]string
	}{
		{"one label too many across", func(p *LabelPaper) { p.Columns = 3 }, map[string]string{"columns": "3 labels reach to 29.5 cm with margin and gaps, and the paper is 21 cm wide: 2 fit."}},
		{"a gap pushes the last row off", func(p *LabelPaper) { p.GapDown = 10 * length.Millimetre }, map[string]string{"rows": "4 labels reach to 31.05 cm with margin and gaps, and the paper is 29.7 cm high: 3 fit."}},
		{"labels lie over each other", func(p *LabelPaper) { p.GapAcross = -length.Millimetre }, map[string]string{"gap_across": "The labels would lie over each other: give 0 or more."}},
		{"the margin is too wide for one", func(p *LabelPaper) { p.Left = 12 * length.Centimetre }, map[string]string{"label_width": "The label leaves the paper: with the margin it reaches to 21.5 cm, the paper is 21 cm wide."}},
		{"a label too low for a code", func(p *LabelPaper) { p.LabelHeight = length.Centimetre }, map[string]string{"label_height": "Give a length from 1.2 cm to 200 cm."}},
		{"none at all", func(p *LabelPaper) { p.Rows, p.Name = 0, "" }, map[string]string{"rows": "Give 1 to 100 rows of labels.", "name": "Give it a name to find it by, in up to 80 characters."}},
		{"outside at the top", func(p *LabelPaper) { p.Top = -1 }, map[string]string{"margin_top": "The first label would begin outside the paper: give 0 or more."}},
	} {
		p := good
		tt.spoil(&p)
		require.Equal(t, tt.want, apperr.Fields(p.Check(length.CM)), tt.name)
	}
	for _, u := range []length.Unit{length.In, length.CM} {
		for _, p := range ReadyLabelPapers(u) {
			require.NoError(t, p.Check(u), p.Name)
		}
	}
}

// On every paper that is accepted, labels lie whole on the sheet and never over
// each other.
func TestLabelsOfAcceptedPapersLieApart(t *testing.T) {
	accepted := 0
	rapid.Check(t, func(rt *rapid.T) {
		some := func(what string, least, most int) length.Length {
			unit := rapid.SampledFrom([]length.Length{length.Millimetre, length.Inch / 25}).Draw(rt, "unit")
			return unit * length.Length(rapid.IntRange(least, most).Draw(rt, what))
		}
		p := LabelPaper{
			Name: "x", Left: some("left", 0, 20), Top: some("top", 0, 20), LabelWidth: some("width", 26, 80), LabelHeight: some("height", 13, 80),
			GapAcross: some("across", 0, 5), GapDown: some("down", 0, 5), Columns: rapid.IntRange(1, 4).Draw(rt, "columns"), Rows: rapid.IntRange(1, 4).Draw(rt, "rows"),
		}
		p.PaperWidth = p.Left + length.Length(p.Columns)*(p.LabelWidth+p.GapAcross) + some("left over", 0, 20)
		p.PaperHeight = p.Top + length.Length(p.Rows)*(p.LabelHeight+p.GapDown) + some("left below", 0, 20)
		// One side may be what it should not.
		wrong := rapid.SampledFrom([]*length.Length{nil, &p.Left, &p.Top, &p.LabelWidth, &p.LabelHeight, &p.GapAcross, &p.GapDown, &p.PaperWidth, &p.PaperHeight}).Draw(rt, "wrong")
		if wrong != nil {
			*wrong += some("by", -30, 30)
		}
		if p.Check(length.In) != nil {
			return
		}
		accepted++
		for i := range p.PerSheet() {
			x, y := p.At(i)
			require.True(rt, x >= 0 && y >= 0 && x+p.LabelWidth <= p.PaperWidth && y+p.LabelHeight <= p.PaperHeight, "label %d of %+v", i, p)
			for k := range i {
				ox, oy := p.At(k)
				require.True(rt, x >= ox+p.LabelWidth || ox >= x+p.LabelWidth || y >= oy+p.LabelHeight || oy >= y+p.LabelHeight, "labels %d and %d of %+v", k, i, p)
			}
		}
	})
	require.Positive(t, accepted)
}

func TestParseLabelNames(t *testing.T) {
	names, err := ParseLabelNames("42, 45–47;\n42 7/3")
	require.NoError(t, err)
	require.Equal(t, []LabelOf{{42, 0}, {45, 0}, {46, 0}, {47, 0}, {7, 3}}, names)
	for _, typed := range []string{"x", "0", "-4", "9-7", "1-99999", "4/0", "4/3/2", "+4", "4/501", strings.Repeat("9", 30), "1-5000 6000-6001"} {
		_, err := ParseLabelNames(typed)
		require.Contains(t, apperr.Fields(err), "lots", typed)
	}
}

func FuzzParseLabelNames(f *testing.F) {
	for _, seed := range []string{"42", "45-52, 7/3", "1-5000", "–", "/", "9999999999999999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		names, err := ParseLabelNames(typed)
		if err != nil {
			require.Contains(t, apperr.Fields(err), "lots")
			return
		}
		require.LessOrEqual(t, len(names), MostLabels)
		for _, n := range names {
			require.True(t, n.Lot > 0 && n.Piece >= 0)
		}
	})
}
