package paper

import (
	"math"
	"slices"

	"boltward/internal/words"
)

// FigureWidth and FigureHeight are the sides of every drawing of a step, in its own
// units. Drawings are not to scale.
const (
	FigureWidth  = 100.0
	FigureHeight = 60.0
)

// Point is a place on a drawing, from its top left.
type Point struct{ X, Y float64 }

// Stroke is how heavy a line is.
type Stroke int

// The strokes: hatching is finest, what is done in a step is heaviest.
const (
	Fine Stroke = iota
	Usual
	Heavy
)

// Shape is one line or one filled outline of a drawing.
type Shape struct {
	Points []Point
	Filled bool // closed, white inside, so that it covers what lies under it
	Dark   bool // closed, ink inside: the head of an arrow, the head of a pin
	Stroke Stroke
	Dashed bool
}

// Figure is a drawing of one step as plain geometry, so that the page and the PDF
// show the same. What lies on top comes last.
type Figure []Shape

// Make is all that drawings know of a case, so there are few of each step.
type Make struct {
	Opening                words.Opening
	Folded, Accent, French bool // as in words.CardFacts
}

// MakeOf gives the make of the case that a card is of.
func MakeOf(f words.CardFacts) Make { return Make{f.Opening, f.Folded, f.Accent, f.French} }

// DrawStep draws a step for a case of this make; a step without a drawing, or one
// this program does not know, is none.
func DrawStep(name words.Figure, of Make) Figure {
	draw, known := map[words.Figure]func(Make) Figure{
		words.FigureAccent: func(Make) Figure { return drawAccent() },
		words.FigureCuff:   drawCuff,
		words.FigureBody:   drawBody,
		words.FigureRoll:   drawRoll,
		words.FigureTube:   drawTube,
		words.FigureSew:    drawSew,
		words.FigurePull:   drawPull,
		words.FigureTrim:   drawTrim,
		words.FigureFirst:  drawFirst,
		words.FigureTurn:   func(Make) Figure { return drawTurn() },
		words.FigureSecond: drawSecond,
		words.FigureOnce:   drawSecond,
		words.FigureEdges:  func(Make) Figure { return drawEdges() },
		words.FigureHem:    func(Make) Figure { return drawHem() },
		words.FigureFlap:   drawFlap,
		words.FigureLook:   drawLook,
	}[name]
	if !known {
		return nil
	}
	return draw(of)
}

// cloth is how the inside of a panel is drawn, so that roles and sides are told
// apart in black and white.
type cloth int

const (
	wrongSide  cloth = iota // plain
	bodySide                // dots
	cuffSide                // slanted lines
	accentSide              // crossed lines
)

// panel is a rectangle of cloth.
func panel(x, y, w, h float64, c cloth) Figure { return area(rectangle(x, y, w, h), c) }

func rectangle(x, y, w, h float64) []Point {
	return []Point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
}

// area is an outline filled as a cloth looks.
func area(outline []Point, c cloth) Figure {
	f := Figure{{Points: outline, Filled: true, Stroke: Usual}}
	switch c {
	case cuffSide:
		f = append(f, hatch(outline, 1, 3.4)...)
	case accentSide:
		f = append(f, hatch(outline, 1, 3)...)
		f = append(f, hatch(outline, -1, 3)...)
	case bodySide:
		f = append(f, sprigs(outline)...)
	}
	return append(f, Shape{Points: closed(outline), Stroke: Usual})
}

// hatch gives parallel lines inside an outline, rising or falling by slope (1 or
// -1), so far apart across.
func hatch(outline []Point, slope, apart float64) Figure {
	var f Figure
	least, most := math.Inf(1), math.Inf(-1)
	for _, p := range outline {
		least, most = min(least, p.Y+slope*p.X), max(most, p.Y+slope*p.X)
	}
	step := apart * math.Sqrt2
	for at := (math.Floor(least/step) + 0.5) * step; at < most; at += step {
		// Where the line y + slope·x = at crosses the outline, from left to right.
		var cross []float64
		for i, p := range outline {
			q := outline[(i+1)%len(outline)]
			a, b := p.Y+slope*p.X-at, q.Y+slope*q.X-at
			if (a < 0) != (b < 0) {
				cross = append(cross, p.X+(q.X-p.X)*a/(a-b))
			}
		}
		slices.Sort(cross)
		for i := 0; i+1 < len(cross); i += 2 {
			f = append(f, Shape{Points: []Point{{cross[i], at - slope*cross[i]}, {cross[i+1], at - slope*cross[i+1]}}, Stroke: Fine})
		}
	}
	return f
}

