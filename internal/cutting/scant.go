package cutting

import (
	"slices"
)

// scant answers for counts that fall into too many parts to list, but leave little of the sheets
// over: of what a column, a strip or a sheet could give only that matters which wastes, within
// its own bounds, no more cloth than may be wasted of all sheets.
type scant struct {
	c     *Counts
	need  tally
	area  []int64 // of a panel, by place
	left  int64   // that the counts do not cover of all sheets
	slack int64   // what the sheets could cover at most beyond the counts
	waste int64   // what may be wasted of a region of the present kind
	most  *Program
	trail []step
}

// step is a tally that can be had: that of an earlier step with one more form, column or strip.
type step struct {
	before, more int32
}

// had is a tally and the last of the steps that lead to it.
type had struct {
	tally
	at int32
}

// rise is what strips can give at a height and not lower.
type rise struct {
	height int64
	strips []had
}

const (
	mostHad   = 4000    // tallies side by side
	mostSide  = 1 << 24 // of a sheet: areas stay far inside int64
	mostInRow = 500     // panels on one another or side by side
)

// cutScant is Cut for counts of too many parts.
func (c *Counts) cutScant(need []int, sheets []Sheet) ([]Pattern, Answer) {
	c.end = c.Work + c.MostWork/2
	n := &scant{c: c, trail: make([]step, 1)}
	if c.MostSpare <= 0 || !n.take(need, sheets) {
		return nil, Unknown
	}
	if n.left < 0 || n.slack < 0 {
		return nil, Cannot
	}
	if float64(n.slack) > c.MostSpare*float64(n.covered(n.need)) {
		return nil, Unknown
	}
	known := map[Sheet][]had{}
	states := []had{{}}
	var area int64
	for _, s := range sheets {
		if _, ok := known[s]; !ok {
			known[s] = n.sheet(s)
		}
		area += s.Width * s.Length
		n.waste = n.left
		if states = n.join(nil, states, known[s], area); n.over() {
			return nil, Unknown
		}
	}
	for _, s := range states {
		if s.tally == n.need {
			return n.patterns(s.at, sheets), Can
		}
	}
	return nil, Cannot
}

// take reads the question; false where it is too large for this.
func (n *scant) take(need []int, sheets []Sheet) bool {
	c := n.c
	c.box = &box{}
	for k, v := range need {
		if v <= 0 {
			continue
		}
		if len(c.place) == mostTallied || v > mostOfOne {
			return false
		}
		at := slices.Index(c.kind, k)
		if at < 0 {
			n.left = -1 // there is no such panel
			return true
		}
		n.need |= tally(v) << (8 * len(c.place))
		c.place = append(c.place, k)
		f := c.forms[at]
		n.area = append(n.area, f.W*f.H)
	}
	for _, s := range sheets {
		if max(s.Width, s.Length) > mostSide {
			return false
		}
		for f, x := range c.forms {
			if slices.Contains(c.place, c.kind[f]) && max(s.Width/x.W, s.Length/x.H) > mostInRow {
				return false
			}
		}
		n.left += s.Width * s.Length
	}
	n.left -= n.covered(n.need)
	return n.cover(sheets)
}

// cover finds how much the sheets can cover at most.
func (n *scant) cover(sheets []Sheet) bool {
	var widths []int64
	var longest int64
	for _, s := range sheets {
		widths, longest = append(widths, s.Width), max(longest, s.Length)
	}
	var err error
	if n.most, err = NewProgram(n.c.forms, longest, widths, 1<<12); err != nil {
		return false
	}
	worth := make([]int64, len(n.c.forms))
	for f, k := range n.c.kind {
		if p := slices.Index(n.c.place, k); p >= 0 {
			worth[f] = n.area[p]
		}
	}
	n.most.Price(worth, nil)
	n.c.Work += n.most.Work + int64(100*n.most.Points())
	for _, s := range sheets {
		n.slack += n.covers(s.Width, s.Length)
	}
	n.slack -= n.covered(n.need)
	return true
}

// covers gives how much of a sheet can be covered at most.
func (n *scant) covers(width, length int64) int64 {
	return n.most.Best(n.most.Point(length), n.most.Width(width))
}

// allow sets what may be wasted of so much of the length of a sheet: what it wastes elsewhere for
// certain cannot be wasted here.
func (n *scant) allow(s Sheet, length int64) {
	n.waste = s.Width*length - n.covers(s.Width, s.Length) + n.covers(s.Width, s.Length-length) + n.slack
}

func (n *scant) covered(t tally) int64 {
	var sum int64
	for p, a := range n.area {
		sum += t.of(p) * a
	}
	return sum
}

// over says whether the work allowed is done: lists may lack something from then on.
func (n *scant) over() bool { return n.c.Work > n.c.end }

// giveUp has nothing more looked for.
func (n *scant) giveUp() { n.c.Work = max(n.c.Work, n.c.end+1) }

