package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// part is a usable rectangle in inches, for tables.
type part struct {
	kind                sizing.PartKind
	x, y, width, length string
}

func TestUsable(t *testing.T) {
	in := func(s string) length.Length { return one(t, s) }
	flaw := func(from, to, reach string, far bool) sizing.Flaw {
		return sizing.Flaw{From: in(from), To: in(to), Reach: in(reach), Far: far}
	}
	tests := []struct {
		name string
		lot  sizing.Lot
		want []part
	}{
		{
			"45 in cotton leaves 42 in (common practice, no source); a cut end loses 1 in",
			sizing.Lot{Length: in("92"), Width: in("45")},
			[]part{{sizing.Whole, "0", "0", "42", "90"}},
		},
		{
			"torn ends lose less",
			sizing.Lot{Length: in("92"), Width: in("45"), Torn: true},
			[]part{{sizing.Whole, "0", "0", "42", "91"}},
		},
		{
			"a class with selvedges of its own",
			sizing.Lot{Length: in("92"), Width: in("108"), Class: "backing"},
			[]part{{sizing.Whole, "0", "0", "106", "90"}},
		},
		{
			"a measured width is taken as it is",
			sizing.Lot{Length: in("92"), Width: in("45"), UsableWidth: in("42 1/2")},
			[]part{{sizing.Whole, "0", "0", "42 1/2", "90"}},
		},
		{
			"a flaw all the way across parts the lot in two",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("31", "34", "0", false)}},
			[]part{{sizing.FlawPart, "0", "0", "42", "30"}, {sizing.FlawPart, "0", "33", "42", "57"}},
		},
		{
			"a long flaw near one edge narrows it",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("11", "61", "2", false)}},
			[]part{{sizing.FlawPart, "2", "0", "40", "90"}},
		},
		{
			"the same at the far edge",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("11", "61", "2", true)}},
			[]part{{sizing.FlawPart, "0", "0", "40", "90"}},
		},
		{
			"a short one that reaches deep parts it",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("46", "48", "15", false)}},
			[]part{{sizing.FlawPart, "0", "0", "42", "45"}, {sizing.FlawPart, "0", "47", "42", "43"}},
		},
		{
			"a faded fold along the whole of it leaves both sides; the selvedges may lie up to 3 in further out",
			sizing.Lot{Length: in("92"), Width: in("108"), Flaws: []sizing.Flaw{{From: 0, To: in("92"), Clear: in("53"), Reach: in("55")}}},
			[]part{{sizing.FlawPart, "0", "0", "50", "90"}, {sizing.FlawPart, "55", "0", "50", "90"}},
		},
		{
			"measured between the selvedges nothing is lost to doubt, from the far edge as from the near",
			sizing.Lot{Length: in("92"), UsableWidth: in("104"), Flaws: []sizing.Flaw{{From: 0, To: in("92"), Clear: in("49"), Reach: in("51"), Far: true}}},
			[]part{{sizing.FlawPart, "0", "0", "53", "90"}, {sizing.FlawPart, "55", "0", "49", "90"}},
		},
		{
			"a short one in the middle is cut out across",
			sizing.Lot{Length: in("92"), UsableWidth: in("104"), Flaws: []sizing.Flaw{{From: in("46"), To: in("48"), Clear: in("40"), Reach: in("60")}}},
			[]part{{sizing.FlawPart, "0", "0", "104", "45"}, {sizing.FlawPart, "0", "47", "104", "43"}},
		},
		{
			"one of each: only the part beside the shallow flaw is narrowed",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("46", "48", "0", false), flaw("60", "85", "2", true)}},
			[]part{{sizing.FlawPart, "0", "0", "42", "45"}, {sizing.FlawPart, "0", "47", "40", "43"}},
		},
		{
			"a part under 9 × 18 in is not kept",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("8", "10", "0", false)}},
			[]part{{sizing.FlawPart, "0", "9", "42", "81"}},
		},
		{
			"a flaw in what is squared off is gone",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("0", "1", "0", false)}},
			[]part{{sizing.Whole, "0", "0", "42", "90"}},
		},
		{
			"flaws everywhere leave nothing",
			sizing.Lot{Length: in("32"), Width: in("45"), Flaws: []sizing.Flaw{flaw("8", "10", "0", false), flaw("15", "30", "0", false)}},
			nil,
		},
		{
			"a border strip as deep as the body that will use it, and the rest",
			sizing.Lot{Length: in("92"), Width: in("45"), Border: sizing.Border{Edges: sizing.OneSelvedge, Depth: in("27")}},
			[]part{{sizing.BorderStrip, "0", "0", "27", "90"}, {sizing.BesideBorder, "27", "0", "15", "90"}},
		},
		{
			"borders along both selvedges, for cuffs",
			sizing.Lot{Length: in("92"), Width: in("45"), Border: sizing.Border{Edges: sizing.BothSelvedges, Depth: in("9")}},
			[]part{{sizing.BorderStrip, "0", "0", "9", "90"}, {sizing.BesideBorder, "9", "0", "24", "90"}, {sizing.BorderStrip, "33", "0", "9", "90"}},
		},
		{
			"a flaw in the border parts the strip and leaves the rest alone",
			sizing.Lot{Length: in("92"), Width: in("45"), Border: sizing.Border{Edges: sizing.OneSelvedge, Depth: in("27")}, Flaws: []sizing.Flaw{flaw("46", "48", "2", false)}},
			[]part{{sizing.BorderStrip, "0", "0", "27", "45"}, {sizing.BorderStrip, "0", "47", "27", "43"}, {sizing.BesideBorder, "27", "0", "15", "90"}},
		},
		{
			"a border strip that a flaw makes narrower serves no more, however long the flaw is",
			sizing.Lot{Length: in("92"), Width: in("45"), Border: sizing.Border{Edges: sizing.OneSelvedge, Depth: in("27")}, Flaws: []sizing.Flaw{flaw("11", "61", "2", false)}},
			[]part{{sizing.BorderStrip, "0", "0", "27", "10"}, {sizing.BorderStrip, "0", "60", "27", "30"}, {sizing.BesideBorder, "27", "0", "15", "90"}},
		},
		{
			"a flaw beside a border is as far from the selvedge as it was measured",
			sizing.Lot{Length: in("92"), UsableWidth: in("42"), Border: sizing.Border{Edges: sizing.OneSelvedge, Depth: in("9")}, Flaws: []sizing.Flaw{{From: 0, To: in("92"), Clear: in("20"), Reach: in("22")}}},
			[]part{{sizing.BorderStrip, "0", "0", "9", "90"}, {sizing.FlawPart, "9", "0", "11", "90"}, {sizing.FlawPart, "22", "0", "20", "90"}},
		},
		{
			"a flaw within the reach of another parts nothing",
			sizing.Lot{Length: in("92"), Width: in("45"), Flaws: []sizing.Flaw{flaw("0", "92", "5", false), flaw("31", "41", "3", false)}},
			[]part{{sizing.FlawPart, "5", "0", "37", "90"}},
		},
	}
	a := sizing.DefaultAllowances()
	a.ByClass = map[string]length.Length{"backing": in("2")}
	for _, tt := range tests {
		got, err := tt.lot.Usable(a, length.In)
		require.NoError(t, err, tt.name)
		var parts []part
		for _, p := range got.Parts {
			text := func(l length.Length) string { return length.Format(l, length.In) }
			parts = append(parts, part{p.Kind, text(p.X), text(p.Y), text(p.Width), text(p.Length)})
		}
		for i := range tt.want {
			w := &tt.want[i]
			w.x, w.y, w.width, w.length = w.x+" in", w.y+" in", w.width+" in", w.length+" in"
		}
		require.Equal(t, tt.want, parts, tt.name)
		require.GreaterOrEqual(t, len(got.How), 2, tt.name)
	}
}

