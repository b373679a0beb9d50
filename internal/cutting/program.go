package cutting

import (
	"fmt"
	"slices"
)

// Program prices three-stage patterns of one set of forms for all lengths up to a most
// and a few widths. It keeps its tables from run to run: a run allocates nothing once
// the tables have grown. Not for concurrent use.
type Program struct {
	forms  []Form
	hs, ws []int64 // raster points along the length and across the width
	widths []int64 // widths asked for, ascending
	wTop   []int32 // their raster points
	hPred  [][]int32
	wPred  [][]int32

	items   []item
	classes []class
	live    []class // classes not dominated at the present height
	strip   []int64
	choice  []int32
	t       [][]int64
	from    [][]int32
	tight   []bool
	value   []int64 // of the last run
	cost    []int64

	// Work counts the numbers touched since NewProgram, roughly nanoseconds: a measure of
	// effort that is the same on any machine.
	Work int64
}

type item struct {
	form  int32
	value int64
}

// class holds the stacks of one width: the best value within each height, and its last form.
type class struct {
	w     int64
	pred  []int32
	stack []int64
	top   []int32
	at    int64
}

// MostCells bounds the table of strips: raster points along the length times those across.
const MostCells = 1 << 25

// NewProgram prepares for pieces up to length long and of the widths given, with at most
// points raster points in each direction. Forms that fit no piece are allowed. It fails with
// *ErrTooFine where the sides add up in too many ways.
func NewProgram(forms []Form, length int64, widths []int64, points int) (*Program, error) {
	p := &Program{forms: forms, widths: slices.Compact(slices.Sorted(slices.Values(widths)))}
	var hs, ws []int64
	for _, f := range forms {
		if f.W <= 0 || f.H <= 0 {
			return nil, fmt.Errorf("cutting: a form of %d × %d", f.W, f.H)
		}
		hs, ws = append(hs, f.H), append(ws, f.W)
	}
	var err error
	if p.hs, err = raster(hs, length, points); err != nil {
		return nil, err
	}
	var widest int64
	if n := len(p.widths); n > 0 {
		widest = p.widths[n-1]
	}
	if p.ws, err = raster(ws, widest, points); err != nil {
		return nil, err
	}
	if len(p.hs)*len(p.ws) > MostCells {
		return nil, &ErrTooFine{points}
	}
	for _, w := range p.widths {
		p.wTop = append(p.wTop, floorIndex(p.ws, w))
	}
	known := map[Form][]int32{}
	pred := func(points []int64, side int64, key Form) []int32 {
		if known[key] == nil {
			known[key] = before(points, side)
		}
		return known[key]
	}
	for _, f := range forms {
		p.hPred = append(p.hPred, pred(p.hs, f.H, Form{0, f.H}))
		p.wPred = append(p.wPred, pred(p.ws, f.W, Form{f.W, 0}))
	}
	p.strip, p.choice = make([]int64, len(p.ws)), make([]int32, len(p.ws))
	for range p.widths {
		p.t = append(p.t, make([]int64, len(p.hs)))
		p.from = append(p.from, make([]int32, len(p.hs)))
	}
	p.tight = make([]bool, len(p.widths))
	return p, nil
}

// Points gives the number of raster points along the length.
func (p *Program) Points() int { return len(p.hs) }

// Point gives the raster point that a length is worth as much as.
func (p *Program) Point(length int64) int32 {
	if length < 0 {
		return -1
	}
	return floorIndex(p.hs, length)
}

// Length gives the length of a raster point.
func (p *Program) Length(point int32) int64 { return p.hs[point] }

// Width gives the index of a width asked for at NewProgram, −1 where it was not.
func (p *Program) Width(width int64) int {
	i, ok := slices.BinarySearch(p.widths, width)
	if !ok {
		return -1
	}
	return i
}

// Widths gives the widths that the programme answers for, ascending.
func (p *Program) Widths() []int64 { return p.widths }

// AskedWidth gives the width at an index.
func (p *Program) AskedWidth(index int) int64 { return p.widths[index] }

