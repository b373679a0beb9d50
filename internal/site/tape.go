package site

import (
	"fmt"
	"strconv"
	"strings"
)

// tape is progress drawn as a tape measure: parts of a whole, laid end to end.
// What no part covers is missing.
type tape struct {
	Of    int
	Parts []tapePart
}

// tapePart is one stretch. Kind is done, good, out or planned: it chooses colour and
// stripes, so that the parts differ in black and white too.
type tapePart struct {
	Label string
	Count int
	Kind  string
}

// The tape's place in its drawing.
const (
	tapeLeft, tapeTop   = 1.0, 1.0
	tapeWidth, tapeHigh = 718.0, 20.0
)

// tapeStretch is a part as it is drawn.
type tapeStretch struct {
	Kind, X, Width string
	Stripes, Dots  string
}

// Words says the same as the drawing.
func (t tape) Words() (string, error) {
	var said []string
	for _, p := range t.Parts {
		n, err := number(p.Count)
		if err != nil {
			return "", err
		}
		said = append(said, n+" "+p.Label)
	}
	of, err := number(t.Of)
	return "Of " + of + ": " + strings.Join(said, ", "), err
}

// Segments gives the parts as they are drawn. More than the whole is cut off at its end.
func (t tape) Segments() []tapeStretch {
	var drawn []tapeStretch
	at := tapeLeft
	for _, p := range t.Parts {
		width := min(tapeWidth*float64(p.Count)/float64(max(t.Of, 1)), tapeLeft+tapeWidth-at)
		if width <= 0 {
			continue
		}
		s := tapeStretch{Kind: p.Kind, X: px(at), Width: px(width)}
		s.Stripes, s.Dots = texture(p.Kind, at, at+width, tapeTop, tapeHigh)
		drawn = append(drawn, s)
		at += width
	}
	return drawn
}

// Rule gives the outline and the marks of the tape: twenty, every fifth longer.
func (t tape) Rule() string {
	var b strings.Builder
	fmt.Fprintf(&b, "M%s %sh%sv%sh-%sz", px(tapeLeft), px(tapeTop), px(tapeWidth), px(tapeHigh), px(tapeWidth))
	for i := 1; i < 20; i++ {
		long := 4
		if i%5 == 0 {
			long = 9
		}
		fmt.Fprintf(&b, "M%s %sv-%d", px(tapeLeft+tapeWidth*float64(i)/20), px(tapeTop+tapeHigh), long)
	}
	return b.String()
}

// tapeKey is one line of the key under the tape.
type tapeKey struct {
	Label, Kind, Count string
	Stripes, Dots      string
}

// Key gives each part with its count, and what is missing.
func (t tape) Key() ([]tapeKey, error) {
	var key []tapeKey
	missing := t.Of
	for _, p := range append(t.Parts[:len(t.Parts):len(t.Parts)], tapePart{Label: "missing", Kind: "missing"}) {
		if p.Kind == "missing" {
			if p.Count = missing; missing <= 0 {
				break
			}
		}
		missing -= p.Count
		count, err := number(p.Count)
		if err != nil {
			return nil, err
		}
		k := tapeKey{Label: p.Label, Kind: p.Kind, Count: count}
		k.Stripes, k.Dots = texture(p.Kind, 0.5, 21.5, 0.5, 11)
		key = append(key, k)
	}
	return key, nil
}

// texture gives the stripes of what is out, and the dots of what is planned or
// the long lines of what is good.
func texture(kind string, from, to, top, high float64) (stripes, dots string) {
	var b strings.Builder
	if kind == "good" {
		for i := 1.0; i <= 2; i++ {
			fmt.Fprintf(&b, "M%s %sH%s", px(from), px(top+high*i/3), px(to))
		}
		return "", b.String()
	}
	for x := from + 5; x < to; x += 6 {
		switch kind {
		case "out":
			fmt.Fprintf(&b, "M%s %sv%s", px(x), px(top), px(high))
		case "planned":
			for y := top + 3; y < top+high; y += 5 {
				fmt.Fprintf(&b, "M%s %sh1.5", px(x), px(y))
			}
		}
	}
	switch kind {
	case "out":
		return b.String(), ""
	case "planned":
		return "", b.String()
	}
	return "", ""
}

func px(v float64) string { return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0") }