func TestUsableSaysHow(t *testing.T) {
	lot := sizing.Lot{Length: one(t, "3 yd"), Width: one(t, "45"), Flaws: []sizing.Flaw{{From: one(t, "30"), To: one(t, "33")}}}
	got, err := lot.Usable(sizing.DefaultAllowances(), length.In)
	require.NoError(t, err)
	require.Equal(t, []string{
		"Width 45 in less 3 in for the selvedges leaves 42 in.",
		"Length 108 in less 1 in for squaring off each cut end leaves 106 in.",
		"Parted at the flaws, 2 parts are left.",
	}, got.How)
	for edges, says := range map[sizing.Edges]string{
		sizing.OneSelvedge:   "The border strip is 9 in deep; beside it 33 in are left.",
		sizing.BothSelvedges: "Two border strips are 9 in deep; between them 24 in are left.",
	} {
		lot := sizing.Lot{Length: one(t, "3 yd"), Width: one(t, "45"), Border: sizing.Border{Edges: edges, Depth: one(t, "9")}}
		got, err := lot.Usable(sizing.DefaultAllowances(), length.In)
		require.NoError(t, err)
		require.Contains(t, got.How, says)
	}
}

func TestUsableRefuses(t *testing.T) {
	in := func(s string) length.Length { return one(t, s) }
	for _, tt := range []struct {
		lot        sizing.Lot
		field, why string
	}{
		{sizing.Lot{Width: in("45")}, "length", "Give the length"},
		{sizing.Lot{Length: -1, Width: in("45")}, "length", "Give the length"},
		{sizing.Lot{Length: in("90")}, "width", "Give the width"},
		{sizing.Lot{Length: in("90"), Width: in("2")}, "width", "Nothing is left of 2 in between the selvedges"},
		{sizing.Lot{Length: in("2"), Width: in("45")}, "length", "Nothing is left of 2 in when both ends are squared off."},
		{sizing.Lot{Length: in("90"), Width: in("400")}, "width", "A width of 400 in is too much"},
		{sizing.Lot{Length: length.Max + 1, Width: in("45")}, "length", "is too much"},
		{sizing.Lot{Length: in("90"), Width: in("45"), UsableWidth: in("46")}, "width", "is more than the whole of 45 in"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Flaws: []sizing.Flaw{{From: in("33"), To: in("30")}}}, "flaws", "from a lesser to a greater length"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Flaws: []sizing.Flaw{{From: in("93"), To: in("95")}}}, "flaws", "lies beyond the end"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Flaws: []sizing.Flaw{{To: in("3"), Reach: -1}}}, "flaws", "more than nothing"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Flaws: []sizing.Flaw{{To: in("3"), Reach: in("4"), Clear: in("4")}}}, "flaws", "from a lesser to a greater distance"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Flaws: []sizing.Flaw{{To: in("3"), Clear: in("4")}}}, "flaws", "from a lesser to a greater distance"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Flaws: make([]sizing.Flaw, 51)}, "flaws", "More than 50 flaws"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Border: sizing.Border{Edges: sizing.BothSelvedges, Depth: in("21")}}, "border", "leaves nothing of the usable width of 42 in"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Border: sizing.Border{Edges: sizing.OneSelvedge}}, "border", "Give how deep"},
		{sizing.Lot{Length: in("90"), Width: in("45"), Border: sizing.Border{Edges: 3, Depth: 1}}, "border", "one selvedge or both"},
	} {
		_, err := tt.lot.Usable(sizing.DefaultAllowances(), length.In)
		require.True(t, apperr.Is(err, apperr.KindInvalid), "%+v: %v", tt.lot, err)
		require.Contains(t, apperr.Fields(err)[tt.field], tt.why, "%+v", tt.lot)
	}
}