// put adds a step to those of an area, unless it wastes too much or another holds what it gives.
func (n *scant) put(list []had, from had, more tally, by int32, area int64) []had {
	if n.over() {
		return list
	}
	t := (from.tally + more).atMost(n.need)
	n.c.Work += int64(len(list)/2 + 2*len(n.area))
	if area-n.covered(t) > n.waste {
		return list
	}
	for _, h := range list {
		if t.within(h.tally) {
			return list
		}
	}
	list = slices.DeleteFunc(list, func(h had) bool { return h.within(t) })
	if len(list) >= mostHad {
		n.giveUp()
		return list
	}
	n.trail = append(n.trail, step{from.at, by})
	return append(list, had{t, int32(len(n.trail) - 1)})
}

// join puts all that can be had of one area and of another beside it.
func (n *scant) join(list, one, other []had, area int64) []had {
	for _, a := range one {
		for _, b := range other {
			if n.over() {
				return list
			}
			list = n.put(list, a, b.tally, b.at, area)
		}
	}
	return list
}

// still keeps of a list what wastes no more than may be of a larger area.
func (n *scant) still(list []had, area int64) []had {
	var out []had
	for _, h := range list {
		if area-n.covered(h.tally) <= n.waste {
			out = append(out, h)
		}
	}
	n.c.Work += int64(len(list) * len(n.area))
	return out
}

// sheet lists what a sheet can give.
func (n *scant) sheet(s Sheet) []had {
	var hs, ws []int64
	for f, x := range n.c.forms {
		if slices.Contains(n.c.place, n.c.kind[f]) && x.W <= s.Width && x.H <= s.Length {
			hs, ws = append(hs, x.H), append(ws, x.W)
		}
	}
	points, tooMany := raster(hs, s.Length, 1<<14)
	across, tooWide := raster(ws, s.Width, 1<<14)
	if tooMany != nil || tooWide != nil {
		n.giveUp()
		return nil
	}
	slices.Sort(ws)
	ws = slices.Compact(ws)
	n.waste = n.left
	columns := make([][][]had, len(ws)) // by width and point
	for k, w := range ws {
		columns[k] = n.columns(w, points)
	}
	whole := [][]had{{{}}}
	var rises []rise
	for i := 1; i < len(points) && !n.over(); i++ {
		area := s.Width * points[i]
		n.allow(s, points[i])
		here := n.still(whole[i-1], area)
		for _, r := range rises {
			here = n.join(here, whole[floorIndex(points, points[i]-r.height)], r.strips, area)
		}
		n.c.Work += int64(len(rises) / 8)
		r := rise{height: points[i]}
		for _, b := range n.strips(s.Width, i, points, across, ws, columns) {
			steps := len(n.trail)
			if here = n.put(here, had{}, b.tally, b.at, area); len(n.trail) > steps {
				r.strips = append(r.strips, b)
			}
		}
		if len(r.strips) > 0 {
			rises = append(rises, r)
		}
		whole = append(whole, here)
	}
	n.allow(s, s.Length)
	return n.still(whole[len(whole)-1], s.Width*s.Length)
}

// columns lists by height what a column of some width can give.
func (n *scant) columns(w int64, points []int64) [][]had {
	out := [][]had{{{}}}
	var forms []int
	for _, k := range n.c.place {
		forms = append(forms, n.c.lowest(k, w))
	}
	for i := 1; i < len(points) && !n.over(); i++ {
		here := n.still(out[i-1], w*points[i])
		n.c.Work++ // a look counts where nothing can be had as well
		for p, f := range forms {
			if f < 0 || n.c.forms[f].H > points[i] {
				continue
			}
			for _, a := range out[floorIndex(points, points[i]-n.c.forms[f].H)] {
				here = n.put(here, a, 1<<(8*p), int32(f), w*points[i])
			}
		}
		out = append(out, here)
	}
	return out
}

// strips lists what a strip of the height of a point can give, nothing where columns that high
// give no more than lower ones.
func (n *scant) strips(width int64, i int, points, across, ws []int64, columns [][][]had) []had {
	more := false
	for k := range ws {
		if len(columns[k]) <= i {
			return nil
		}
		// What is new stands behind what was there.
		if here := columns[k][i]; len(here) > 0 && !slices.Contains(columns[k][i-1], here[len(here)-1]) {
			more = true
		}
	}
	if !more {
		return nil
	}
	out := [][]had{{{}}}
	for j := 1; j < len(across) && !n.over(); j++ {
		area := across[j] * points[i]
		here := n.still(out[j-1], area)
		n.c.Work++
		for k, w := range ws {
			if across[j] < w {
				break
			}
			here = n.join(here, out[floorIndex(across, across[j]-w)], columns[k][i], area)
		}
		out = append(out, here)
	}
	return n.still(out[len(out)-1], width*points[i])
}

// patterns rebuilds the sheets that lead to a step.
func (n *scant) patterns(at int32, sheets []Sheet) []Pattern {
	out := make([]Pattern, len(sheets))
	for i := len(sheets) - 1; i >= 0; i-- {
		for _, s := range n.steps(n.trail[at].more) {
			var strip Strip
			for _, c := range n.steps(s) {
				var column Column
				for _, f := range n.steps(c) {
					column = append(column, f)
				}
				strip = append(strip, column)
			}
			out[i] = append(out[i], strip)
		}
		at = n.trail[at].before
	}
	return out
}

// steps lists what the steps to one add.
func (n *scant) steps(at int32) []int32 {
	var out []int32
	for ; at > 0; at = n.trail[at].before {
		out = append(out, n.trail[at].more)
	}
	return out
}
