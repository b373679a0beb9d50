package sizing

import (
	"cmp"
	"fmt"
	"slices"

	"boltward/internal/length"
)

// blemish is a flaw within one strip of a lot, counted from the strip's own
// beginning and near edge.
type blemish struct {
	from, to length.Length
	x0, x1   length.Length
	full     bool // nothing beside it is good
}

// part fills in the parts of u: border strips first, then what flaws leave of
// each strip. end is what was squared off before Y begins.
func (l Lot) part(u *Usable, end length.Length, a Allowances, text func(length.Length) string) {
	for _, strip := range l.strips(*u, text, &u.How) {
		var found []blemish
		for _, f := range l.Flaws {
			if b, ok := f.within(strip, u.Width, end, max(l.Width-u.Width, 0)); ok {
				found = append(found, b)
			}
		}
		if len(found) == 0 {
			u.Parts = append(u.Parts, strip)
			continue
		}
		parts := partAround(strip, found, a)
		switch {
		case len(parts) == 0:
			u.How = append(u.How, fmt.Sprintf("Flaws leave no part of %s × %s that is worth keeping.", text(strip.Width), text(strip.Length)))
		case len(parts) == 1:
			u.How = append(u.How, fmt.Sprintf("Cut round the flaws, one part is left: %s × %s.", text(parts[0].Width), text(parts[0].Length)))
		default:
			u.How = append(u.How, fmt.Sprintf("Parted at the flaws, %d parts are left.", len(parts)))
		}
		u.Parts = append(u.Parts, parts...)
	}
}

// strips parts the border from the rest.
func (l Lot) strips(u Usable, text func(length.Length) string, how *[]string) []Part {
	d := l.Border.Depth
	at := func(kind PartKind, x, w length.Length) Part {
		return Part{Kind: kind, X: x, Width: w, Length: u.Length}
	}
	switch l.Border.Edges {
	case OneSelvedge:
		*how = append(*how, fmt.Sprintf("The border strip is %s deep; beside it %s are left.", text(d), text(u.Width-d)))
		return []Part{at(BorderStrip, 0, d), at(BesideBorder, d, u.Width-d)}
	case BothSelvedges:
		*how = append(*how, fmt.Sprintf("Two border strips are %s deep; between them %s are left.", text(d), text(u.Width-2*d)))
		return []Part{at(BorderStrip, 0, d), at(BesideBorder, d, u.Width-2*d), at(BorderStrip, u.Width-d, d)}
	}
	return []Part{at(Whole, 0, u.Width)}
}

// within gives the flaw as it lies in a strip; false where it does not touch it. A
// flaw's place was measured from the selvedge and is taken from the usable edge:
// trimmed is how far the two may lie apart, so that bad cloth is never counted on.
func (f Flaw) within(strip Part, width, end, trimmed length.Length) (blemish, bool) {
	b := blemish{from: max(f.From-end, 0), to: min(f.To-end, strip.Length)}
	if b.to <= b.from {
		return b, false
	}
	x0, x1 := max(f.Clear-trimmed, 0), f.Reach
	if f.Reach == 0 || f.Reach >= width {
		x1 = width
	}
	if f.Far {
		x0, x1 = width-x1, width-x0
	}
	b.x0, b.x1 = max(x0-strip.X, 0), min(x1-strip.X, strip.Width)
	// A narrower border strip no longer serves the panel it was made for.
	b.full = strip.Kind == BorderStrip || b.x0 == 0 && b.x1 == strip.Width
	return b, b.x0 < b.x1
}

// partAround chooses where the strip is parted and where it is narrowed, so that the
// parts worth keeping have the greatest area together and among equals are the
// fewest. Parts run from the squared end or the end of some flaw to the beginning of
// some flaw or the other end, and are narrowed by every flaw beside them. best[i] is
// the best choice of parts that end at or before ends[i].
func partAround(strip Part, flaws []blemish, a Allowances) []Part {
	starts, ends := []length.Length{0}, []length.Length{strip.Length}
	for _, f := range flaws {
		starts, ends = append(starts, f.to), append(ends, f.from)
	}
	slices.Sort(starts)
	slices.Sort(ends)
	type choice struct {
		area  length.Area
		parts []Part
	}
	best := make([]choice, len(ends))
	// upTo is the best choice that ends at or before y; ends up to i are known.
	upTo := func(y length.Length, i int) choice {
		for i--; i >= 0; i-- {
			if ends[i] <= y {
				return best[i]
			}
		}
		return choice{}
	}
	for i, stop := range ends {
		best[i] = upTo(stop, i)
		for _, start := range starts {
			parts, area := between(strip, start, stop, flaws, a)
			if area == 0 {
				continue
			}
			before := upTo(start, i)
			more := before.area + area
			if more > best[i].area || more == best[i].area && len(before.parts)+len(parts) < len(best[i].parts) {
				best[i] = choice{more, append(slices.Clip(before.parts), parts...)}
			}
		}
	}
	return best[len(ends)-1].parts
}

// between gives the parts from start to stop that lie beside every flaw that
// touches there, those worth keeping, and their area.
func between(strip Part, start, stop length.Length, flaws []blemish, a Allowances) ([]Part, length.Area) {
	var here []blemish
	for _, f := range flaws {
		if f.to <= start || f.from >= stop {
			continue
		}
		if f.full {
			return nil, 0
		}
		here = append(here, f)
	}
	slices.SortFunc(here, func(a, b blemish) int { return cmp.Compare(a.x0, b.x0) })
	var parts []Part
	var sum length.Area
	keep := func(from, to length.Length) {
		p := Part{Kind: FlawPart, X: strip.X + from, Y: start, Width: to - from, Length: stop - start}
		if strip.Kind == BorderStrip {
			p.Kind = BorderStrip
		}
		if p.Width > 0 && p.Length > 0 && a.worthKeeping(p) {
			parts = append(parts, p)
			// A lot is at most 10 m by 10 km, so its area always fits.
			sum += length.Area(p.Width * p.Length)
		}
	}
	good := length.Length(0) // everything on this side is dealt with
	for _, f := range here {
		keep(good, f.x0)
		good = max(good, f.x1)
	}
	keep(good, strip.Width)
	return parts, sum
}

func (a Allowances) worthKeeping(p Part) bool {
	return p.Width >= a.KeepWidth && p.Length >= a.KeepLength || p.Width >= a.KeepLength && p.Length >= a.KeepWidth
}