// Parts are inside, apart from each other and clear of every flaw; and no other
// choice of parts between the ends of flaws yields more, by trying them all.
func TestUsableIsGoodAndTheMost(t *testing.T) {
	a := sizing.Allowances{KeepWidth: 3 * length.Inch, KeepLength: 5 * length.Inch}
	rapid.Check(t, func(rt *rapid.T) {
		inches := func(lo, hi int, name string) length.Length {
			return length.Length(rapid.IntRange(lo, hi).Draw(rt, name)) * length.Inch
		}
		lot := sizing.Lot{Length: inches(5, 60, "length"), UsableWidth: inches(3, 20, "width")}
		for range rapid.IntRange(1, 6).Draw(rt, "flaws") {
			from := inches(0, int(lot.Length/length.Inch)-1, "from")
			f := sizing.Flaw{From: from, To: from + inches(1, 20, "long"), Reach: inches(0, 20, "reach"), Far: rapid.Bool().Draw(rt, "far")}
			if f.Reach > 1*length.Inch {
				f.Clear = inches(0, int(min(f.Reach, lot.UsableWidth)/length.Inch)-1, "clear")
			}
			lot.Flaws = append(lot.Flaws, f)
		}
		got, err := lot.Usable(a, length.In)
		require.NoError(rt, err)
		var sum length.Area
		for i, p := range got.Parts {
			require.True(rt, p.X >= 0 && p.Y >= 0 && p.X+p.Width <= got.Width && p.Y+p.Length <= got.Length)
			for _, q := range got.Parts[:i] {
				require.True(rt, q.Y+q.Length <= p.Y || q.X+q.Width <= p.X, "parts follow each other or lie side by side")
			}
			for _, f := range lot.Flaws {
				x0, x1 := flawSpan(f, got.Width)
				clear := f.To <= p.Y || f.From >= p.Y+p.Length || x1 <= p.X || x0 >= p.X+p.Width
				require.True(rt, clear, "%+v lies in %+v", f, p)
			}
			area, err := p.Width.Times(p.Length)
			require.NoError(rt, err)
			sum += area
		}
		require.Equal(rt, mostByTrying(lot, got.Width, a), sum)
	})
}

