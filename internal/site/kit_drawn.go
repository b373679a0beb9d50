package site

import (
	"fmt"
	"html/template"
	"strings"

	"boltward/internal/paper"
)

// drawShapes writes a drawing as paths of an SVG, neighbours of one look together.
func drawShapes(f paper.Figure) template.HTML {
	var out strings.Builder
	last := ""
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
		if class != last {
			if last != "" {
				out.WriteString(`"/>`)
			}
			fmt.Fprintf(&out, `<path class="%s" d="`, class)
			last = class
		}
		for i, p := range s.Points {
			out.WriteString([...]string{"M", "L"}[min(i, 1)])
			out.WriteString(px(p.X))
			out.WriteByte(' ')
			out.WriteString(px(p.Y))
		}
		if s.Dark || s.Filled {
			out.WriteString("Z")
		}
	}
	if last != "" {
		out.WriteString(`"/>`)
	}
	return template.HTML(out.String())
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
