// Package cutting finds the most valuable ways to cut rectangles from rectangles
// with edge-to-edge (guillotine) cuts, on whole numbers.
//
// Program answers for three parting stages, the way a table of cloth is cut: first
// across the full width into strips, then each strip along into columns, then each
// column across into panels; a last trim that only frees a panel from waste is free.
// One run prices every length and every width asked for at once:
//
//	K_w(h)   the most that a column of width w holds within height h    (stacks)
//	S_u(h)   the most that a strip of height h holds within width u     (columns side by side)
//	T_u(l)   the most that a piece of width u and length l holds        (strips)
//
// Each is an unbounded knapsack over the one before. Lengths and widths are only
// ever looked at where sums of panel sides end (raster points), across moreover only where
// such sums leave a width asked for; so the unit of length does not matter. A strip height is
// only tried where some stack changes and what the stacks gained since the last strip known
// could beat what shorter strips reach, and a strip only enters T where it does. From T on, only
// strips no less dense than what is reached already are tried. All of that is exact.
//
// Guillotine answers for any number of stages.
//
// Units: lengths are whole numbers in whatever unit the caller keeps; values are
// whole numbers; what a piece can hold together must stay below 2^61. Guarantees: results are exact
// and the same on any machine. Check judges a layout and shares nothing with the
// programmes.
//
// References: Gilmore and Gomory, "Multistage cutting stock problems of two and more
// dimensions" (1965); Herz, "Recursive computational procedure for two-dimensional
// stock cutting" (1972); Scheithauer and Terno, "The G4-heuristic for the pallet
// loading problem" (1996) for raster points; Cintra, Miyazawa, Wakabayashi and Xavier,
// "Algorithms for two-dimensional cutting stock and strip packing problems using
// dynamic programming and column generation" (2008).
package cutting

// Form is one panel in one turn: W lies across the width of the cloth, H along its length.
type Form struct{ W, H int64 }

// Rect is a rectangle on a piece: X, W across the width, Y, H along the length from the squared end.
type Rect struct{ X, Y, W, H int64 }

// Column is a stack of forms by index, from the squared end on.
type Column []int32

// Strip is a set of columns side by side, cut from the full width.
type Strip []Column

// Pattern is what is cut from a piece, strip after strip.
type Pattern []Strip

// Height gives the length of cloth that a strip takes.
func (s Strip) Height(forms []Form) int64 {
	var h int64
	for _, c := range s {
		h = max(h, c.height(forms))
	}
	return h
}

func (c Column) height(forms []Form) int64 {
	var h int64
	for _, f := range c {
		h += forms[f].H
	}
	return h
}

func (c Column) width(forms []Form) int64 {
	var w int64
	for _, f := range c {
		w = max(w, forms[f].W)
	}
	return w
}

// Placed is one panel of a layout.
type Placed struct {
	Form int32
	Rect
}

// Place gives every panel of a pattern its place, packed to the squared end and to the
// left edge; the rectangles left beside and above the columns of each strip inside a
// piece of the given width; and the length used.
func (p Pattern) Place(forms []Form, width int64) (panels []Placed, waste []Rect, used int64) {
	for _, s := range p {
		height := s.Height(forms)
		var x int64
		for _, c := range s {
			w, y := c.width(forms), used
			for _, f := range c {
				panels = append(panels, Placed{f, Rect{x, y, forms[f].W, forms[f].H}})
				y += forms[f].H
			}
			if y < used+height {
				waste = append(waste, Rect{x, y, w, used + height - y})
			}
			x += w
		}
		if x < width {
			waste = append(waste, Rect{x, used, width - x, height})
		}
		used += height
	}
	return panels, waste, used
}

// Counts adds how often each form occurs to into.
func (p Pattern) Counts(into []int64) {
	for _, s := range p {
		s.Counts(into)
	}
}

// Counts adds how often each form occurs to into.
func (s Strip) Counts(into []int64) {
	for _, c := range s {
		for _, f := range c {
			into[f]++
		}
	}
}