func flawSpan(f sizing.Flaw, width length.Length) (from, to length.Length) {
	from, to = f.Clear, f.Reach
	if f.Reach == 0 || f.Reach >= width {
		to = width
	}
	if f.Far {
		return width - to, max(width-from, 0)
	}
	return min(from, width), to
}

// mostByTrying takes every set of parts that follow each other, each from 0 or the
// end of a flaw to the beginning of a flaw or the end of the lot.
func mostByTrying(lot sizing.Lot, width length.Length, a sizing.Allowances) length.Area {
	starts, stops := []length.Length{0}, []length.Length{lot.Length}
	for _, f := range lot.Flaws {
		starts, stops = append(starts, f.To), append(stops, f.From)
	}
	var from func(y length.Length) length.Area
	from = func(y length.Length) length.Area {
		var best length.Area
		for _, start := range starts {
			for _, stop := range stops {
				if start < y || stop <= start {
					continue
				}
				best = max(best, kept(lot, width, a, start, stop)+from(stop))
			}
		}
		return best
	}
	return from(0)
}

// kept is what is left between two places along the lot: inch by inch across it,
// what runs between flaws and is worth keeping.
func kept(lot sizing.Lot, width length.Length, a sizing.Allowances, start, stop length.Length) length.Area {
	var sum length.Area
	l, w := stop-start, length.Length(0)
	ends := func() {
		if w > 0 && (w >= a.KeepWidth && l >= a.KeepLength || l >= a.KeepWidth && w >= a.KeepLength) {
			sum += length.Area(w * l)
		}
		w = 0
	}
	for x := length.Length(0); x < width; x += length.Inch {
		good := true
		for _, f := range lot.Flaws {
			x0, x1 := flawSpan(f, width)
			if f.To > start && f.From < stop && x0 <= x && x < x1 {
				good = false
			}
		}
		if !good {
			ends()
			continue
		}
		w += length.Inch
	}
	ends()
	return sum
}
