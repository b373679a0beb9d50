package site

import (
	"fmt"
	"strings"

	"boltward/internal/forecast"
	"boltward/internal/outlook"
)

// progressLine is how many were good day by day, and how many will be, drawn: what was is a full line,
// what is likely a dashed one in its band. It is drawn as narrow as a telephone, so that its words
// can be read there.
type progressLine struct {
	Words             string
	Was, Likely, Band string // paths
	Asked, Ground     string
	Today, Due        string
	Texts             []clothText
}

// The drawing's place, in px.
const (
	lineWidth, lineHeight = 360.0, 200.0
	lineLeft, lineRight   = 6.0, 354.0
	lineTop, lineBottom   = 30.0, 170.0
)

// lineScale places days and counts.
type lineScale struct {
	first, last int
	most        int
}

func (s lineScale) x(day int) float64 {
	return lineLeft + (lineRight-lineLeft)*float64(min(max(day, s.first), s.last)-s.first)/float64(max(1, s.last-s.first))
}

func (s lineScale) y(n int) float64 {
	return lineBottom - (lineBottom-lineTop)*float64(n)/float64(max(1, s.most))
}

func (s lineScale) point(day, n int) string { return px(s.x(day)) + " " + px(s.y(n)) }

// wayOf is what some lines ask for together, how many of it are good, and the last day agreed, where there is one.
type wayOf struct {
	lines       map[int64]bool
	asked, good int
	due         *int
}

func (w *wayOf) add(l outlook.Line) {
	if w.lines == nil {
		w.lines = map[int64]bool{}
	}
	w.lines[l.Number] = true
	w.asked += l.Asked
	w.good += l.Good
	if l.Due != nil && (w.due == nil || *l.Due > *w.due) {
		w.due = l.Due
	}
}

// progressLine draws the way of some lines.
func (o outlooks) progressLine(f forecast.Outlook, way wayOf) *progressLine {
	asked, good, due := way.asked, way.good, way.due
	today := o.Today
	s := lineScale{first: today - 7, last: today + 14, most: asked}
	came := map[int]int{}
	for _, e := range o.Good {
		if way.lines[e.Line] {
			came[e.Day] += e.N
			s.first = min(s.first, e.Day-1)
		}
	}
	if len(f.Band) > 0 {
		s.last = max(s.last, min(f.Band[len(f.Band)-1].Day, f.To+7))
	}
	if due != nil {
		s.last = max(s.last, min(*due+3, today+370))
	}
	p := &progressLine{
		Ground: fmt.Sprintf("M%s %sH%s", px(lineLeft), px(lineBottom), px(lineRight)),
		Asked:  fmt.Sprintf("M%s %sH%s", px(lineLeft), px(lineTop), px(lineRight)),
		Today:  fmt.Sprintf("M%s %sV%s", px(s.x(today)), px(lineTop), px(lineBottom+5)),
		Was:    s.was(came, good, today),
	}
	if len(f.Band) > 1 {
		p.Likely, p.Band = s.band(f.Band)
	}
	p.text(s, o, asked, due)
	p.Words = o.lineWords(f, asked, good)
	return p
}

// was goes back from what is good now to when it became so.
func (s lineScale) was(came map[int]int, good, today int) string {
	at := make([]int, today-s.first+1)
	for day := today; day >= s.first; day-- {
		at[day-s.first] = max(0, good)
		good -= came[day]
	}
	var b strings.Builder
	b.WriteString("M" + s.point(s.first, at[0]))
	for i, n := range at[1:] {
		if n != at[i] {
			fmt.Fprintf(&b, "H%sV%s", px(s.x(s.first+i+1)), px(s.y(n)))
		}
	}
	return b.String() + "H" + px(s.x(today))
}

func (s lineScale) band(points []forecast.Point) (likely, band string) {
	var mid, up, down strings.Builder
	for i, p := range points {
		if p.Day > s.last && i > 0 {
			p = onTheWay(points[i-1], p, s.last)
		}
		step := "L"
		if i == 0 {
			step = "M"
		}
		mid.WriteString(step + s.point(p.Day, p.Mid))
		up.WriteString(step + s.point(p.Day, p.High))
	}
	for i := len(points) - 1; i >= 0; i-- {
		p := points[i]
		if p.Day > s.last && i > 0 {
			p = onTheWay(points[i-1], p, s.last)
		}
		down.WriteString("L" + s.point(p.Day, p.Low))
	}
	return mid.String(), up.String() + down.String() + "z"
}

// onTheWay is the point on the way from one to the next on a day.
func onTheWay(a, b forecast.Point, day int) forecast.Point {
	at := func(from, to int) int { return from + (to-from)*(day-a.Day)/max(1, b.Day-a.Day) }
	return forecast.Point{Day: day, Low: at(a.Low, b.Low), Mid: at(a.Mid, b.Mid), High: at(a.High, b.High)}
}

// text writes days under the line and what is asked for above it, where there is room.
func (p *progressLine) text(s lineScale, o outlooks, asked int, due *int) {
	say := func(x, y float64, anchor, text string) {
		p.Texts = append(p.Texts, clothText{X: px(x), Y: px(y), Size: "12", Anchor: anchor, Text: text})
	}
	under := lineBottom + 18
	at := s.x(o.Today)
	say(min(max(at, 20), lineRight-20), under, "middle", "today")
	if at > 100 {
		say(lineLeft, under, "start", o.dayText(outlook.DayOf(s.first)))
	}
	if at < lineRight-90 {
		say(lineRight, under, "end", o.dayText(outlook.DayOf(s.last)))
	}
	say(lineLeft, lineTop-6, "start", thousands(int64(asked))+" asked")
	if due != nil && *due >= s.first {
		x := s.x(*due)
		p.Due = fmt.Sprintf("M%s %sV%s", px(x), px(lineTop-16), px(lineBottom))
		anchor, off := "end", -5.0
		if x < 170 {
			anchor, off = "start", 5
		}
		say(x+off, lineTop-18, anchor, "due "+o.dayText(outlook.DayOf(*due)))
	}
}

// lineWords says the same as the drawing.
func (o outlooks) lineWords(f forecast.Outlook, asked, good int) string {
	said := fmt.Sprintf("%d of %d are good today", good, asked)
	if len(f.Band) > 1 {
		said += "; " + o.likelyBy(f)
	}
	return said
}
