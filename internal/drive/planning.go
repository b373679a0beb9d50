package drive

import (
	"slices"
	"strconv"

	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/sizing"
)

// PlanInput is all that a plan is made from: the cloth that is free, the sizes,
// what is still asked for, and the drive's own rules.
type PlanInput struct {
	Cloths     []Cloth
	Sizes      []PlanSize
	Wants      []Want
	Washing    string        // WashedFirst or CutLarger
	KitCases   int           // most pillowcases in a kit, where a line says nothing else
	KeepWidth  length.Length // least sides of a remnant worth keeping
	KeepLength length.Length
}

// PlanSize is a case spec as it is cut.
type PlanSize struct {
	ID     string // the size's number, or its name in a file
	Panels []sizing.Panel
}

// Want is one line that is still asked for.
type Want struct {
	ID           string // the line's number, or its place in a file
	Name         string // what people call it: who asks, and the size
	Recipient    string // the number of who asks; empty in a file
	Sizes        []string
	Wanted       int // still to plan
	Weight       int // what one is worth
	ThemesWanted []string
	ThemesAvoid  []string
	Fibres       []string // the only ones the recipient takes; none: any
	KitCases     int      // 0: as the drive has it
}

// LeftOut is cloth that no plan may draw on yet, and why.
type LeftOut struct {
	ID  string
	Why Waits
}

// Problem makes the planner's problem, in millimetres: groups of cloth that is
// alike, what each may serve as and how it may be turned, which trims go with
// which bodies and which bodies suit which line. Lines with nothing to plan are
// not in it; cloth that waits for something is given back with the reason.
func (in PlanInput) Problem() (*planning.Problem, []LeftOut) {
	p := &planning.Problem{
		Unit:    string(length.MM),
		Fabrics: []planning.Fabric{},
		Cases:   []planning.Case{},
		Trims:   map[string][]string{},
		Quotas:  []planning.Quota{},
		Kit:     planning.KitRule{Cases: in.KitCases},
		Keep:    &planning.Keep{Width: mm(in.KeepWidth), Length: mm(in.KeepLength)},
	}
	used, unit := map[string]bool{}, 0
	for _, w := range in.Wants {
		if w.Wanted > 0 {
			unit = common(unit, w.Weight)
			for _, id := range w.Sizes {
				used[id] = true
			}
		}
	}
	var trims []string
	for _, s := range in.Sizes {
		if used[s.ID] {
			p.Cases = append(p.Cases, s.asCase())
			trims = s.addTrims(trims)
		}
	}
	groups, left := in.fabrics(p, trims)
	p.Trims, p.TrimRoles = trimsOf(groups, trims)
	for _, w := range in.Wants {
		if w.Wanted > 0 {
			w.Weight /= unit
			p.Quotas = append(p.Quotas, w.quota(groups))
		}
	}
	return p, left
}

// fabrics adds the cloth that may be used, and gives its groups in order.
func (in PlanInput) fabrics(p *planning.Problem, trims []string) ([]group, []LeftOut) {
	var groups []group
	var left []LeftOut
	seen := map[string]bool{}
	for _, c := range in.Cloths {
		if why := c.Waits(in.Washing); why != "" {
			left = append(left, LeftOut{c.ID, why})
			continue
		}
		if c.Pieces < 1 || c.Length <= 0 || c.Width <= 0 {
			continue
		}
		g := c.group(trims)
		if !seen[g.id] {
			seen[g.id] = true
			groups = append(groups, g)
		}
		p.Fabrics = append(p.Fabrics, planning.Fabric{
			ID: c.ID, Length: mm(c.Length), Width: mm(c.Width), Pieces: c.Pieces, Group: g.id, Roles: g.roles, Turn: g.turn,
		})
	}
	slices.SortFunc(groups, group.compare)
	return groups, left
}

func (s PlanSize) asCase() planning.Case {
	c := planning.Case{ID: s.ID}
	for _, p := range s.Panels {
		c.Panels = append(c.Panels, planning.Panel{Role: p.Role, Around: mm(p.Around), Along: mm(p.Along), Pieces: p.Pieces})
	}
	return c
}

func (s PlanSize) addTrims(roles []string) []string {
	for _, p := range s.Panels {
		if p.Role != planning.Body && !slices.Contains(roles, p.Role) {
			roles = append(roles, p.Role)
		}
	}
	slices.Sort(roles)
	return roles
}

func (w Want) quota(groups []group) planning.Quota {
	q := planning.Quota{ID: w.ID, Cases: w.Sizes, Wanted: w.Wanted, Weight: planning.Whole(int64(w.Weight)), Bodies: []string{}, Kit: w.KitCases}
	for _, g := range groups {
		if w.suits(g) {
			q.Bodies = append(q.Bodies, g.id)
		}
	}
	return q
}

// suits says whether bodies of the group may go to the line: its fibre is taken,
// none of its themes is to be avoided, and one of them is wanted where some are. A print
// that is pinned to a recipient suits its lines alone.
func (w Want) suits(g group) bool {
	if len(w.Fibres) > 0 && !slices.Contains(w.Fibres, g.Fibre) || g.Pin != "" && g.Pin != w.Recipient {
		return false
	}
	if g.Pin != "" {
		// Whoever pinned the print to them saw that it suits; what they avoid stays away.
		return !overlap(g.Themes, w.ThemesAvoid)
	}
	return !overlap(g.Themes, w.ThemesAvoid) && (len(w.ThemesWanted) == 0 || overlap(g.Themes, w.ThemesWanted))
}

// common gives the greatest number that divides both.
func common(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func overlap(a, b []string) bool {
	return slices.ContainsFunc(a, func(s string) bool { return slices.Contains(b, s) })
}

// ClothID names a piece in plans: "42/1".
func ClothID(lot int64, piece int) string {
	return strconv.FormatInt(lot, 10) + "/" + strconv.Itoa(piece)
}

// NumberID names a size or a line asked for in plans.
func NumberID(number int64) string { return strconv.FormatInt(number, 10) }

func mm(l length.Length) planning.Decimal { return planning.MM(int64(l)) }
