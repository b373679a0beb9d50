package proof

import (
	"errors"
	"fmt"
	"slices"
)

// together judges whether the pieces of one cloth can give several panels at once, by trying
// everything: which part of them each piece gives, which part of that each strip, and which
// part of that each column. A part is a list of counts, by panel asked for.
type together struct {
	c      *casework
	err    error // why trying ended before its end
	g      *cloth
	panels []int              // of the certificate
	parts  [][]int64          // every part of what is asked for
	area   []float64          // by part, only ever compared with room to spare
	stack  [][]int64          // by part and width of a column: its height
	widths []int64            // that a column can have
	high   map[[2]int64]int64 // by part and width of a strip: its height
	long   map[[2]int64]int64 // by part and width of a piece: its length
	dealt  map[[2]int]bool
}

const (
	mostParts = 5000
	never     = int64(1) << 60
)

// cannot checks that a group cannot give as many of some panels as the limits ask for at least.
func (c *casework) cannot(panels []int, on limits) error {
	t := &together{c: c, high: map[[2]int64]int64{}, long: map[[2]int64]int64{}, dealt: map[[2]int]bool{}}
	var need []int64
	all := int64(1)
	for _, i := range panels {
		if i < 0 || i >= len(c.claim.cert.Panels) || slices.Contains(t.panels, i) {
			return fmt.Errorf("what cannot be cut together names panel %d", i)
		}
		g := c.byName[c.claim.cert.Panels[i].Group]
		if g == nil || t.g != nil && t.g != g {
			return errors.New("what cannot be cut together is from two groups or none")
		}
		t.g = g
		n := max(on[fmt.Sprintf("panel %d", i)].lo-c.given[i], 0)
		if n >= mostParts {
			return fmt.Errorf("%d panels are too many to be tried", n)
		}
		all = min(all*(n+1), mostParts+1)
		need, t.panels = append(need, n), append(t.panels, i)
	}
	if t.g == nil || t.g.tooCoarse {
		return errors.New("what cannot be cut together is from no group")
	}
	claim := fmt.Sprint(t.panels, need)
	if c.tried[claim] {
		return nil
	}
	if all > mostParts {
		can, err := t.scarcely(need)
		return c.judge(t, claim, can, err)
	}
	t.takeParts(need)
	if err := c.spend(int64(len(t.parts)) * int64(1+len(t.g.forms)) * int64(1+len(t.g.forms)*len(need))); err != nil {
		return err
	}
	t.takeStacks()
	t.takeAreas()
	can := t.deal(len(t.parts)-1, t.pieces())
	return c.judge(t, claim, can, t.err)
}

// judge notes a claim that holds, and says why another does not.
func (c *casework) judge(t *together, claim string, can bool, err error) error {
	if err != nil {
		return fmt.Errorf("group %s: %w", t.g.name, err)
	}
	if can {
		return fmt.Errorf("group %s can give together what the certificate says it cannot", t.g.name)
	}
	c.tried[claim] = true
	return nil
}

// takeParts lists the parts in such an order that what one part leaves of another has the
// difference of their numbers.
func (t *together) takeParts(need []int64) {
	t.parts = [][]int64{make([]int64, len(need))}
	for i, n := range need {
		smaller := t.parts
		for k := int64(1); k <= n; k++ {
			for _, part := range smaller {
				more := slices.Clone(part)
				more[i] = k
				t.parts = append(t.parts, more)
			}
		}
	}
}

// takeStacks finds how high each part is in a column of each width.
func (t *together) takeStacks() {
	for _, f := range t.g.forms {
		t.widths = append(t.widths, f.w)
	}
	slices.Sort(t.widths)
	t.widths = slices.Compact(t.widths)
	for _, part := range t.parts {
		heights := make([]int64, len(t.widths))
		for k, w := range t.widths {
			for i, n := range part {
				low := never
				for _, f := range t.g.forms {
					if f.at == t.panels[i] && f.w <= w {
						low = min(low, f.h)
					}
				}
				switch {
				case n > 0 && low >= never/n:
					heights[k] = never
				case n > 0:
					heights[k] = min(heights[k]+n*low, never)
				}
			}
		}
		t.stack = append(t.stack, heights)
	}
}

