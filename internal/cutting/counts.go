package cutting

import "slices"

// Sheet is the size of a piece of cloth.
type Sheet struct{ Width, Length int64 }

// Answer says whether counts of panels can be cut.
type Answer int

const (
	// Unknown: finding out would take more than the work allowed.
	Unknown Answer = iota
	// Can: the sheets have three-stage patterns that give the counts together.
	Can
	// Cannot: they have none.
	Cannot
)

// Counts answers whether whole numbers of panels of several kinds can be cut together. Prices
// cannot tell: they judge mixtures of patterns. For every part of the counts asked for it finds
// the least length of a sheet that gives it, from the least heights of strips, and those from
// columns. Counts of too many parts are judged by the cloth they leave over (scant.go). Exact; not
// for concurrent use.
type Counts struct {
	forms []Form
	kind  []int // of each form
	// MostParts limits into how many parts the counts may fall, MostWork what a question may take,
	// one of more parts half of that.
	MostParts int
	MostWork  int64
	// MostSpare is how much more the sheets could cover than counts of more parts do, by what these
	// cover: where more is left over, too much would have to be tried. 0: such counts are not judged.
	MostSpare float64
	// Work counts the numbers touched, roughly nanoseconds.
	Work int64

	*box
	boxes []*box // of the last questions: many ask for less of what has been asked before
	end   int64  // Work at which to give up
}

// box is some counts with all their parts, and what these take from sheets.
type box struct {
	place []int              // kinds asked for
	need  []int32            // how many of each
	step  []int              // by how much the numbers of parts differ that differ by one at a place
	parts [][]int32          // every part of the counts by its number
	known map[int64]*lengths // by width of the sheet
}

// mostBoxes and mostKept limit what is kept of earlier questions.
const (
	mostBoxes = 6
	mostKept  = 12_000 // parts
)

// NewCounts prepares for panels of the forms given, each a turn of a kind.
func NewCounts(forms []Form, kind []int) *Counts {
	return &Counts{forms: forms, kind: kind, MostParts: 1000, MostWork: 8_000_000}
}

// Cut says whether the sheets together give at least need (by kind), and how: a pattern for
// each sheet.
func (c *Counts) Cut(need []int, sheets []Sheet) ([]Pattern, Answer) {
	c.end = c.Work + c.MostWork
	if !c.take(need) {
		return c.cutScant(need, sheets)
	}
	longest := map[int64]int64{}
	for _, s := range sheets {
		longest[s.Width] = max(longest[s.Width], s.Length)
	}
	left := []int{c.number(need)} // what may still be lacking after the sheets so far
	var trail []map[int]come
	for _, s := range sheets {
		t := c.known[s.Width]
		if t == nil || t.longest < longest[s.Width] {
			t = c.lengths(s.Width, longest[s.Width])
		}
		if c.Work > c.end {
			return nil, Unknown
		}
		c.known[s.Width] = t
		gives := c.fullest(t, s.Length)
		next := map[int]come{}
		for _, from := range left {
			for _, g := range gives {
				to := c.less(from, g)
				if _, had := next[to]; !had {
					next[to] = come{from, g}
				}
			}
		}
		if c.Work > c.end {
			return nil, Unknown
		}
		trail = append(trail, next)
		if left = c.least(next); left[0] == 0 {
			break
		}
	}
	if left[0] != 0 {
		return nil, Cannot
	}
	out := make([]Pattern, len(sheets))
	at := 0
	for i := len(trail) - 1; i >= 0; i-- {
		was := trail[i][at]
		out[i] = c.known[sheets[i].Width].pattern(c, was.gives)
		at = was.from
	}
	return out, Can
}

// come says of what is left after a sheet what was left before, and what the sheet gives.
type come struct{ from, gives int }

// take finds a box that holds the counts, or lists their parts; false where they are too many.
func (c *Counts) take(need []int) bool {
	for i, b := range c.boxes {
		if b.holds(need) {
			c.boxes = append(slices.Delete(c.boxes, i, i+1), b)
			c.box = b
			return true
		}
	}
	n := c.lay(need)
	if n > c.MostParts {
		return false
	}
	kept := n
	for i := len(c.boxes) - 1; i >= 0; i-- {
		if kept += len(c.boxes[i].parts); kept > mostKept || len(c.boxes)-i >= mostBoxes {
			c.boxes = slices.Delete(c.boxes, 0, i+1)
			break
		}
	}
	c.boxes = append(c.boxes, c.box)
	at := make([]int32, len(c.need))
	for range n {
		c.parts = append(c.parts, slices.Clone(at))
		for i := range at {
			if at[i]++; at[i] <= c.need[i] {
				break
			}
			at[i] = 0
		}
	}
	return true
}

// lay begins a box of counts and gives the number of its parts, or more than may be.
func (c *Counts) lay(need []int) int {
	c.box = &box{known: map[int64]*lengths{}}
	n := 1
	for k, v := range need {
		if v > 0 && n <= c.MostParts {
			c.place, c.need, c.step = append(c.place, k), append(c.need, int32(v)), append(c.step, n)
			n *= v + 1
		}
	}
	return n
}

// holds says whether counts are among the box's parts.
func (b *box) holds(need []int) bool {
	for k, v := range need {
		if v <= 0 {
			continue
		}
		if i := slices.Index(b.place, k); i < 0 || int(b.need[i]) < v {
			return false
		}
	}
	return true
}

// number gives the part that counts held by the box are.
func (b *box) number(need []int) int {
	n := 0
	for i, k := range b.place {
		n += max(need[k], 0) * b.step[i]
	}
	return n
}

// less gives what part p lacks once g is given.
func (c *Counts) less(p, g int) int {
	c.Work += int64(2 * len(c.step))
	to := 0
	for i, n := range c.parts[p] {
		if n -= c.parts[g][i]; n > 0 {
			to += int(n) * c.step[i]
		}
	}
	return to
}

// within says whether g is a part of p.
func (c *Counts) within(g, p int) bool {
	c.Work += 2
	for i, n := range c.parts[g] {
		if n > c.parts[p][i] {
			return false
		}
	}
	return true
}

// first gives the first place at which a part has a panel.
func (c *Counts) first(p int) int {
	for i, n := range c.parts[p] {
		if n > 0 {
			return i
		}
	}
	return -1
}

// least lists the parts that no other is part of, in order.
func (c *Counts) least(next map[int]come) []int {
	var all, out []int
	for p := range next {
		all = append(all, p)
	}
	slices.Sort(all) // a part of another has a smaller number
	for _, p := range all {
		if !slices.ContainsFunc(out, func(q int) bool { return c.within(q, p) }) {
			out = append(out, p)
		}
	}
	return out
}

// fullest lists the parts that a sheet of some length gives and cannot exceed.
func (c *Counts) fullest(t *lengths, length int64) []int {
	var out []int
	for p := range t.length {
		if t.length[p] > length {
			continue
		}
		full := true
		for i, n := range c.parts[p] {
			if n < c.need[i] && t.length[p+c.step[i]] <= length {
				full = false
				break
			}
		}
		if full {
			out = append(out, p)
		}
	}
	return out
}
