package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/length"
)

// CutStep is one thing to do at the table, in words, and what comes of it.
type CutStep struct {
	Text     string
	Panels   []int // numbers of panels that are done after it
	Remnants []int
}

// Done says which panels and remnants the step finishes; empty where none.
func (s CutStep) Done() string {
	var parts []string
	if n := len(s.Panels); n == 1 {
		parts = append(parts, "panel "+Ranges(s.Panels))
	} else if n > 1 {
		parts = append(parts, "panels "+Ranges(s.Panels))
	}
	if n := len(s.Remnants); n == 1 {
		parts = append(parts, "a remnant to keep")
	} else if n > 1 {
		parts = append(parts, "remnants to keep")
	}
	return strings.Join(parts, " and ")
}

// SheetCloth is what the words of a cut sheet need to know of the cloth.
type SheetCloth struct {
	Width  Side
	Torn   bool // ends are torn, so across is snipped and torn
	OneWay bool // the print has an up
	Unit   length.Unit
}

// CutSteps puts a sheet's cuts into words in cutting order: square the end, then
// strip by strip across the full width, each along, each column across. Strips
// in a row that are cut alike share their steps. fullWidth says of a panel that
// it runs round the pillow across the width, so that it may keep the full width
// until it is trimmed to the narrowest of its pillowcase.
func CutSteps(panels []Panel, strips []CutStrip, cloth SheetCloth, fullWidth func(Panel) bool) []CutStep {
	w := stepWriter{cloth: cloth, panels: map[int]Panel{}, fullWidth: fullWidth}
	for _, p := range panels {
		w.panels[p.Panel] = p
	}
	w.square()
	end := Side(0)
	for i := 0; i < len(strips); {
		if gap := strips[i].Y - end; gap > 0 {
			w.add(fmt.Sprintf("Cut off %s across the full width and put it with the offcuts.", w.len(gap)), nil)
		}
		j := i + 1
		for j < len(strips) && strips[j].Y == strips[j-1].Y+strips[j-1].H && w.alike(strips[i], strips[j]) {
			j++
		}
		w.strips(strips[i:j], i)
		end = strips[j-1].Y + strips[j-1].H
		i = j
	}
	return w.steps
}

type stepWriter struct {
	cloth     SheetCloth
	panels    map[int]Panel
	fullWidth func(Panel) bool
	steps     []CutStep
}

func (w *stepWriter) len(l Side) string { return length.Format(l, w.cloth.Unit) }

func (w *stepWriter) add(text string, items []CutItem) {
	step := CutStep{Text: text}
	for _, i := range items {
		if i.Panel > 0 {
			step.Panels = append(step.Panels, i.Panel)
		} else {
			step.Remnants = append(step.Remnants, i.Remnant)
		}
	}
	slices.Sort(step.Panels)
	w.steps = append(w.steps, step)
}

func (w *stepWriter) square() {
	text := "Press the cloth, lay a selvedge along the ruler and cut the end square."
	if w.cloth.Torn {
		text = "Press the cloth, lay a selvedge along the ruler; snip one selvedge and tear across to square the end."
	}
	if w.cloth.OneWay {
		text += " The print stands with its top towards this end: chalk an arrow up on the back of every panel."
	}
	w.add(text+" Everything is measured from here.", nil)
}

// strips writes the steps of strips that are cut alike; first is the place of
// the first among all strips.
func (w *stepWriter) strips(list []CutStrip, first int) {
	s := list[0]
	how := "cut across the full width"
	if w.cloth.Torn {
		how = "snip and tear across the full width"
	}
	names, it := "strip "+StripName(first), "it"
	text := fmt.Sprintf("Measure %s from the end and %s: %s.", w.len(s.H), how, names)
	if n := len(list); n > 1 {
		names, it = fmt.Sprintf("strips %s to %s", StripName(first), StripName(first+n-1)), "each"
		text = fmt.Sprintf("Measure %s from the end and %s. Do this %d times: %s.", w.len(s.H), how, n, names)
	}
	if item, whole := w.wholeStrip(s); whole {
		text += fmt.Sprintf(" Leave %s the full width, then trim to the narrowest: at least %s is needed, and all parts of one pillowcase end as wide as the narrowest of them.", it, w.len(item.W))
		w.add(text, every(list, 0))
		return
	}
	w.add(text, nil)
	w.columns(list, names, it)
}

// wholeStrip says whether the strip is one panel that may keep the full width.
func (w *stepWriter) wholeStrip(s CutStrip) (CutItem, bool) {
	if len(s.Columns) != 1 || len(s.Columns[0].Items) != 1 {
		return CutItem{}, false
	}
	i := s.Columns[0].Items[0]
	return i, i.Panel > 0 && i.H == s.H && w.fullWidth(w.panels[i.Panel])
}