// RasterWidth gives the width that a piece of the given width is worth as much as.
func (p *Program) RasterWidth(width int64) int64 { return p.ws[floorIndex(p.ws, width)] }

// Price runs the programme: value gives each form's worth, cost (nil for none) what one unit
// of length costs at each width. A run with the values of the last one costs nothing. Values of 0 or less are never cut.
func (p *Program) Price(value, cost []int64) {
	if slices.Equal(p.value, value) && slices.Equal(p.cost, cost) {
		return // the tables stand
	}
	p.value, p.cost = append(p.value[:0], value...), append(p.cost[:0], cost...)
	p.takeItems(value)
	p.stacks()
	for u := range p.widths {
		clear(p.t[u])
	}
	if len(p.classes) == 0 {
		return
	}
	for i := 1; i < len(p.hs); i++ {
		if !p.stackChanges(i) || !p.worthTrying(i) {
			continue
		}
		p.fillStrip(i, false)
		for u := range p.widths {
			if !p.tight[u] {
				continue
			}
			if v := p.strip[p.wTop[u]] - p.lengthCost(u, i); v > p.t[u][i] {
				p.enter(u, int32(i), v)
			}
		}
	}
}

// Best gives the value of the best pattern at a raster point of length and a width index.
func (p *Program) Best(point int32, width int) int64 {
	if point < 0 {
		return 0
	}
	return p.t[width][point]
}

func (p *Program) lengthCost(u, i int) int64 {
	if len(p.cost) == 0 {
		return 0
	}
	return p.cost[u] * p.hs[i]
}

func (p *Program) stackChanges(i int) bool {
	for c := range p.classes {
		if s := p.classes[c].stack; s[i] != s[i-1] {
			return true
		}
	}
	return false
}

// worthTrying lists the classes not dominated at height i and says for which widths a strip
// could beat what shorter strips reach, judged by its best value for each unit of width.
func (p *Program) worthTrying(i int) bool {
	p.takeLive(i)
	var density float64
	for _, c := range p.live {
		density = max(density, float64(c.at)/float64(c.w))
	}
	// A little is added so that rounding never drops a strip that would have won.
	density *= 1 + 1e-9
	any := false
	for u, w := range p.widths {
		most := float64(density*float64(w)) - float64(p.lengthCost(u, i))
		p.tight[u] = most+1 > float64(p.t[u][i])
		any = any || p.tight[u]
	}
	return any
}

func (p *Program) takeLive(i int) {
	p.live = p.live[:0]
	var below int64
	for _, c := range p.classes {
		if v := c.stack[i]; v > below {
			c.at = v
			p.live = append(p.live, c)
			below = v
		}
	}
}

// fillStrip fills S for height i over all raster widths from the live classes.
func (p *Program) fillStrip(i int, trace bool) {
	top := 0
	for u := range p.widths {
		if trace || p.tight[u] {
			top = int(p.wTop[u])
		}
	}
	clear(p.strip[:top+1])
	p.Work += int64((top + 1) * len(p.live))
	for k := range p.live {
		c := &p.live[k]
		from := floorIndex(p.ws, c.w)
		if p.strip[from] >= c.at {
			continue // narrower columns side by side are worth as much
		}
		for j := from; int(j) <= top; j++ {
			if v := p.strip[c.pred[j]] + c.at; v > p.strip[j] {
				p.strip[j] = v
				if trace {
					p.choice[j] = int32(k)
				}
			}
		}
	}
}

// enter lets a strip of height i and value v into T at width u.
func (p *Program) enter(u int, i int32, v int64) {
	t, from, h := p.t[u], p.from[u], p.hs[i]
	at := int32(0)
	p.Work += int64(2 * (len(p.hs) - int(i)))
	for j := i; int(j) < len(p.hs); j++ {
		for p.hs[at+1] <= p.hs[j]-h {
			at++
		}
		if x := t[at] + v; x > t[j] {
			t[j], from[j] = x, i
		}
	}
}
