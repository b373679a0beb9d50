package drive

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// CallFor is a kind of cloth that donors could be asked for: as it would lie on the shelf.
type CallFor struct {
	Fibre   string        `json:"fibre"`
	Weight  string        `json:"weight"`
	Washed  bool          `json:"washed"`
	Print   string        `json:"print"`
	Turn    string        `json:"turn"`
	Colours []string      `json:"colours"`
	Themes  []string      `json:"themes"`
	Width   length.Length `json:"width"` // usable
}

// Wish is cloth to ask for, and what it would bring.
type Wish struct {
	For    CallFor          `json:"for"`
	Length length.Length    `json:"length"`
	Cases  int              `json:"cases"`  // pillowcases more
	Weight planning.Decimal `json:"weight"` // weight more
	Lines  []planning.Moved `json:"lines"`  // whose numbers change
}

// usualWidth is the usable width taken for cloth of a weight of which none lies here: 42 in,
// what is left of quilting cotton sold as 44 wide (common practice, no source).
const usualWidth = 42 * length.Inch

// Calls lists the kinds of cloth that could be of use: like what lies on the shelf; plain in
// each colour that some print shows, and in white; prints of the themes that are asked for, in
// colours that what lies here can trim. Cloth of no known fibre is like no other and is never
// asked for. What is to come counts as washed where the drive washes first, and is as wide as
// most that lies here, rounded down to whole inches or centimetres.
func (in PlanInput) Calls(unit length.Unit) []CallFor {
	var calls []CallFor
	seen := map[string]bool{}
	add := func(c CallFor) {
		c.Colours, c.Themes = colours(c.Colours), sorted(c.Themes)
		if key := c.cloth("").group(nil).id; !seen[key] {
			seen[key] = true
			calls = append(calls, c)
		}
	}
	whole := length.Inch
	if unit.Metric() {
		whole = length.Centimetre
	}
	for _, class := range in.classes() {
		class.width -= class.width % whole
		plain := func(colour string) {
			add(CallFor{class.Fibre, class.Weight, class.Washed, PrintSolid, TurnEither, []string{colour}, nil, class.width})
		}
		for _, colour := range class.shown {
			plain(colour)
		}
		plain("white")
		for _, theme := range in.themesWanted(class.Fibre) {
			for _, colour := range class.trims {
				add(CallFor{class.Fibre, class.Weight, class.Washed, PrintFeature, TurnEither, []string{colour}, []string{theme}, class.width})
			}
		}
		for _, c := range class.cloths {
			if c.Print != PrintFeature {
				// Plain and tone on tone do for each other.
				c.Print, c.Turn, c.Themes = PrintSolid, TurnEither, nil
			}
			add(CallFor{c.Fibre, c.Weight, c.Washed, c.Print, string(c.turned()), c.Colours, c.Themes, class.width})
		}
	}
	return calls
}

// clothClass is cloth that may meet in one pillowcase.
type clothClass struct {
	Fibre, Weight string
	Washed        bool
	width         length.Length
	cloths        []Cloth
	shown         []string // colours that cloth of the class shows
	trims         []string // colours of its trims, the two with most cloth
}

func (in PlanInput) classes() []clothClass {
	var list []clothClass
	at := func(fibre, weight string, washed bool) *clothClass {
		for i := range list {
			if l := &list[i]; l.Fibre == fibre && l.Weight == weight && l.Washed == washed {
				return l
			}
		}
		list = append(list, clothClass{Fibre: fibre, Weight: weight, Washed: washed, width: usualWidth})
		return &list[len(list)-1]
	}
	for _, c := range in.Cloths {
		if c.Waits(in.Washing) == "" && c.Fibre != FibreNotSure && c.Pieces > 0 && c.Border == "" && !c.Strip {
			class := at(c.Fibre, c.Weight, c.Washed)
			class.cloths = append(class.cloths, c)
		}
	}
	for _, w := range in.Wants {
		for _, fibre := range w.Fibres {
			if w.Wanted > 0 && slices.Contains(Fibres(), fibre) && !slices.ContainsFunc(list, func(c clothClass) bool { return c.Fibre == fibre }) {
				at(fibre, Weights()[0], in.Washing == WashedFirst)
			}
		}
	}
	if len(list) == 0 {
		at(Fibres()[0], Weights()[0], in.Washing == WashedFirst)
	}
	for i := range list {
		list[i].look()
	}
	slices.SortStableFunc(list, func(a, b clothClass) int {
		return cmp.Or(cmp.Compare(a.Fibre, b.Fibre), cmp.Compare(a.Weight, b.Weight))
	})
	return list
}

