package paper

import "codeberg.org/go-pdf/fpdf"

// strokeMM is how wide a stroke is drawn, in millimetres.
func (s Stroke) strokeMM() float64 { return [...]float64{0.13, 0.25, 0.5}[s] }

// figure draws a drawing whose top left lies at x, y; unit is one of its units in
// millimetres.
func (d *document) figure(f Figure, x, y, unit float64) {
	d.pdf.SetDrawColor(0, 0, 0)
	for _, s := range f {
		points := make([]fpdf.PointType, len(s.Points))
		for i, p := range s.Points {
			points[i] = fpdf.PointType{X: x + p.X*unit, Y: y + p.Y*unit}
		}
		switch {
		case s.Dark:
			d.pdf.SetFillColor(0, 0, 0)
			d.pdf.Polygon(points, "F")
			continue
		case s.Filled:
			d.pdf.SetFillColor(255, 255, 255)
			d.pdf.Polygon(points, "F")
			continue
		}
		d.pdf.SetLineWidth(s.Stroke.strokeMM())
		if s.Dashed {
			d.pdf.SetDashPattern([]float64{1.3, 0.9}, 0)
		}
		for i := 1; i < len(points); i++ {
			d.pdf.Line(points[i-1].X, points[i-1].Y, points[i].X, points[i].Y)
		}
		if s.Dashed {
			d.pdf.SetDashPattern([]float64{}, 0)
		}
	}
	d.pdf.SetFillColor(0, 0, 0)
}