// sprigs is a print on a body: small crosses in rows that are shifted.
func sprigs(outline []Point) Figure {
	var f Figure
	least, most := outline[0], outline[0]
	for _, p := range outline {
		least, most = Point{min(least.X, p.X), min(least.Y, p.Y)}, Point{max(most.X, p.X), max(most.Y, p.Y)}
	}
	const r, apart = 0.55, 5.0
	row := 0
	for y := least.Y + 2.5; y <= most.Y-1.5; y += apart * 0.8 {
		row++
		for x := least.X + 2.5 + apart/2*float64(row%2); x <= most.X-1.5; x += apart {
			if inside(outline, Point{x, y}) {
				f = append(f, Shape{Points: rectangle(x-r, y-r, 2*r, 2*r), Dark: true})
			}
		}
	}
	return f
}

// inside says whether a point lies within an outline.
func inside(outline []Point, at Point) bool {
	in := false
	for i, p := range outline {
		q := outline[(i+1)%len(outline)]
		if (p.Y > at.Y) != (q.Y > at.Y) && at.X < p.X+(q.X-p.X)*(at.Y-p.Y)/(q.Y-p.Y) {
			in = !in
		}
	}
	return in
}

func closed(outline []Point) []Point { return append(slices.Clone(outline), outline[0]) }

// seam is stitches along a line.
func seam(points ...Point) Shape { return Shape{Points: points, Stroke: Heavy, Dashed: true} }

// fold is a fine broken line: a fold, or an edge that lies behind.
func fold(points ...Point) Shape { return Shape{Points: points, Stroke: Fine, Dashed: true} }

// arrow is a line with a head at its last point.
func arrow(points ...Point) Figure {
	tip, from := points[len(points)-1], points[len(points)-2]
	long := math.Hypot(tip.X-from.X, tip.Y-from.Y)
	x, y := (tip.X-from.X)/long, (tip.Y-from.Y)/long
	const head, half = 4.2, 1.9
	neck := Point{tip.X - head*x, tip.Y - head*y}
	line := append(slices.Clone(points[:len(points)-1]), neck)
	return Figure{
		{Points: line, Stroke: Heavy},
		{Points: []Point{tip, {neck.X - half*y, neck.Y + half*x}, {neck.X + half*y, neck.Y - half*x}}, Dark: true},
	}
}

// arc goes down and round the right of a point.
func arc(x, y, r float64) []Point {
	var points []Point
	for i := range 13 {
		a := -math.Pi/2.4 + 2*math.Pi/2.4*float64(i)/12
		points = append(points, Point{x + r*math.Cos(a), y + r*math.Sin(a)})
	}
	return points
}

// pins stand across an edge at y, from x to x+w.
func pins(x, y, w float64, n int) Figure {
	var f Figure
	for i := range n {
		at := x + w*(float64(i)+0.5)/float64(n)
		f = append(f, Shape{Points: []Point{{at, y - 3.5}, {at, y + 5}}, Stroke: Usual}, disc(at, y-4.3, 1.1))
	}
	return f
}

func disc(x, y, r float64) Shape { return Shape{Points: round(x, y, r, r), Dark: true} }

// round is an ellipse as points.
func round(x, y, rx, ry float64) []Point {
	points := make([]Point, 24)
	for i := range points {
		a := 2 * math.Pi * float64(i) / float64(len(points))
		points[i] = Point{x + rx*math.Cos(a), y + ry*math.Sin(a)}
	}
	return points
}

// coil is the end of a roll of cloth.
func coil(x, y, rx, ry float64) Figure {
	spiral := make([]Point, 0, 40)
	for i := range 40 {
		a, r := float64(i)*0.4, 1-float64(i)/42
		spiral = append(spiral, Point{x + rx*r*math.Cos(a), y + ry*r*math.Sin(a)})
	}
	return Figure{{Points: round(x, y, rx, ry), Filled: true, Stroke: Usual}, {Points: closed(round(x, y, rx, ry)), Stroke: Usual}, {Points: spiral, Stroke: Fine}}
}

// scissors is a cut along a line: short blades at its start.
func scissors(x, y float64) Figure {
	return Figure{
		{Points: []Point{{x - 1.6, y - 3.6}, {x + 1.4, y + 3.4}}, Stroke: Usual},
		{Points: []Point{{x + 1.6, y - 3.6}, {x - 1.4, y + 3.4}}, Stroke: Usual},
		{Points: closed(round(x-2, y-5, 1.5, 1.7)), Stroke: Usual},
		{Points: closed(round(x+2, y-5, 1.5, 1.7)), Stroke: Usual},
	}
}