// look finds what the cloth of the class shows, and its commonest width.
func (c *clothClass) look() {
	area, wide := map[string]length.Area{}, map[length.Length]int{}
	var trims []string
	for _, cloth := range c.cloths {
		wide[cloth.Width] += cloth.Pieces
		for _, colour := range colours(cloth.Colours) {
			if !slices.Contains(c.shown, colour) {
				c.shown = append(c.shown, colour)
			}
			if !cloth.mayTrim() {
				continue
			}
			if area[colour] == 0 {
				trims = append(trims, colour)
			}
			area[colour] += cloth.area()
		}
	}
	slices.Sort(c.shown)
	slices.SortFunc(trims, func(a, b string) int { return cmp.Or(cmp.Compare(area[b], area[a]), cmp.Compare(a, b)) })
	c.trims = trims[:min(len(trims), 2)]
	if len(c.trims) == 0 {
		c.trims = []string{"white"}
	}
	most := 0
	for _, cloth := range c.cloths {
		if n := wide[cloth.Width]; n > most || n == most && cloth.Width < c.width {
			most, c.width = n, cloth.Width
		}
	}
}

func (c Cloth) area() length.Area { return length.Area(c.Pieces) * area(c.Width, c.Length) }

// themesWanted lists the themes that lines ask for which take the fibre.
func (in PlanInput) themesWanted(fibre string) []string {
	var themes []string
	for _, w := range in.Wants {
		if w.Wanted > 0 && (len(w.Fibres) == 0 || slices.Contains(w.Fibres, fibre)) {
			themes = append(themes, w.ThemesWanted...)
		}
	}
	return sorted(themes)
}

func (c CallFor) cloth(id string) Cloth {
	return Cloth{
		ID: id, Pieces: 1, Width: c.Width, Fibre: c.Fibre, Weight: c.Weight, Washed: c.Washed, Print: c.Print, Turn: c.Turn,
		Colours: c.Colours, Themes: c.Themes,
	}
}

// AskLengths gives what is asked for of one kind: one, two or three yards, or half metres in a
// metric drive.
func AskLengths(unit length.Unit) []length.Length {
	step := 36 * length.Inch
	if unit.Metric() {
		step = 500 * length.Millimetre
	}
	return []length.Length{step, 2 * step, 3 * step}
}

// Asking makes the problem of what could come: the input's with a piece of each length of each
// kind. offers names those pieces, by kind.
func (in PlanInput) Asking(calls []CallFor, lengths []length.Length) (with *planning.Problem, offers [][]string) {
	more := in
	more.Cloths = slices.Clone(in.Cloths)
	for i, call := range calls {
		var ids []string
		for k, l := range lengths {
			c := call.cloth(fmt.Sprintf("to ask for %d/%d", i, k))
			c.Length = l
			more.Cloths = append(more.Cloths, c)
			ids = append(ids, c.ID)
		}
		offers = append(offers, ids)
	}
	with, _ = more.Problem()
	return with, offers
}

// Wishes reads what the planner found for the calls of an Asking.
func Wishes(found []planning.Wish, calls []CallFor, with *planning.Problem, offers [][]string) ([]Wish, error) {
	group := map[string]int{}
	call := map[string]int{}
	for i, ids := range offers {
		call[ids[0]] = i
	}
	for _, f := range with.Fabrics {
		if i, is := call[f.ID]; is {
			group[f.Group] = i
		}
	}
	var list []Wish
	for _, w := range found {
		i, known := group[w.Group]
		if !known {
			return nil, fmt.Errorf("cloth of %q was not among what could be asked for", w.Group)
		}
		long, err := side(w.Length)
		if err != nil {
			return nil, fmt.Errorf("length to ask for: %w", err)
		}
		list = append(list, Wish{For: calls[i], Length: long, Cases: w.Gained, Weight: w.Weight, Lines: w.Quotas})
	}
	return list, nil
}

// Words says what kind of cloth is asked for: "plain or tone on tone navy cotton".
func (c CallFor) Words() string {
	var words []string
	look := and(c.Colours)
	switch {
	case c.Print == PrintFeature && len(c.Themes) > 0:
		words = []string{and(c.Themes), "print", "with", look}
	case c.Print == PrintFeature:
		words = []string{"print", "with", look}
	case c.Print == PrintTonal:
		words = []string{"tone on tone", look}
	default:
		words = []string{"plain or tone on tone", look}
	}
	if look == "" {
		words = slices.DeleteFunc(words, func(w string) bool { return w == "with" })
	}
	return strings.Join(strings.Fields(strings.Join(words, " ")), " ")
}

// Cloth says of which cloth: "cotton, quilting weight".
func (c CallFor) Cloth() string { return c.Fibre + ", " + c.Weight + " weight" }