func (w *stepWriter) columns(list []CutStrip, names, it string) {
	s := list[0]
	var marks []string
	for _, c := range s.Columns {
		for _, edge := range []Side{c.X, c.X + c.W} {
			mark := w.len(edge)
			if edge > 0 && edge < w.cloth.Width && !slices.Contains(marks, mark) {
				marks = append(marks, mark)
			}
		}
	}
	// Columns that are done once they are cut along go with that step.
	var done []int
	for i, c := range s.Columns {
		if len(c.Items) == 1 && c.Items[0].H == s.H {
			done = append(done, i)
		}
	}
	var bare []string
	places, place, end := make([]int, len(s.Columns)), 0, Side(0) // of each column among the pieces from the left
	for i, c := range s.Columns {
		if c.X > end {
			place++
			bare = append(bare, between(end, c.X, w.len))
		}
		place++
		places[i], end = place, max(end, c.X+c.W)
	}
	if len(marks) > 0 {
		w.add(fmt.Sprintf("Lay %s flat and cut %s along, from the left selvedge at %s.%s", names, it, and(marks), noPanel(bare)), every(list, done...))
	} else if len(done) > 0 {
		w.steps[len(w.steps)-1] = appendDone(w.steps[len(w.steps)-1], every(list, done...))
	}
	for i, c := range s.Columns {
		if !slices.Contains(done, i) {
			w.column(list, i, places[i], c)
		}
	}
}

// between says where cloth lies bare.
func between(from, to Side, say func(Side) string) string {
	if from == 0 {
		return "before " + say(to)
	}
	return "from " + say(from) + " to " + say(to)
}

// noPanel says of what lies bare before something that is cut that it is none, or whoever cuts would number it.
func noPanel(bare []string) string {
	if len(bare) == 0 {
		return ""
	}
	return fmt.Sprintf(" What lies %s is no panel.", and(bare))
}

// column writes the cuts across one column of strips that are cut alike; place is where it lies among the pieces
// from the left.
func (w *stepWriter) column(list []CutStrip, at, place int, c CutColumn) {
	s := list[0]
	var marks, trims, bare []string
	end := s.Y
	for _, i := range c.Items {
		if i.Y > end {
			bare = append(bare, between(end-s.Y, i.Y-s.Y, w.len))
		}
		end = max(end, i.Y+i.H)
		for _, edge := range []Side{i.Y - s.Y, i.Y + i.H - s.Y} {
			mark := w.len(edge)
			if edge > 0 && edge < s.H && !slices.Contains(marks, mark) {
				marks = append(marks, mark)
			}
		}
		if trim := w.len(i.W); i.W < c.W && !slices.Contains(trims, trim) {
			trims = append(trims, trim)
		}
	}
	what := "the piece"
	if len(s.Columns) > 1 || place > 1 {
		what = fmt.Sprintf("the %s piece from the left", nth(place))
	}
	if len(list) > 1 {
		what += " of each"
	}
	var do []string
	if len(marks) > 0 {
		do = append(do, fmt.Sprintf("cut it across at %s", and(marks)))
	}
	if len(trims) > 0 {
		do = append(do, fmt.Sprintf("trim what is wider than needed to %s", and(trims)))
	}
	w.add(fmt.Sprintf("Take %s and %s.%s", what, strings.Join(do, ", then "), noPanel(bare)), every(list, at))
}

// alike says whether two strips are cut by the same cuts into the same panels.
func (w *stepWriter) alike(a, b CutStrip) bool {
	if a.H != b.H || len(a.Columns) != len(b.Columns) {
		return false
	}
	for i, c := range a.Columns {
		d := b.Columns[i]
		if c.X != d.X || c.W != d.W || len(c.Items) != len(d.Items) {
			return false
		}
		for j, x := range c.Items {
			y := d.Items[j]
			p, q := w.panels[x.Panel], w.panels[y.Panel]
			if x.X != y.X || x.Y-a.Y != y.Y-b.Y || x.W != y.W || x.H != y.H || p.Role != q.Role || p.Size != q.Size {
				return false
			}
		}
	}
	return true
}

// every gives what lies in these columns of all the strips.
func every(list []CutStrip, columns ...int) []CutItem {
	var items []CutItem
	for _, s := range list {
		for _, c := range columns {
			items = append(items, s.Columns[c].Items...)
		}
	}
	return items
}

func appendDone(step CutStep, items []CutItem) CutStep {
	for _, i := range items {
		if i.Panel > 0 {
			step.Panels = append(step.Panels, i.Panel)
		} else {
			step.Remnants = append(step.Remnants, i.Remnant)
		}
	}
	return step
}

// StripName counts strips A, B, … Z, AA, AB.
func StripName(i int) string {
	name := ""
	for i++; i > 0; i = (i - 1) / 26 {
		name = string(rune('A'+(i-1)%26)) + name
	}
	return name
}

func nth(n int) string {
	words := []string{"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}
	if n <= len(words) {
		return words[n-1]
	}
	return strconv.Itoa(n) + "th"
}

func and(list []string) string {
	if n := len(list); n > 1 {
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return strings.Join(list, "")
}
