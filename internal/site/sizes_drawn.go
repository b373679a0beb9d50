package site

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// caseShown is a spec with what follows from it: cut sizes, drawings, notes.
type caseShown struct {
	Name     string // of the size, where several are shown on a page
	Spec     sizing.Spec
	Panels   []sizing.Panel
	Notes    []sizing.Note // warnings first
	Cut      caseDrawing   // the panels as they are cut
	Finished caseDrawing   // the case laid flat
	Unit     length.Unit
}

// newCaseShown works out a spec that can be sewn, with a word on the cloth in
// stock and on how the drive washes it.
func newCaseShown(s sizing.Spec, stock []sizing.Cloth, washing string) (caseShown, error) {
	panels, notes, err := sizing.Cuts(s)
	if err != nil {
		return caseShown{}, fmt.Errorf("cut sizes: %w", err)
	}
	short, err := sizing.CheckStock(s, stock)
	if err != nil {
		return caseShown{}, fmt.Errorf("cut sizes: %w", err)
	}
	if short != nil {
		notes = append([]sizing.Note{short.Note()}, notes...)
	}
	if why := washingWarning(s.Shrink, washing); why != "" {
		notes = append([]sizing.Note{{Code: "washing", Warning: true, Text: why}}, notes...)
	}
	return caseShown{Spec: s, Panels: panels, Notes: notes, Cut: drawCuts(panels, s.Unit), Finished: drawFinished(s), Unit: s.Unit}, nil
}

// washingWarning says where a size is cut against what the drive decided about washing.
func washingWarning(shrink sizing.Shrink, washing string) string {
	shrinks := shrink.Along != 0 || shrink.Across != 0
	switch {
	case washing == drive.CutLarger && !shrinks:
		return "This drive cuts unwashed fabric larger, and this size does not say by how much it shrinks: the case will come out too small after its first wash."
	case washing == drive.WashedFirst && shrinks:
		return "This drive washes all fabric before it is cut, and this size is cut larger all the same: the case will come out too large."
	}
	return ""
}

// drawnPerInch is the scale of every drawing of sizes, in px, so that sizes on
// one page can be compared by eye.
const drawnPerInch = 5.0

// Space in the drawings, in px: a line of words, and what lies between panels.
const (
	drawnLine = 20.0
	drawnGap  = 12.0
)

// caseDrawing is rectangles and words in px.
type caseDrawing struct {
	Width, Height string
	Words         string // the same for those who cannot see it
	Rects         []drawnRect
	Texts         []drawnText
}

// drawnRect is one panel; Role chooses colour and hatching.
type drawnRect struct{ Role, X, Y, W, H string }

type drawnText struct{ X, Y, Anchor, Text string }

// drawCuts draws the panels from the open end to the closed end, each under its
// measures, around from left to right.
func drawCuts(panels []sizing.Panel, unit length.Unit) caseDrawing {
	var d caseDrawing
	y, right := 0.0, 0.0
	for _, role := range []string{sizing.Cuff, sizing.Accent, sizing.Body} {
		for _, p := range panels {
			if p.Role != role {
				continue
			}
			words := panelWords(p, unit)
			if d.Words != "" {
				d.Words += "; "
			}
			d.Words += words
			d.Texts = append(d.Texts, drawnText{"0.5", px(y + 14), "start", words})
			y += drawnLine
			x := 0.5
			for range p.Pieces {
				d.Rects = append(d.Rects, drawnRect{role, px(x), px(y), px(drawn(p.Around)), px(drawn(p.Along))})
				x += drawn(p.Around) + 4
			}
			right = max(right, x-4)
			y += drawn(p.Along) + drawnGap
		}
	}
	// Words of about 7 px a letter may reach further than the panels.
	for _, t := range d.Texts {
		right = max(right, 7*float64(len([]rune(t.Text))))
	}
	d.Width, d.Height = px(right+1), px(y-drawnGap+1)
	return d
}

// drawFinished draws the case laid flat, its open end above.
func drawFinished(s sizing.Spec) caseDrawing {
	w := drawn(s.Width)
	d := caseDrawing{Words: fmt.Sprintf("finished %s × %s", bare(s.Width, s.Unit), length.Format(s.Length, s.Unit))}
	d.Texts = append(d.Texts, drawnText{"0.5", "14", "start", d.Words})
	y := drawnLine
	lay := func(role string, l length.Length) {
		if l > 0 {
			d.Rects = append(d.Rects, drawnRect{role, "0.5", px(y), px(w), px(drawn(l))})
			y += drawn(l)
		}
	}
	lay(sizing.Cuff, s.Cuff)
	lay(sizing.Accent, s.Accent)
	lay(sizing.Body, s.Length-s.Cuff-s.Accent)
	d.Width, d.Height = px(max(w, 7*float64(len([]rune(d.Words))))+1), px(y+1)
	return d
}

// panelWords says what to cut: "body, 2 of 21 1/2 × 27 in".
func panelWords(p sizing.Panel, unit length.Unit) string {
	pieces := ""
	if p.Pieces > 1 {
		pieces = fmt.Sprintf("%d of ", p.Pieces)
	}
	return fmt.Sprintf("%s %s%s × %s", p.Role, pieces, bare(p.Around, unit), length.Format(p.Along, unit))
}

// bare writes a length without its unit, for the first side of a rectangle.
func bare(l length.Length, unit length.Unit) string {
	text := length.Format(l, unit)
	if end := " " + string(unit); len(text) > len(end) && text[len(text)-len(end):] == end {
		return text[:len(text)-len(end)]
	}
	return text
}

func drawn(l length.Length) float64 { return float64(l) / float64(length.Inch) * drawnPerInch }