// takeAreas adds up what each part covers: what covers more than all there is needs no trying.
func (t *together) takeAreas() {
	for _, part := range t.parts {
		var sum float64
		for i, n := range part {
			for _, f := range t.g.forms {
				if f.at == t.panels[i] {
					sum += float64(n) * float64(f.w) * float64(f.h)
					break // turned it covers as much
				}
			}
		}
		t.area = append(t.area, sum)
	}
}

// exceeds says whether a part covers more than the longest piece of some width does.
func (t *together) exceeds(part, width int64) bool {
	return t.area[part] > float64(width)*float64(t.g.long)*(1+1e-9)
}

// pieces lists width and length of every piece that some panel fits.
func (t *together) pieces() [][2]int64 {
	var out [][2]int64
	for s, n := range t.g.pieces {
		if slices.ContainsFunc(t.g.forms, func(f form) bool { return f.w <= s[0] && f.h <= s[1] }) {
			for range n {
				out = append(out, s)
			}
		}
	}
	slices.SortFunc(out, func(a, b [2]int64) int { return slices.Compare(a[:], b[:]) })
	return out
}

// deal says whether the pieces can give a part.
func (t *together) deal(part int, pieces [][2]int64) bool {
	if part == 0 || len(pieces) == 0 {
		return part == 0
	}
	key := [2]int{part, len(pieces)}
	if _, known := t.dealt[key]; !known {
		t.dealt[key] = slices.ContainsFunc(t.within(part), func(s split) bool {
			return t.length(int64(s.part), pieces[0][0]) <= pieces[0][1] && t.deal(s.rest, pieces[1:])
		})
	}
	return t.dealt[key]
}

// length gives the length that a piece of some width needs for a part. One of its strips holds
// the first panel of the part, and may come first.
func (t *together) length(part, width int64) int64 {
	if part == 0 {
		return 0
	}
	if t.exceeds(part, width) {
		return never
	}
	key := [2]int64{part, width}
	if known, ok := t.long[key]; ok {
		return known
	}
	best := never
	for _, s := range t.within(int(part)) {
		if s.first {
			if h := t.height(int64(s.part), width); h < best {
				best = min(best, h+t.length(int64(s.rest), width))
			}
		}
	}
	t.long[key] = best
	return best
}

// height gives the height that a strip of some width needs for a part.
func (t *together) height(part, width int64) int64 {
	if part == 0 {
		return 0
	}
	if t.exceeds(part, width) {
		return never
	}
	key := [2]int64{part, width}
	if known, ok := t.high[key]; ok {
		return known
	}
	best := t.g.long + 1 // higher than any piece is long counts as never
	for _, s := range t.within(int(part)) {
		if !s.first {
			continue
		}
		for k, w := range t.widths {
			if h := t.stack[s.part][k]; w <= width && h < best {
				best = min(best, max(h, t.height(int64(s.rest), width-w)))
			}
		}
	}
	if best > t.g.long {
		best = never
	}
	t.high[key] = best
	return best
}

// split is one way to take a part from a larger one; first says whether it has some of the
// first panel there.
type split struct {
	part, rest int
	first      bool
}

// within lists every part of a part, itself and nothing included; none once it is too much.
func (t *together) within(whole int) []split {
	var out []split
	if len(t.high)+len(t.long)+len(t.dealt) > mostKept {
		t.err = errTooMuch
	}
	if t.err == nil {
		t.err = t.c.spend(int64(whole+1) * int64(10+len(t.panels)+len(t.widths)))
	}
	if t.err != nil {
		return nil
	}
	all := t.parts[whole]
	first := slices.IndexFunc(all, func(n int64) bool { return n > 0 })
	for p, part := range t.parts[:whole+1] {
		fits := true
		for i, n := range part {
			fits = fits && n <= all[i]
		}
		if fits {
			out = append(out, split{p, whole - p, first >= 0 && part[first] > 0})
		}
	}
	return out
}
