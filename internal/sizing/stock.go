package sizing

import (
	"fmt"
	"strings"

	"boltward/internal/length"
)

// Turn says how a panel may lie on a piece of cloth.
type Turn string

// The turns: a panel's around lies across the width, along the length, or either.
const (
	Across Turn = "across"
	Along  Turn = "along"
	Either Turn = "either"
)

// Cloth is the usable rectangle of a piece in stock.
type Cloth struct {
	Width, Length length.Length
	Turn          Turn
}

// takes says whether one piece of p fits on the cloth in this turn, which the cloth must allow.
func (c Cloth) takes(p Panel, turn Turn) bool {
	if c.Turn != Either && c.Turn != turn {
		return false
	}
	w, l := p.Lying(turn)
	return c.Width >= w && c.Length >= l
}

// Shortfall says that no cloth in stock is wide enough for a body that lies
// across it, and what could be done instead.
type Shortfall struct {
	Need   length.Length // around the body, as cut
	Widest length.Length // the widest cloth in stock
	// FrontAndBack is the same case in two pieces, where some cloth takes those.
	FrontAndBack *Spec
	// Turned counts the pieces of cloth that take the body the other way, along
	// their length, and whose print allows it.
	Turned int
	// Smaller is the widest case of the same make that some cloth takes across.
	Smaller *Spec
	text    string
}

// Note says the same to a person.
func (f Shortfall) Note() Note { return Note{Code: "stock", Warning: true, Text: f.text} }

// CheckStock looks whether some cloth in stock takes the body of s across its width.
// It gives nil where one does, and where there is no stock to speak of. It refuses
// what Check refuses.
func CheckStock(s Spec, stock []Cloth) (*Shortfall, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	body := s.panels()[0]
	if len(stock) == 0 || anyTakes(stock, body, Across) {
		return nil, nil
	}
	f := &Shortfall{Need: body.Around}
	for _, c := range stock {
		f.Widest = max(f.Widest, c.Width)
		if c.takes(body, Along) {
			f.Turned++
		}
	}
	if two := s.FrontAndBack(); s.Body == Folded && two.Body == FrontAndBack {
		if p := two.panels()[0]; anyTakes(stock, p, Across) || anyTakes(stock, p, Along) {
			f.FrontAndBack = &two
		}
	}
	f.Smaller = s.smaller(stock, body)
	f.text = s.shortfallText(f)
	return f, nil
}

func anyTakes(stock []Cloth, p Panel, turn Turn) bool {
	for _, c := range stock {
		if c.takes(p, turn) {
			return true
		}
	}
	return false
}

// smaller narrows the case until the widest cloth takes its body across.
func (s Spec) smaller(stock []Cloth, body Panel) *Spec {
	mark := length.Inch / 8
	if s.Unit.Metric() {
		mark = length.Millimetre
	}
	var best *Spec
	for _, c := range stock {
		if c.Turn == Along || c.Length < body.Along {
			continue
		}
		w, _ := s.widthFrom(Body, s.Shrink.washedAround(c.Width.Round(s.Shrink.step(), length.Down)))
		small := s
		small.Width, small.Spare = w.Round(mark, length.Down), nil
		if small.Width <= 0 || best != nil && best.Width >= small.Width {
			continue
		}
		if small.Check() == nil && c.takes(small.panels()[0], Across) {
			best = &small
		}
	}
	return best
}

func (s Spec) shortfallText(f *Shortfall) string {
	var offers []string
	if f.FrontAndBack != nil {
		p := f.FrontAndBack.panels()[0]
		offers = append(offers, fmt.Sprintf("cut it front and back, two pieces of %s × %s", s.text(p.Around), s.text(p.Along)))
	}
	if f.Turned > 0 {
		pieces := "a piece"
		if f.Turned > 1 {
			pieces = fmt.Sprintf("one of %d pieces", f.Turned)
		}
		offers = append(offers, fmt.Sprintf("turn it along the length of %s whose print allows that", pieces))
	}
	if f.Smaller != nil {
		offer := fmt.Sprintf("make the case %s wide instead of %s", s.text(f.Smaller.Width), s.text(s.Width))
		if s.Pillow != (Rect{}) && f.Smaller.Width < s.Pillow.Width {
			offer += ", narrower than its pillow"
		}
		offers = append(offers, offer)
	}
	text := fmt.Sprintf("No fabric in stock takes a body of %s around across its width", s.text(f.Need))
	if f.Widest < f.Need {
		text += fmt.Sprintf("; the widest is %s", s.text(f.Widest))
	} else {
		text += "; what is wide enough is too short or its print may not lie that way"
	}
	if len(offers) == 0 {
		return text + ". Ask for wider fabric."
	}
	return text + ". You could " + strings.Join(offers, ", or ") + "."
}
