package paper

import (
	"io"
	"strings"
	"time"

	"boltward/internal/drive"
)

// KitLabels draws labels for the bags of kits, as Labels does for fabric: on sheets
// of a paper from the start-th label on. It refuses by field a start that the paper
// does not have and labels too small for their codes.
func KitLabels(w io.Writer, title string, p drive.LabelPaper, start int, labels []KitLabel, at time.Time) error {
	return labelSheets(w, title, p, start, len(labels), at, func(d *document, i int, x, y, w, h float64) error {
		return d.kitLabel(labels[i], x, y, w, h)
	})
}

// kitLabel draws one label into its place: the code beside the number, then what is
// in the bag to tick off. Where room is short, whom it is for goes first.
func (d *document) kitLabel(l KitLabel, x, y, w, h float64) error {
	parts := partsOf(w, h)
	x, y = x+parts.pad, y+parts.pad
	c, err := codeFor(l.Address, parts.side)
	if err != nil {
		return err
	}
	d.draw(c, x+parts.codeX, y+parts.codeY)
	d.pdf.SetTextColor(0, 0, 0)
	d.pdf.SetDrawColor(0, 0, 0)
	d.pdf.SetDashPattern([]float64{}, 0)
	small := text{points: clamp(parts.height/aPoint/8.5, 5.5, 11)}
	bold := text{points: small.points, bold: true}
	what := d.wrapped(bold, l.What, parts.width)
	// The number is as large as leaves room for what is in the bag.
	tall := min(parts.height*0.42, 22)
	lines := float64(len(what)) + float64(d.tickLines(small, l.Contents, parts.width))
	if left := parts.height - lines*small.line() - 1; left < tall {
		tall = max(left, parts.height*0.2)
	}
	number := d.largest(l.Number, parts.width, tall/1.12)
	baseline := y + number.points*aPoint*0.74
	d.say(x, baseline, number, l.Number)
	baseline += number.points * aPoint * 0.1
	bottom := y + parts.height
	// A line is left for what is in it, however long the name is of whom it is for.
	if room := max(1, int((bottom-baseline)/small.line())-min(1, len(l.Contents))); len(what) > room {
		what = append(what[:room-1], d.fitted(bold, strings.Join(what[room-1:], " "), parts.width))
	}
	for _, line := range what {
		if baseline+bold.line() > bottom {
			return nil
		}
		baseline += bold.line()
		d.say(x, baseline, bold, line)
	}
	baseline = d.ticks(small, l.Contents, x, baseline, parts.width, bottom, true)
	if l.For != "" && baseline+small.line() <= bottom {
		d.say(x, baseline+small.line(), small, d.fitted(small, l.For, parts.width))
	}
	return nil
}

// tickLines is how many lines items to tick take.
func (d *document) tickLines(t text, items []string, width float64) int {
	return int(d.ticks(t, items, 0, 0, width, 1e6, false)/t.line() + 0.5)
}

// ticks lays words with a box to tick before each, as many on a line as fit, draws
// them where it is told to, and gives the baseline of the last line.
func (d *document) ticks(t text, items []string, x, baseline, width, bottom float64, draw bool) float64 {
	side := t.points * aPoint * 0.72
	at := width + 1 // so that the first begins a line
	for _, words := range items {
		words = d.fitted(t, words, width-side-1)
		takes := side + 0.8 + d.width(t, words)
		if at+takes > width {
			if baseline+t.line() > bottom {
				return baseline
			}
			baseline += t.line()
			at = 0
		}
		if draw {
			d.pdf.SetLineWidth(0.2)
			d.pdf.Rect(x+at, baseline-side, side, side, "D")
			d.say(x+at+side+0.8, baseline, t, words)
		}
		at += takes + 2
	}
	return baseline
}
