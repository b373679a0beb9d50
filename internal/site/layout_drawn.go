package site

import (
	"fmt"
	"math"
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// layoutDrawing is how one piece is cut, to one scale: the selvedge lies from
// left to right with a ruler along it, the squared end is at the left. A long
// layout goes on in further rows, parted where a strip ends.
type layoutDrawing struct {
	Words string
	Rows  []layoutRow
}

// layoutRow is one drawing, in px. Lines and marks are paths.
type layoutRow struct {
	Words            string
	Width, Height    string
	X, Y, W, H       string // the cloth
	Panels           []drawnPanel
	Keep             []drawnPanel // remnants
	Strips           []clothText
	Cuts, Ruler, End string
	Marks            []clothText
	Up               string
	UpText           *clothText
}

// drawnPanel is one panel or remnant with what stands on it.
type drawnPanel struct {
	X, Y, W, H   string
	Class, Hatch string
	Lines        []clothText
}

// clothText is a line of text; Turn is a transform where it stands upright.
type clothText struct {
	X, Y, Size, Anchor, Turn, Text string
}

// layoutToDraw is what a drawing needs to know.
type layoutToDraw struct {
	Width    length.Length
	Used     length.Length
	Left     length.Length // free of the piece beyond what is used
	Panels   []drive.Panel
	Remnants []drive.Remnant
	Kit      func(drive.KitRef) string
	OneWay   bool
	Unit     length.Unit
}

// Room for a drawing, in px, and the longest stretch of cloth in one row: more of
// it where no strip is so thin that nothing could be read on it.
const (
	rowWidth   = 980.0
	rowHigh    = 460.0
	rowLeft    = 8.0
	rowTop     = 34.0
	rulerHigh  = 34.0
	goesOnWide = 26.0
	rowCloth   = 100 * length.Inch
	rowThick   = 200 * length.Inch
	thickStrip = 16 * length.Inch
)

// drawLayout draws one piece.
func drawLayout(l layoutToDraw) layoutDrawing {
	strips := drive.CutOrder(l.Panels, l.Remnants)
	panels := map[int]drive.Panel{}
	for _, p := range l.Panels {
		panels[p.Panel] = p
	}
	rows := partRows(strips, l.Used)
	longest := length.Length(1)
	for _, r := range rows {
		longest = max(longest, r.to-r.from)
	}
	d := layoutDrawer{layoutToDraw: l, panels: panels, scale: min((rowWidth-2*rowLeft-goesOnWide)/float64(longest), rowHigh/float64(l.Width))}
	// Every row is as wide as the longest, so that all show at one scale.
	d.wide = 2*rowLeft + d.px(longest) + goesOnWide
	out := layoutDrawing{Words: fmt.Sprintf("%s of a piece %s wide, cut into %s", length.Format(l.Used, l.Unit), drive.OnTape(l.Width, l.Unit), panelsCounted(len(l.Panels)))}
	first := 0
	for i, r := range rows {
		row := d.row(r, first, i == len(rows)-1)
		row.Words = out.Words
		if len(rows) > 1 {
			row.Words = fmt.Sprintf("%s, from %s to %s", out.Words, length.Format(r.from, l.Unit), length.Format(r.to, l.Unit))
		}
		out.Rows = append(out.Rows, row)
		first += len(r.strips)
	}
	return out
}

func panelsCounted(n int) string {
	if n == 1 {
		return "1 panel"
	}
	return fmt.Sprintf("%d panels", n)
}

// stretch is the part of a layout that one row shows.
type stretch struct {
	from, to length.Length
	strips   []drive.CutStrip
}

// partRows parts a layout into stretches that fit a row; a strip is never parted.
func partRows(strips []drive.CutStrip, used length.Length) []stretch {
	var rows []stretch
	most := rowThick
	for _, s := range strips {
		if s.H < thickStrip {
			most = rowCloth
		}
	}
	for _, s := range strips {
		if n := len(rows); n > 0 && s.Y+s.H-rows[n-1].from <= most {
			rows[n-1].strips = append(rows[n-1].strips, s)
			rows[n-1].to = s.Y + s.H
			continue
		}
		from := length.Length(0)
		if n := len(rows); n > 0 {
			from = rows[n-1].to
		}
		rows = append(rows, stretch{from: from, to: s.Y + s.H, strips: []drive.CutStrip{s}})
	}
	if len(rows) == 0 {
		return []stretch{{to: used}}
	}
	return rows
}

type layoutDrawer struct {
	layoutToDraw
	panels map[int]drive.Panel
	scale  float64
	wide   float64
}

func (d layoutDrawer) px(l length.Length) float64 { return float64(l) * d.scale }

func (d layoutDrawer) row(r stretch, first int, last bool) layoutRow {
	wide, high := d.px(r.to-r.from), d.px(d.Width)
	row := layoutRow{
		Width: px(d.wide), Height: px(rowTop + high + rulerHigh),
		X: px(rowLeft), Y: px(rowTop), W: px(wide), H: px(high),
		End: goesOn(rowLeft+wide, rowTop, high, !last || d.Left > 0),
	}
	var cuts strings.Builder
	for i, s := range r.strips {
		end := rowLeft + d.px(s.Y+s.H-r.from)
		fmt.Fprintf(&cuts, "M%s %sv%s", px(end), px(rowTop-8), px(high+8))
		row.Strips = append(row.Strips, clothText{X: px(rowLeft + d.px(s.Y+s.H/2-r.from)), Y: px(rowTop - 10), Size: "15", Anchor: "middle", Text: drive.StripName(first + i)})
		for _, c := range s.Columns {
			for _, item := range c.Items {
				d.item(&row, item, r.from)
			}
		}
	}
	row.Cuts = cuts.String()
	row.Ruler, row.Marks = d.ruler(r, rowTop+high)
	if d.OneWay {
		row.Up = fmt.Sprintf("M%s 14h34M%s 14l8 -5M%s 14l8 5", px(rowLeft), px(rowLeft), px(rowLeft))
		row.UpText = &clothText{X: px(rowLeft + 40), Y: "19", Size: "15", Anchor: "start", Text: "up"}
	}
	return row
}

// goesOn draws the end of a row: a wavy edge where the piece goes on.
func goesOn(x, y, high float64, on bool) string {
	if !on {
		return ""
	}
	var b strings.Builder
	fmt.Fprintf(&b, "M%s %sh14", px(x), px(y))
	n := max(2, int(high/60)*2)
	for i := range n {
		side := 9.0
		if i%2 == 1 {
			side = -9
		}
		fmt.Fprintf(&b, "q%s %s 0 %s", px(side), px(high/float64(n)/2), px(high/float64(n)))
	}
	fmt.Fprintf(&b, "h-14")
	return b.String()
}

func (d layoutDrawer) item(row *layoutRow, i drive.CutItem, from length.Length) {
	x, y := rowLeft+d.px(i.Y-from), rowTop+d.px(i.X)
	wide, high := d.px(i.H), d.px(i.W)
	p := drawnPanel{X: px(x), Y: px(y), W: px(wide), H: px(high)}
	if i.Panel == 0 {
		p.Lines = fitText(x, y, wide, high, "keep", drive.OnTape(i.W, d.Unit)+" ×", drive.OnTape(i.H, d.Unit))
		row.Keep = append(row.Keep, p)
		return
	}
	panel := d.panels[i.Panel]
	p.Class, p.Hatch = roleClass(panel.Role)
	number := fmt.Sprint(i.Panel)
	p.Lines = fitText(x, y, wide, high, number, panel.Role, "kit "+d.Kit(panel.Kit))
	row.Panels = append(row.Panels, p)
}

// roleClass gives the fill and the hatching of a role; what is neither body nor
// cuff looks like an accent.
func roleClass(role string) (class, hatch string) {
	switch role {
	case "body":
		return "panel-body", ""
	case "cuff":
		return "panel-cuff", "hatch-cuff"
	}
	return "panel-accent", "hatch-accent"
}

// fitText puts up to three lines in the middle of a panel: below each other
// where there is room, else in one line along its longer side, else the first alone.
func fitText(x, y, wide, high float64, lines ...string) []clothText {
	cx, cy := x+wide/2, y+high/2
	longest := 0
	for _, l := range lines {
		longest = max(longest, len(l))
	}
	if wide >= float64(longest)*9 && high >= float64(len(lines))*21 {
		var out []clothText
		for i, l := range lines {
			size := "16"
			if i == 0 {
				size = "22"
			}
			out = append(out, clothText{X: px(cx), Y: px(cy + float64(i-len(lines)/2)*21 + 7), Size: size, Anchor: "middle", Text: l})
		}
		return out
	}
	one := strings.Join(lines, "  ")
	long, thin := max(wide, high), min(wide, high)
	if long < float64(len(one))*8.5 || thin < 15 {
		one = lines[0]
	}
	size := math.Floor(min(16, thin-3))
	if size < 9 || long < float64(len(one))*size*0.6 {
		return nil
	}
	t := clothText{X: px(cx), Y: px(cy + size*0.36), Size: px(size), Anchor: "middle", Text: one}
	if high > wide {
		t.Turn = fmt.Sprintf("rotate(90 %s %s)", px(cx), px(cy))
	}
	return []clothText{t}
}

// ruler draws the marks along the selvedge, with figures in the drive's unit
// counted from the squared end.
func (d layoutDrawer) ruler(r stretch, y float64) (path string, marks []clothText) {
	unit, small, mid, big := length.Inch, 1, 6, 12
	if d.Unit.Metric() {
		unit, small, mid, big = length.Centimetre, 1, 5, 10
	}
	for d.px(unit)*float64(small) < 3.5 {
		small, mid, big = small*mid, big, big*2
	}
	for d.px(unit)*float64(big) < 34 {
		big *= 2
	}
	var b strings.Builder
	for n := int((r.from + unit - 1) / unit); length.Length(n)*unit <= r.to; n += 1 {
		if n%small != 0 {
			continue
		}
		at := rowLeft + d.px(length.Length(n)*unit-r.from)
		high := 5
		switch {
		case n%big == 0:
			high = 14
			anchor := "middle"
			if at-rowLeft < 8 {
				anchor = "start"
			}
			marks = append(marks, clothText{X: px(at), Y: px(y + 29), Size: "14", Anchor: anchor, Text: fmt.Sprint(n)})
		case n%mid == 0:
			high = 10
		}
		fmt.Fprintf(&b, "M%s %sv%d", px(at), px(y), high)
	}
	return b.String(), marks
}
