package paper

import (
	"fmt"
	"math"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// layout is how a piece of cloth is cut, drawn to a scale of 1 to many: the selvedge
// runs from left to right along the ruler, the squared end is at the left. A long
// one goes on in further rows, parted where a strip ends.
type layout struct {
	sheet  drive.CutSheet
	unit   length.Unit
	panels map[int]drive.SheetPanel
	scale  int
	rows   []layoutRow
}

type layoutRow struct {
	from, to length.Length
	first    int // the number of its first strip, from 0
	strips   []drive.CutStrip
}

// Room beside the cloth of a row, in millimetres: for the strips' names above, the
// ruler below, and a torn edge where the piece goes on.
const (
	stripsHigh = 5.0
	rulerHigh  = 8.0
	goesOnWide = 4.0
)

// scales are those that a layout may be drawn at, 1 to each.
var scales = []int{6, 8, 10, 12, 15, 16, 18, 20, 24, 30, 36, 40, 48, 60, 80, 100, 120, 160, 200, 300, 500, 800, 1200}

// layoutOf chooses the greatest scale at which a layout leaves room for its steps; one
// with many strips may be higher, so that they can be read.
func (d *document) layoutOf(sheet drive.CutSheet, u length.Unit, wide float64) layout {
	l := layout{sheet: sheet, unit: u, panels: map[int]drive.SheetPanel{}}
	for _, p := range sheet.Panels {
		l.panels[p.Panel.Panel] = p
	}
	strips := drive.CutOrder(sheet.Laid(), sheet.Remnants)
	for _, scale := range scales {
		l.scale, l.rows = scale, partRows(strips, sheet.Used, (wide-goesOnWide)*float64(scale))
		most := 105.0
		if scale > 20 {
			most = 150
		}
		if l.rows != nil && l.height() <= most {
			break
		}
	}
	return l
}

// partRows parts strips into rows that are no longer than most millimetres of cloth; nil
// where one strip alone is longer.
func partRows(strips []drive.CutStrip, used length.Length, most float64) []layoutRow {
	if len(strips) == 0 {
		return []layoutRow{{to: used}}
	}
	rows := []layoutRow{{}}
	for i, s := range strips {
		row := &rows[len(rows)-1]
		if len(row.strips) > 0 && mm(s.Y+s.H-row.from) > most {
			rows = append(rows, layoutRow{from: row.to, first: i})
			row = &rows[len(rows)-1]
		}
		row.strips, row.to = append(row.strips, s), s.Y+s.H
		if mm(row.to-row.from) > most {
			return nil
		}
	}
	return rows
}

func (l layout) mm(side length.Length) float64 { return mm(side) / float64(l.scale) }

func (l layout) height() float64 {
	return float64(len(l.rows))*(stripsHigh+l.mm(l.sheet.Width)+rulerHigh) + 6
}

// drawLayout draws a layout from y on and gives where it ends.
func (d *document) drawLayout(l layout, x, y float64) float64 {
	d.pdf.SetDashPattern([]float64{}, 0)
	for i, row := range l.rows {
		top := y + stripsHigh
		d.layoutRow(l, row, x, top, i == len(l.rows)-1)
		y = top + l.mm(l.sheet.Width) + rulerHigh
	}
	in := "inches"
	if l.unit.Metric() {
		in = "centimetres"
	}
	words := fmt.Sprintf("Drawn 1 to %d. The ruler runs along the selvedge from the squared end, in %s; dashed lines are cut across the full width.", l.scale, in)
	if l.sheet.OneWay {
		words += " Arrows point up."
	}
	d.say(x, y+2.5, sheetSmall, words)
	return y + 6
}

func (d *document) layoutRow(l layout, row layoutRow, x, y float64, last bool) {
	wide, high := l.mm(row.to-row.from), l.mm(l.sheet.Width)
	d.pdf.SetDrawColor(35, 39, 44)
	d.pdf.SetLineWidth(0.25)
	d.pdf.Rect(x, y, wide, high, "D")
	for i, s := range row.strips {
		for _, c := range s.Columns {
			for _, item := range c.Items {
				d.layoutItem(l, item, x+l.mm(item.Y-row.from), y+l.mm(item.X))
			}
		}
		at := x + l.mm(s.Y+s.H-row.from)
		d.pdf.SetLineWidth(0.35)
		d.pdf.SetDashPattern([]float64{1.6, 1}, 0)
		d.pdf.Line(at, y-2.5, at, y+high)
		d.pdf.SetDashPattern([]float64{}, 0)
		name := drive.StripName(row.first + i)
		if strip := l.mm(s.H); d.width(sheetSmall, name) < strip {
			d.say(x+l.mm(s.Y+s.H/2-row.from)-d.width(sheetSmall, name)/2, y-1, sheetSmall, name)
		}
	}
	if row.from == 0 {
		d.pdf.SetLineWidth(0.7) // the squared end
		d.pdf.Line(x, y-2.5, x, y+high)
	}
	if !last || l.sheet.Left > 0 {
		d.tornEdge(x+wide, y, high)
	}
	d.ruler(l, row, x, y+high)
}

// tornEdge says that the piece goes on.
func (d *document) tornEdge(x, y, high float64) {
	d.pdf.SetLineWidth(0.2)
	n := max(2, int(high/8)*2)
	step := high / float64(n)
	for i := range n {
		a, b := 1.2, 2.4
		if i%2 == 1 {
			a, b = b, a
		}
		d.pdf.Line(x+a, y+float64(i)*step, x+b, y+float64(i+1)*step)
	}
}

// layoutItem draws a panel or a remnant whose corner at the squared end's left is at x, y.
func (d *document) layoutItem(l layout, i drive.CutItem, x, y float64) {
	wide, high := l.mm(i.H), l.mm(i.W)
	d.pdf.SetLineWidth(0.25)
	d.pdf.SetDashPattern([]float64{}, 0)
	if i.Panel == 0 {
		d.pdf.SetFillColor(255, 255, 255)
		d.pdf.SetDashPattern([]float64{0.6, 0.8}, 0)
		d.pdf.Rect(x, y, wide, high, "DF")
		d.pdf.SetDashPattern([]float64{}, 0)
		label := ""
		for _, r := range l.sheet.Remnants {
			if r.Remnant == i.Remnant {
				label = drive.ClothID(l.sheet.Lot, r.Label)
			}
		}
		d.inside(x, y, wide, high, "keep", label, drive.OnTape(i.W, l.unit)+" × "+drive.OnTape(i.H, l.unit))
		return
	}
	p := l.panels[i.Panel]
	d.role(p.Role, x, y, wide, high)
	d.inside(x, y, wide, high, fmt.Sprint(i.Panel), p.Role, "kit "+p.Kit.String())
	if l.sheet.OneWay && wide >= 5 && high >= 4 {
		d.arrow(x+1, y+high-1.4)
	}
}

// role fills a panel so that its role is told by its colour and, in black and white,
// by its hatching: a body is plain, a cuff hatched one way, an accent both ways.
func (d *document) role(role string, x, y, w, h float64) {
	d.pdf.SetFillColor(220, 232, 238)
	ways := 0
	switch role {
	case "body":
	case "cuff":
		d.pdf.SetFillColor(241, 227, 198)
		ways = 1
	default:
		d.pdf.SetFillColor(235, 213, 216)
		ways = 2
	}
	d.pdf.Rect(x, y, w, h, "DF")
	d.pdf.SetDrawColor(110, 110, 110)
	d.pdf.SetLineWidth(0.12)
	const apart = 2.2
	for at := apart; ways > 0 && at < w+h; at += apart {
		// The line x + y = at, and its mirror image.
		ax, ay := min(at, w), at-min(at, w)
		bx, by := at-min(at, h), min(at, h)
		d.pdf.Line(x+ax, y+ay, x+bx, y+by)
		if ways == 2 {
			d.pdf.Line(x+w-ax, y+ay, x+w-bx, y+by)
		}
	}
	d.pdf.SetDrawColor(35, 39, 44)
	d.pdf.SetLineWidth(0.25)
}

// arrow points to the squared end, where the print's top is.
func (d *document) arrow(x, y float64) {
	d.pdf.SetLineWidth(0.4)
	d.pdf.Line(x, y, x+3.4, y)
	d.pdf.Line(x, y, x+1.2, y-0.9)
	d.pdf.Line(x, y, x+1.2, y+0.9)
	d.pdf.SetLineWidth(0.25)
}

// inside writes words into a rectangle on a ground of white: below each other, the
// first larger, where there is room; else in one line along the longer side, as many
// of them as fit.
func (d *document) inside(x, y, w, h float64, words ...string) {
	t, big := text{points: 7}, text{points: 11, bold: true}
	widest := d.width(big, words[0])
	for _, line := range words[1:] {
		widest = max(widest, d.width(t, line))
	}
	high := big.line() + float64(len(words)-1)*t.line()
	if widest+2 <= w && high+1 <= h {
		d.ground(x+(w-widest)/2-0.6, y+(h-high)/2, widest+1.2, high)
		base := y + (h-high)/2 + big.points*aPoint*0.85
		d.say(x+(w-d.width(big, words[0]))/2, base, big, words[0])
		for _, line := range words[1:] {
			base += t.line()
			d.say(x+(w-d.width(t, line))/2, base, t, line)
		}
		return
	}
	long, thin := max(w, h), min(w, h)
	t = text{points: clamp((thin-0.4)/aPoint/1.1, 3.5, 8), bold: true}
	for n := len(words); n > 0; n-- {
		line := words[0]
		for _, more := range words[1:n] {
			line += "  " + more
		}
		if d.width(t, line)+1.5 > long && n > 1 {
			continue
		}
		cx, cy := x+w/2, y+h/2
		if h > w {
			d.pdf.TransformBegin()
			d.pdf.TransformRotate(-90, cx, cy)
			defer d.pdf.TransformEnd()
		}
		wide, tall := d.width(t, line), math.Min(t.points*aPoint, thin-0.3)
		d.ground(cx-wide/2-0.5, cy-tall/2, wide+1, tall)
		d.say(cx-wide/2, cy+t.points*aPoint*0.34, t, line)
		return
	}
}

// ground is white under words, so that hatching does not run through them.
func (d *document) ground(x, y, w, h float64) {
	d.pdf.SetFillColor(255, 255, 255)
	d.pdf.Rect(x, y, w, h, "F")
}

// ruler draws marks along the selvedge, counted from the squared end.
func (d *document) ruler(l layout, row layoutRow, x, y float64) {
	unit, small, mid, big := length.Inch, 1, 6, 12
	if l.unit.Metric() {
		unit, small, mid, big = length.Centimetre, 1, 5, 10
	}
	for l.mm(unit)*float64(small) < 0.6 {
		small, mid, big = mid, big, big*2
	}
	for l.mm(unit)*float64(big) < 9 {
		big *= 2
	}
	d.pdf.SetLineWidth(0.15)
	for n := int((row.from + unit - 1) / unit); length.Length(n)*unit <= row.to; n++ {
		if n%small != 0 {
			continue
		}
		at := x + l.mm(length.Length(n)*unit-row.from)
		high := 1.3
		switch {
		case n%big == 0:
			high = 3
			words := fmt.Sprint(n)
			d.say(max(x, at-d.width(sheetSmall, words)/2), y+6.2, sheetSmall, words)
		case n%mid == 0:
			high = 2.2
		}
		d.pdf.Line(at, y, at, y+high)
	}
}
