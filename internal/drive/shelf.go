package drive

import (
	"slices"
	"strings"

	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/sizing"
)

// InRows is what a piece makes by itself of one size when it is cut row by row
// across it, each row of one kind of panel: simple, quickly counted, and never
// more than can be cut. Cloth that may serve as cuff and accent too makes whole
// pillowcases; other cloth makes bodies, whose cuffs come from elsewhere.
type InRows struct {
	Cases  int
	Bodies int
}

// InRows works out what the piece makes of a size. Cloth that is set aside makes
// nothing.
func (c Cloth) InRows(size PlanSize) InRows {
	if c.SetAside != "" {
		return InRows{}
	}
	panels := size.Panels
	whole := c.mayTrim()
	if !whole {
		panels = slices.DeleteFunc(slices.Clone(panels), func(p sizing.Panel) bool { return p.Role != planning.Body })
		whole = len(panels) == len(size.Panels) // a size without trim: its body is all of it
	}
	best := 0
	for _, turn := range []sizing.Turn{sizing.Across, sizing.Along} {
		if is := sizing.Turn(c.turned()); is == sizing.Either || is == turn {
			best = max(best, c.rows(panels, turn))
		}
	}
	if whole {
		return InRows{Cases: best * max(c.Pieces, 1)}
	}
	return InRows{Bodies: best * max(c.Pieces, 1)}
}

// rows is how many sets of panels the piece makes when all lie in one turn.
func (c Cloth) rows(panels []sizing.Panel, turn sizing.Turn) int {
	if len(panels) == 0 {
		return 0
	}
	fits := func(n int) bool {
		left := c.Length
		for _, p := range panels {
			w, l := p.Lying(turn)
			if w <= 0 || l <= 0 || w > c.Width {
				return false
			}
			abreast := int(c.Width / w)
			if left -= length.Length((n*p.Pieces+abreast-1)/abreast) * l; left < 0 {
				return false
			}
		}
		return true
	}
	least, most := 0, 1
	for fits(most) {
		least, most = most, 2*most
	}
	for most-least > 1 {
		if middle := (least + most) / 2; fits(middle) {
			least = middle
		} else {
			most = middle
		}
	}
	return least
}

// ShelfSum adds up cloth on the shelf. Length is that of all pieces one after the
// other, whatever their width.
type ShelfSum struct {
	Name   string
	Lots   int
	Pieces int
	Length length.Length
	Area   length.Area
	Makes  InRows
}

// ShelfTotals is the shelf by kind of cloth and by colour. A lot of two colours
// counts under each, so the colours come to more than the whole.
type ShelfTotals struct {
	All     ShelfSum
	Kinds   []ShelfSum
	Colours []ShelfSum
	Aside   ShelfSum // of all: set aside, so it makes nothing
}

// SumShelf adds up what lies on the shelf, and what it makes of one size; nil for none.
func SumShelf(list []Shelved, size *PlanSize) ShelfTotals {
	kinds, colours := sums{}, sums{}
	all, aside := newSum("everything"), newSum("set aside")
	for _, s := range list {
		var makes InRows
		if size != nil {
			makes = s.Cloth.InRows(*size)
		}
		all.add(s, makes)
		if s.SetAside != "" {
			aside.add(s, makes)
		}
		kinds.of(strings.TrimSpace(s.Weight+" "+s.Fibre)).add(s, makes)
		if len(s.Colours) == 0 {
			colours.of("no colour noted").add(s, makes)
		}
		for _, colour := range s.Colours {
			colours.of(colour).add(s, makes)
		}
	}
	return ShelfTotals{All: all.done(), Aside: aside.done(), Kinds: kinds.sorted(), Colours: colours.sorted()}
}

// sums are sums under way, by name.
type sums map[string]*sum

type sum struct {
	ShelfSum
	lots map[int64]bool
}

func newSum(name string) *sum { return &sum{ShelfSum{Name: name}, map[int64]bool{}} }

func (m sums) of(name string) *sum {
	if m[name] == nil {
		m[name] = newSum(name)
	}
	return m[name]
}

func (s *sum) add(p Shelved, makes InRows) {
	s.lots[p.Lot] = true
	n := max(p.Pieces, 1)
	s.Pieces += n
	s.Length += length.Length(n) * p.Length
	s.Area += length.Area(n) * area(p.Width, p.Length)
	s.Makes.Cases += makes.Cases
	s.Makes.Bodies += makes.Bodies
}

func (s *sum) done() ShelfSum {
	s.Lots = len(s.lots)
	return s.ShelfSum
}

// sorted gives the sums, those with most cloth first.
func (m sums) sorted() []ShelfSum {
	var list []ShelfSum
	for _, s := range m {
		list = append(list, s.done())
	}
	slices.SortFunc(list, func(a, b ShelfSum) int {
		if a.Area != b.Area {
			return int(max(-1, min(1, b.Area-a.Area)))
		}
		return strings.Compare(a.Name, b.Name)
	})
	return list
}
