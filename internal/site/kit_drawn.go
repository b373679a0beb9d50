package site

import (
	"fmt"
	"strings"

	"boltward/internal/paper"
)

// shapeDrawn is one line or outline of a drawing; Class says how it looks.
type shapeDrawn struct{ Class, D string }

// drawShapes writes a drawing as paths, neighbours of one look together.
func drawShapes(f paper.Figure) []shapeDrawn {
	var shapes []shapeDrawn
	for _, s := range f {
		class := [...]string{"fig-fine", "fig-usual", "fig-heavy"}[s.Stroke]
		switch {
		case s.Dark:
			class = "fig-dark"
		case s.Filled:
			class = "fig-cloth"
		case s.Dashed:
			class += " fig-broken"
		}
		var d strings.Builder
		for i, p := range s.Points {
			d.WriteString([...]string{"M", "L"}[min(i, 1)])
			d.WriteString(px(p.X))
			d.WriteByte(' ')
			d.WriteString(px(p.Y))
		}
		if s.Dark || s.Filled {
			d.WriteString("Z")
		}
		if last := len(shapes) - 1; last >= 0 && shapes[last].Class == class {
			shapes[last].D += d.String()
			continue
		}
		shapes = append(shapes, shapeDrawn{class, d.String()})
	}
	return shapes
}

// codeDrawn is a QR code with its quiet zone, one unit a module.
type codeDrawn struct {
	Side int
	D    string
}

func drawCode(address string) (codeDrawn, error) {
	side, runs, err := paper.CodeRuns(address)
	if err != nil {
		return codeDrawn{}, err
	}
	var d strings.Builder
	for _, r := range runs {
		fmt.Fprintf(&d, "M%d %dh%dv1h-%dz", r.X, r.Y, r.N, r.N)
	}
	return codeDrawn{side, d.String()}, nil
}
