package cutting

import (
	"cmp"
	"fmt"
	"slices"
)

// Program prices three-stage patterns of one set of forms for all lengths up to a most
// and a few widths. It keeps its tables from run to run: a run allocates nothing once
// the tables have grown. Not for concurrent use.
type Program struct {
	forms  []Form
	order  []int32 // forms by width, then length
	hs, ws []int64 // raster points along the length and across the width
	across []int64 // those across where a column may end that leaves a width asked for the most
	widths []int64 // widths asked for, ascending
	wTop   []int32 // their points across
	hPred  [][]int32
	wPred  [][]int32
	hFirst []int32 // the least point that holds a form, one more than there are for none
	wFirst []int32

	classes []class
	live    []int32 // classes not dominated at the present height
	strip   []int64 // the best strip of the present height within each point across
	aims    []aim
	heights []height
	t       []int64 // the best piece by length, then width asked for
	from    []int32 // its longest strip, by raster point
	row     []int32 // where choices holds the strips of a height that is used
	choices []uint16
	value   []int64 // of the last run
	cost    []int64
	top     int32 // the last run's longest length, by raster point

	// Work counts the numbers touched since NewProgram, roughly nanoseconds: a measure of
	// effort that is the same on any machine.
	Work int64
}

// aim is what a run knows of one width asked for.
type aim struct {
	strips []used
	base   int32 // the last height whose best strip is known, and its value
	value  int64
	tight  bool
}

// MostCells bounds raster points along the length times those across.
const MostCells = 1 << 25

// mostForms is how many forms a programme can tell apart.
const mostForms = 1<<16 - 1

// NewProgram prepares for pieces up to length long and of the widths given, with at most
// points raster points in each direction. Forms that fit no piece are allowed. It fails with
// *ErrTooFine where the sides add up in too many ways.
func NewProgram(forms []Form, length int64, widths []int64, points int) (*Program, error) {
	p := &Program{forms: forms, widths: slices.Compact(slices.Sorted(slices.Values(widths)))}
	if len(forms) > mostForms {
		return nil, fmt.Errorf("cutting: %d forms, at most %d can be told apart", len(forms), mostForms)
	}
	var hs, ws []int64
	for i, f := range forms {
		if f.W <= 0 || f.H <= 0 {
			return nil, fmt.Errorf("cutting: a form of %d × %d", f.W, f.H)
		}
		hs, ws, p.order = append(hs, f.H), append(ws, f.W), append(p.order, int32(i))
	}
	slices.SortFunc(p.order, func(a, b int32) int {
		fa, fb := forms[a], forms[b]
		return cmp.Or(cmp.Compare(fa.W, fb.W), cmp.Compare(fa.H, fb.H), cmp.Compare(a, b))
	})
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
	p.across = remainders(p.ws, ws, p.widths)
	if len(p.hs)*len(p.across) > MostCells {
		return nil, &ErrTooFine{points}
	}
	for _, w := range p.widths {
		p.wTop = append(p.wTop, floorIndex(p.across, w))
	}
	p.hPred, p.wPred = steps(p.hs, hs), steps(p.across, ws)
	for _, f := range forms {
		p.hFirst = append(p.hFirst, floorIndex(p.hs, f.H-1)+1)
		p.wFirst = append(p.wFirst, floorIndex(p.across, f.W-1)+1)
	}
	p.strip, p.aims = make([]int64, len(p.across)), make([]aim, len(p.widths))
	p.t, p.from = make([]int64, len(p.hs)*len(p.widths)), make([]int32, len(p.hs)*len(p.widths))
	p.row = make([]int32, len(p.hs))
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
func (p *Program) Price(value, cost []int64) { p.PriceTo(value, cost, int32(len(p.hs)-1)) }

// PriceTo is Price for lengths up to a raster point: where only short pieces are asked about,
// that is a small part of the work. Asked about longer ones later, the programme runs again.
func (p *Program) PriceTo(value, cost []int64, point int32) {
	if point <= p.top && slices.Equal(p.value, value) && slices.Equal(p.cost, cost) {
		return // the tables stand
	}
	p.top = point
	p.value, p.cost = append(p.value[:0], value...), append(p.cost[:0], cost...)
	p.stacks(value)
	p.choices, p.heights = p.choices[:0], p.heights[:0]
	for u := range p.aims {
		a := &p.aims[u]
		a.strips, a.base, a.value = a.strips[:0], 0, 0
	}
	if len(p.classes) == 0 {
		clear(p.t)
		return
	}
	for i := 1; i <= int(p.top); i++ {
		p.extend(i)
		if !p.stackChanges(i) {
			continue
		}
		if top := p.worthTrying(i); top >= 0 {
			p.tryStrip(i, top)
		}
	}
}

// Best gives the value of the best pattern at a raster point of length and a width index.
func (p *Program) Best(point int32, width int) int64 {
	if point < 0 {
		return 0
	}
	if point > p.top {
		p.Price(p.value, p.cost)
	}
	return p.t[int(point)*len(p.widths)+width]
}
