package drive

import (
	"cmp"
	"slices"
	"strings"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// Cloth is a number of identical pieces with what intake knows of their lot, as
// far as planning asks.
type Cloth struct {
	ID       string
	Pieces   int
	Width    length.Length // usable, across
	Length   length.Length // usable and free, along the selvedge
	Fibre    string
	Weight   string
	Washed   bool
	Print    string
	Turn     string // either, across or along
	Border   string // on which selvedges a border still runs; empty for none, or once it was parted off
	Strip    bool   // a border strip, or a remnant of one
	TrimOK   bool   // a feature print that was ticked to serve as trim
	Colours  []string
	Themes   []string
	SetAside string   // why it is kept from planning; empty when it is not
	Never    []string // lots that never meet it in one pillowcase
	Pin      string   // the number of the only recipient it may go to as a body; empty for any
}

// The words intake uses for a print, and for a fibre that nobody knows.
const (
	PrintSolid   = "solid"
	PrintTonal   = "tonal"
	PrintFeature = "feature"
	FibreNotSure = "not sure"
)

// Waits is why cloth is kept from planning.
type Waits string

// What cloth may wait for.
const (
	WaitsSetAside Waits = "set aside"
	WaitsWashing  Waits = "to be washed"
)

// Waits says why the cloth may not be planned with yet; empty when it may. In a
// drive that washes first, unwashed cloth was measured before it shrank.
func (c Cloth) Waits(washing string) Waits {
	switch {
	case c.SetAside != "":
		return WaitsSetAside
	case washing == WashedFirst && !c.Washed:
		return WaitsWashing
	}
	return ""
}

// Neutrals are the colours that go with every other.
func Neutrals() []string { return []string{"white", "cream", "grey", "black", "natural linen"} }

// group is cloth that looks alike and is alike: pieces of one group stand for
// each other.
type group struct {
	Cloth
	id    string
	roles []string
	turn  planning.Turn
}

// A group's id joins its words by groupSeam; noWords stands where there are none.
const (
	groupSeam = " · "
	noWords   = "–"
)

func (g group) compare(o group) int { return cmp.Compare(g.id, o.id) }

// group gives the cloth's group among the trim roles that the sizes ask for. Its id
// says in words what makes the group, so that a change of any of it is seen.
func (c Cloth) group(trims []string) group {
	c.Colours, c.Themes = colours(c.Colours), sorted(c.Themes)
	g := group{Cloth: c, turn: c.turned(), roles: []string{planning.Body}}
	if c.mayTrim() {
		g.roles = append(g.roles, trims...)
	}
	words := []string{c.Fibre, c.Weight, "unwashed", c.Print, string(g.turn)}
	if c.Washed {
		words[2] = "washed"
	}
	if c.Fibre == FibreNotSure {
		// Two unknown cloths are not known to be alike: each lot stands alone.
		words[0] += " (" + lotOf(c.ID) + ")"
	}
	for _, list := range [][]string{c.Colours, c.Themes} {
		if len(list) > 0 {
			words = append(words, strings.Join(list, ", "))
		} else {
			words = append(words, noWords)
		}
	}
	if c.TrimOK {
		words = append(words, "may trim")
	}
	if c.Border != "" {
		words = append(words, "border on "+c.Border)
	}
	if c.Strip {
		words = append(words, "border strip")
	}
	if len(c.Never) > 0 || c.Pin != "" {
		words = append(words, c.byEye())
	}
	g.id = strings.Join(words, groupSeam)
	return g
}

// byEye says what people decided of the cloth's lot, which is a group of its own then.
func (c Cloth) byEye() string {
	words := "lot " + lotOf(c.ID)
	if len(c.Never) > 0 {
		words += " never with " + strings.Join(sorted(c.Never), ", ")
	}
	if c.Pin != "" {
		words += " for recipient " + c.Pin
	}
	return words
}

// lotOf gives the lot of a piece's id: "42" of "42/1". A code that somebody else
// gave may hold a slash of its own.
func lotOf(id string) string {
	if at := strings.LastIndexByte(id, '/'); at >= 0 {
		return id[:at]
	}
	return id
}

// mayTrim says whether the cloth may serve as cuff or accent. A border that
// still runs along its selvedge belongs on a body.
func (c Cloth) mayTrim() bool {
	if c.Border != "" || c.Strip {
		return c.Strip && c.TrimOK
	}
	return c.Print == PrintSolid || c.Print == PrintTonal || c.TrimOK
}

// turned is how panels may lie. A border runs round the case unless somebody
// chose to have it down one side.
func (c Cloth) turned() planning.Turn {
	switch {
	case c.Turn == string(planning.Across), c.Turn == string(planning.Along):
		return planning.Turn(c.Turn)
	case c.Border != "" || c.Strip:
		return planning.Along
	}
	return planning.Either
}

// trimsOf gives for each body group the groups that may trim it.
func trimsOf(groups []group) map[string][]string {
	trims := map[string][]string{}
	for _, body := range groups {
		for _, trim := range groups {
			if body.goesWith(trim) {
				trims[body.id] = append(trims[body.id], trim.id)
			}
		}
	}
	return trims
}

// goesWith says whether the trim may go on the body: of the same fibre, weight
// and washing, and of a colour that the body shows or that goes with every other.
func (g group) goesWith(trim group) bool {
	if !trim.mayTrim() || g.Fibre != trim.Fibre || g.Weight != trim.Weight || g.Washed != trim.Washed {
		return false
	}
	if g.Fibre == FibreNotSure && g.id != trim.id {
		return false
	}
	if slices.Contains(g.Never, lotOf(trim.ID)) || slices.Contains(trim.Never, lotOf(g.ID)) {
		return false
	}
	return overlap(g.Colours, trim.Colours) || trim.neutral()
}

func (c Cloth) neutral() bool {
	return len(c.Colours) > 0 && !slices.ContainsFunc(c.Colours, func(s string) bool { return !slices.Contains(Neutrals(), s) })
}

// colours spells the colours one way, in order.
func colours(list []string) []string {
	list = sorted(list)
	for i, s := range list {
		switch s {
		case "gray":
			list[i] = "grey"
		case "natural", "linen":
			list[i] = "natural linen"
		}
	}
	return sorted(list)
}

func sorted(list []string) []string {
	list = TidyWords(list)
	slices.Sort(list)
	return slices.Compact(list)
}
