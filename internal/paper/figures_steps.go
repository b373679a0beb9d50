package paper

import (
	"slices"

	"boltward/internal/words"
)

// The drawings of the steps, as the cloth lies before whoever sews it. The tube
// method is common practice, no source.

func both(figures ...Figure) Figure { return slices.Concat(figures...) }

// drawAccent folds a strip lengthwise.
func drawAccent() Figure {
	return both(
		panel(10, 8, 80, 20, wrongSide),
		Figure{fold(Point{10, 18}, Point{90, 18})},
		arrow(Point{50, 25}, Point{50, 11}),
		panel(10, 40, 80, 10, accentSide),
		Figure{{Points: []Point{{10, 50}, {90, 50}}, Stroke: Heavy}},
	)
}

// onCuff is the cuff, right side up, with the accent along its top edge.
func onCuff(f Make) Figure {
	lie := panel(10, 12, 80, 38, cuffSide)
	if f.Accent {
		lie = append(lie, panel(10, 12, 80, 8, accentSide)...)
	}
	return lie
}

func drawCuff(f Make) Figure {
	return both(onCuff(f), Figure{{Points: []Point{{8, 12}, {92, 12}}, Stroke: Heavy}}, arrow(Point{96, 30}, Point{96, 14}))
}

// drawBody lays the body, wrong side up, over the cuff: a corner is turned down to
// show what lies under it.
func drawBody(f Make) Figure {
	return both(
		onCuff(f),
		area([]Point{{10, 12}, {74, 12}, {90, 26}, {90, 57}, {10, 57}}, wrongSide),
		area([]Point{{74, 12}, {90, 26}, {74, 25}}, bodySide),
		Figure{{Points: []Point{{8, 12}, {72, 12}}, Stroke: Heavy}},
		pins(10, 12, 60, 4),
	)
}

// roll is the body rolled up, its coils showing at both ends.
func roll(left, right, y, r float64) Figure {
	return both(panel(left, y-r, right-left, 2*r, wrongSide), coil(left, y, r*0.55, r), coil(right, y, r*0.55, r))
}

func drawRoll(f Make) Figure {
	return both(onCuff(f), panel(10, 12, 80, 12, wrongSide), roll(10, 90, 28, 5), pins(10, 12, 80, 4), arrow(Point{50, 57}, Point{50, 36}))
}

func drawTube(f Make) Figure {
	return both(
		roll(8, 92, 33, 5.5),
		panel(12, 14, 76, 32, wrongSide),
		Figure{{Points: []Point{{10, 14}, {90, 14}}, Stroke: Heavy}, fold(Point{12, 28}, Point{88, 28}), fold(Point{12, 38}, Point{88, 38})},
		pins(12, 14, 76, 5),
		arrow(Point{50, 57}, Point{50, 19}),
	)
}

func drawSew(f Make) Figure {
	return both(
		roll(8, 92, 38, 5.5),
		panel(12, 14, 76, 36, wrongSide),
		Figure{fold(Point{12, 33}, Point{88, 33}), fold(Point{12, 43}, Point{88, 43}), seam(Point{12, 18.5}, Point{88, 18.5})},
		arrow(Point{22, 8}, Point{60, 8}),
	)
}

func drawPull(f Make) Figure {
	lie := both(
		panel(8, 14, 46, 34, wrongSide),
		Figure{seam(Point{8, 18.5}, Point{54, 18.5})},
		area([]Point{{54, 23}, {66, 19}, {80, 22}, {80, 44}, {66, 47}, {54, 42}}, bodySide),
		coil(54, 32, 3, 9),
		arrow(Point{70, 33}, Point{95, 33}),
	)
	return lie
}

// opened is the three panels as they lie after the tube is pulled through: cuff
// above, accent between, body below, each from its left to its right edge.
func opened(f Make, cuff, accent, body [2]float64) Figure {
	lie := both(panel(body[0], 26, body[1]-body[0], 32, bodySide), panel(cuff[0], 6, cuff[1]-cuff[0], 20, cuffSide))
	if f.Accent {
		lie = append(lie, panel(accent[0], 26, accent[1]-accent[0], 6, accentSide)...)
	}
	return lie
}

