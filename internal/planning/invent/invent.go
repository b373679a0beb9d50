// Package invent makes drives of many kinds for tests and tables: what shelves look like where
// the unit is another, where a depot holds bolts instead of remnants, where hardly anything
// goes with anything. A kind, a seed and a number of fabrics give the same drive on any
// machine. Drives built backwards, from a plan that wastes nothing, say what a best plan is worth.
//
// Everything in them is invented. Sizes of pillows are those in common use.
package invent

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/planning"
)

// Drive is a problem and, where it is known how it was built, what a best plan makes.
type Drive struct {
	Problem *planning.Problem
	Known   bool
	Best    planning.Decimal // weight of a best plan, where known
}

// Kind is a way drives can be. Make panics for fewer than one fabric.
type Kind struct {
	Name  string
	Says  string
	Sizes []int // fabrics worth looking at, small to large
	Make  func(seed uint64, fabrics int) *Drive
}

// Named gives the kind of that name.
func Named(name string) (Kind, bool) {
	for _, k := range Kinds() {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}

// sketch is a drive while it is being drawn.
type sketch struct {
	r        *rand.Rand
	p        *planning.Problem
	prints   []string // body groups that trim nothing
	plains   []string // groups that serve as anything
	looks    map[string]look
	weights  []string
	fullness float64 // what is asked for, by area, beside what there is
}

// look is what all fabrics of a group have in common.
type look struct {
	roles []string
	turn  planning.Turn
}

// size is a case by its panels, in the unit's tenths or quarters as text.
type size struct {
	id     string
	panels [][3]string // role, around, along; a role that ends in "*2" is cut twice
}

func newSketch(seed uint64, unit string, sizes []size) *sketch {
	s := &sketch{
		r: rand.New(rand.NewPCG(seed, 0x5eed)), looks: map[string]look{}, weights: []string{"1", "1", "2", "3"}, fullness: 1.1,
		p: &planning.Problem{Unit: unit, Trims: map[string][]string{}, Kit: planning.KitRule{Cases: 4}},
	}
	for _, z := range sizes {
		c := planning.Case{ID: z.id}
		for _, l := range z.panels {
			role, pieces := l[0], 1
			if cut, twice := strings.CutSuffix(role, "*2"); twice {
				role, pieces = cut, 2
			}
			c.Panels = append(c.Panels, planning.Panel{Role: role, Around: decimal(l[1]), Along: decimal(l[2]), Pieces: pieces})
		}
		s.p.Cases = append(s.p.Cases, c)
	}
	return s
}

var everything = []string{"body", "cuff", "accent"}

// groups names so many prints and plains: plains serve as anything in either turn, prints mostly
// as bodies, half of them one-way.
func (s *sketch) groups(prints, plains int) {
	turns := []planning.Turn{planning.Across, planning.Along, planning.Either, planning.Either}
	for i := range prints {
		l := look{[]string{"body"}, turns[s.r.IntN(len(turns))]}
		if s.r.IntN(5) < 2 {
			l.roles = everything
		}
		name := fmt.Sprintf("print-%02d", i+1)
		s.prints, s.looks[name] = append(s.prints, name), l
	}
	for i := range plains {
		name := fmt.Sprintf("plain-%02d", i+1)
		s.plains, s.looks[name] = append(s.plains, name), look{everything, planning.Either}
	}
}

// group draws a group: seven of ten times a print.
func (s *sketch) group() string {
	if len(s.prints) > 0 && (len(s.plains) == 0 || s.r.IntN(10) < 7) {
		return s.prints[s.r.IntN(len(s.prints))]
	}
	return s.plains[s.r.IntN(len(s.plains))]
}

// lot puts pieces on the shelf. Sides are whole numbers of 1/per of the unit.
func (s *sketch) lot(group string, length, width, per int64, pieces int) {
	l := s.looks[group]
	s.p.Fabrics = append(s.p.Fabrics, planning.Fabric{
		ID: fmt.Sprintf("F%05d", len(s.p.Fabrics)+1), Length: fraction(length, per), Width: fraction(width, per), Pieces: pieces,
		Group: group, Roles: l.roles, Turn: l.turn,
	})
}

// between draws a whole number.
func (s *sketch) between(low, high int64) int64 { return low + s.r.Int64N(high-low+1) }

// matched lets each body group go with so many plains; all of them where most is 0.
func (s *sketch) matched(least, most int) {
	for _, g := range slices.Concat(s.prints, s.plains) {
		var others []string
		for _, t := range s.plains {
			if t != g {
				others = append(others, t)
			}
		}
		s.r.Shuffle(len(others), func(i, j int) { others[i], others[j] = others[j], others[i] })
		if most > 0 {
			others = others[:min(len(others), int(s.between(int64(least), int64(most))))]
		}
		slices.Sort(others)
		s.p.Trims[g] = others
	}
}

// ask shares what the cloth could hold out among wards: each asks for each size with a chance
// of three in four, for bodies of about six groups in ten.
func (s *sketch) ask(wards int) *Drive {
	var cloth, each float64
	for i := range s.p.Fabrics {
		f := &s.p.Fabrics[i]
		cloth += f.Length.Float() * f.Width.Float() * float64(f.Pieces)
	}
	for _, c := range s.p.Cases {
		each += areaOf(c) / float64(len(s.p.Cases))
	}
	holds := cloth / each * s.fullness
	for w := range wards {
		for i, c := range s.p.Cases {
			if s.r.IntN(4) == 0 && w != i%wards {
				continue
			}
			q := planning.Quota{
				ID: fmt.Sprintf("ward-%d-%s", w+1, c.ID), Cases: []string{c.ID}, Weight: decimal(s.weights[s.r.IntN(len(s.weights))]),
				Wanted: 1 + int(holds*(0.4+1.2*s.r.Float64())/float64(wards*len(s.p.Cases))),
			}
			for _, g := range slices.Concat(s.prints, s.plains) {
				if s.r.IntN(10) < 6 {
					q.Bodies = append(q.Bodies, g)
				}
			}
			s.p.Quotas = append(s.p.Quotas, q)
		}
	}
	return &Drive{Problem: s.p}
}

func areaOf(c planning.Case) float64 {
	var a float64
	for _, l := range c.Panels {
		a += l.Around.Float() * l.Along.Float() * float64(l.Pieces)
	}
	return a
}

func decimal(text string) planning.Decimal {
	d, err := planning.ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return d
}

// fraction gives n/per exactly; per divides a power of ten.
func fraction(n, per int64) planning.Decimal {
	places := map[int64]int{1: 0, 2: 1, 4: 2, 10: 1, 20: 2, 100: 2, 1000: 3}[per]
	scale := int64(1)
	for range places {
		scale *= 10
	}
	n *= scale / per
	if places == 0 {
		return planning.Whole(n)
	}
	return decimal(strconv.FormatInt(n/scale, 10) + "." + fmt.Sprintf("%0*d", places, n%scale))
}
