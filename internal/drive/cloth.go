package drive

import (
	"cmp"
	"fmt"
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
	SetAside string    // why it is kept from planning; empty when it is not
	Met      []Meeting // the rules of its lot with other lots
	Pin      string    // the number of the only recipient it may go to as a body; empty for any
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

// A group's id joins its words by groupSeam; noWords stands where there are none. What was decided
// by eye comes last, after eyeSeam.
const (
	groupSeam = " · "
	eyeSeam   = groupSeam + "lot "
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
	for _, m := range c.Met {
		if role := m.Roles.Trim(); m.Kind == LotAlways && (!m.First || m.Other == lotOf(c.ID)) && slices.Contains(trims, role) && !slices.Contains(g.roles, role) {
			g.roles = append(g.roles, role) // somebody saw that it will do
		}
	}
	g.id = strings.Join(words, groupSeam)
	if len(c.Met) > 0 || c.Pin != "" {
		g.id += eyeSeam + c.byEye()
	}
	return g
}

// byEye says what people decided of the cloth's lot, which is a group of its own then.
func (c Cloth) byEye() string {
	words := lotOf(c.ID)
	var met []string
	for _, m := range c.Met {
		as := string(m.Roles)
		if !m.First {
			as += " of it"
		}
		met = append(met, fmt.Sprintf(" %s with %s as %s", m.Kind, m.Other, as))
	}
	slices.Sort(met)
	words += strings.Join(met, ",")
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

// trimsOf gives for each body group the groups that may trim it, and for a role of it which of
// those alone may, where not all of them may.
func trimsOf(groups []group, roles []string) (trims map[string][]string, only map[string]map[string][]string) {
	trims = map[string][]string{}
	for _, body := range groups {
		as := map[string][]string{}
		for _, trim := range groups {
			any := false
			for _, role := range roles {
				if body.goesWith(trim, role) {
					as[role], any = append(as[role], trim.id), true
				}
			}
			if any || len(roles) == 0 && body.goesWith(trim, "") {
				trims[body.id] = append(trims[body.id], trim.id)
			}
		}
		body.parted(groups, as)
		for _, role := range roles {
			if len(as[role]) == len(trims[body.id]) {
				continue
			}
			if only == nil {
				only = map[string]map[string][]string{}
			}
			if only[body.id] == nil {
				only[body.id] = map[string][]string{}
			}
			only[body.id][role] = append([]string{}, as[role]...)
		}
	}
	return trims, only
}

// parted sees to it that two lots which never meet as cuff and accent cannot on this body: it
// is trimmed with one of them alone. The one that it can best do without is left out.
func (g group) parted(groups []group, as map[string][]string) {
	for _, cuff := range groups {
		for _, m := range cuff.Met {
			if m.Kind != LotNever || m.Roles != CuffAndAccent || !slices.Contains(as["cuff"], cuff.id) {
				continue
			}
			for _, accent := range groups {
				if lotOf(accent.ID) != m.Other || !slices.Contains(as["accent"], accent.id) || !slices.Contains(as["cuff"], cuff.id) {
					continue
				}
				without, id := "accent", accent.id
				if len(as["cuff"]) > len(as["accent"]) {
					without, id = "cuff", cuff.id
				}
				as[without] = slices.DeleteFunc(as[without], func(t string) bool { return t == id })
			}
		}
	}
}

// goesWith says whether the trim may go on the body in a role: of the same fibre, weight and
// washing, and of a colour that the body shows or that goes with every other. What somebody
// decided by eye of the two comes before that.
func (g group) goesWith(trim group, role string) bool {
	always := false
	for _, m := range g.Met {
		met := m.Other == lotOf(trim.ID)
		switch {
		case m.Kind == LotAlways && m.First && m.Roles.Trim() == role:
			if !met {
				return false
			}
			always = true
		case m.Kind == LotNever && met && (m.Roles == BodyAndTrim || m.First && m.Roles.Trim() == role):
			return false
		}
	}
	if always {
		return true
	}
	if !trim.mayTrim() || g.Fibre != trim.Fibre || g.Weight != trim.Weight || g.Washed != trim.Washed {
		return false
	}
	if g.Fibre == FibreNotSure && g.id != trim.id {
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