func drawTrim(f Make) Figure {
	return both(
		opened(f, [2]float64{14, 88}, [2]float64{14, 85}, [2]float64{14, 82}),
		Figure{{Points: []Point{{82, 3}, {82, 60}}, Stroke: Heavy, Dashed: true}},
		scissors(82, 7.5),
	)
}

// folded is a case folded in half: cuff at its open end above. Its right side is
// outside, or it lies inside out.
func folded(f Make, out bool) Figure {
	c, a, b := cuffSide, accentSide, bodySide
	if !out {
		c, a, b = wrongSide, wrongSide, wrongSide
	}
	const x, y, w = 30.0, 4.0, 42.0
	if f.Opening != words.ByCuff {
		return panel(x, y, w, 52, b)
	}
	lie := both(panel(x, y+15, w, 37, b), panel(x, y, w, 15, c))
	if f.Accent {
		lie = append(lie, panel(x, y+15, w, 4.5, a)...)
	}
	return lie
}

// sides is the seam round a case, so far from its edge: one side and the closed
// end of a folded body, both sides of another; a flap case has no closed end to sew.
func sides(f Make, in float64) Figure {
	const left, right, top, end = 30.0, 72.0, 4.0, 56.0
	switch {
	case f.Opening == words.ByFlap:
		return Figure{seam(Point{left + in, top}, Point{left + in, end}), seam(Point{right - in, top}, Point{right - in, end})}
	case f.Folded:
		return Figure{seam(Point{right - in, top}, Point{right - in, end - in}, Point{left, end - in})}
	}
	return Figure{seam(Point{right - in, top}, Point{right - in, end - in}, Point{left + in, end - in}, Point{left + in, top})}
}

func drawFirst(f Make) Figure { return both(folded(f, true), sides(f, 3.5)) }

func drawSecond(f Make) Figure {
	return both(folded(f, false), sides(f, 5), arrow(arc(78, 30, 16)...))
}

// drawTurn looks at the seam from near: trimmed close to the stitches, the corner
// cut off.
func drawTurn() Figure {
	return both(
		panel(8, 6, 74, 48, bodySide),
		Figure{
			seam(Point{66, 6}, Point{66, 40}, Point{8, 40}),
			{Points: []Point{{72, 6}, {72, 42}, {68, 46}, {8, 46}}, Stroke: Heavy},
		},
		scissors(77, 10),
		arrow(Point{89, 30}, Point{74, 30}),
		arrow(Point{55, 30}, Point{65, 30}),
	)
}

// drawEdges is a raw edge with stitches to and fro over it.
func drawEdges() Figure {
	zigzag := []Point{}
	for i := range 17 {
		zigzag = append(zigzag, Point{10 + 5*float64(i), 40 + 6*float64(i%2)})
	}
	return both(panel(10, 8, 80, 38, wrongSide), Figure{seam(Point{10, 30}, Point{90, 30}), {Points: zigzag, Stroke: Heavy}})
}

// drawHem is an edge folded under twice and stitched close to the inner fold.
func drawHem() Figure {
	return both(
		panel(10, 6, 80, 48, wrongSide),
		panel(10, 6, 80, 18, bodySide),
		Figure{fold(Point{10, 20}, Point{90, 20}), seam(Point{10, 22}, Point{90, 22})},
		arrow(Point{96, 6}, Point{96, 24}),
	)
}

// drawFlap folds a hemmed end over, and the other end to its fold.
func drawFlap(f Make) Figure {
	flap, over := wrongSide, bodySide
	if !f.French {
		flap, over = bodySide, wrongSide
	}
	return both(
		panel(30, 6, 42, 48, over),
		panel(30, 6, 42, 15, flap),
		Figure{fold(Point{30, 54}, Point{72, 54})},
		arrow(arc(74, 13, 7)...),
	)
}

// drawLook is the finished case with a tick beside it.
func drawLook(f Make) Figure {
	return both(folded(f, true), Figure{{Points: []Point{{80, 30}, {85, 36}, {95, 20}}, Stroke: Heavy}})
}
