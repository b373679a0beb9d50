package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// WhyShort says of each line that gets less than it asks for why, as far as it
// can be read from the problem and the plan: nothing suits it, nothing is large
// enough, nothing goes with it, or which of these ran out. Lengths are in unit.
func WhyShort(p *planning.Problem, plan *planning.Plan, unit length.Unit) map[string]string {
	s := stockOf(p, plan, unit)
	why := map[string]string{}
	for _, q := range p.Quotas {
		if plan.Made(q.ID) < q.Wanted {
			why[q.ID] = s.why(q)
		}
	}
	return why
}

// stock is the cloth of a problem by group, with what a plan leaves of it.
type stock struct {
	problem *planning.Problem
	unit    length.Unit
	groups  map[string][]stockPiece
}

type stockPiece struct {
	lot                string
	roles              []string
	turn               planning.Turn
	width, whole, left Side
}

func stockOf(p *planning.Problem, plan *planning.Plan, unit length.Unit) stock {
	s := stock{problem: p, unit: unit, groups: map[string][]stockPiece{}}
	type piece struct {
		fabric string
		number int
	}
	used := map[piece]Side{}
	for _, l := range plan.Layouts {
		used[piece{l.Fabric, l.Piece}] = roughly(l.Used)
	}
	for _, f := range p.Fabrics {
		lot := lotOf(f.ID)
		for n := 1; n <= f.Pieces; n++ {
			whole := roughly(f.Length)
			s.groups[f.Group] = append(s.groups[f.Group], stockPiece{
				lot: lot, roles: f.Roles, turn: f.Turn, width: roughly(f.Width), whole: whole, left: whole - used[piece{f.ID, n}],
			})
		}
	}
	return s
}

// roughly is a length of the plan for a reason in words; what is finer than
// cloth is measured does not matter there.
func roughly(d planning.Decimal) Side {
	l, err := side(d)
	if err != nil {
		return 0
	}
	return l
}

func (s stock) why(q planning.Quota) string {
	if len(q.Bodies) == 0 {
		return "Nothing on the shelf suits it: its themes and fibres rule out every cloth that is free."
	}
	var smallest planning.Panel
	fits, trimmed := 0, 0
	var missing, waiting, ranOut []string
	for _, id := range q.Cases {
		c := s.problem.CaseByID(id)
		if c == nil {
			continue
		}
		for _, g := range q.Bodies {
			body, trims := split(*c)
			if smallest.Role == "" || body.Along.Cmp(smallest.Along) < 0 {
				smallest = body
			}
			if !s.has(g, body, false) {
				continue
			}
			fits++
			lacks := s.lacking(g, trims, false)
			missing = append(missing, lacks...)
			if len(lacks) > 0 {
				continue
			}
			trimmed++
			if !s.has(g, body, true) {
				continue
			}
			if lacks = s.lacking(g, trims, true); len(lacks) > 0 {
				waiting = append(waiting, s.lots(g, body)...)
				ranOut = append(ranOut, lacks...)
			}
		}
	}
	switch {
	case fits == 0:
		return fmt.Sprintf("The cloth that suits it is too small: a body is %s × %s.", s.len(smallest.Around), s.len(smallest.Along))
	case trimmed == 0:
		return fmt.Sprintf("Nothing on the shelf goes with the prints that suit it as %s.", and(sortedOnce(missing)))
	case len(waiting) > 0:
		return fmt.Sprintf("Bodies would still fit on %s, but no %s that goes with them is left.", lotWords(waiting), and(sortedOnce(ranOut)))
	}
	return "The cloth that suits it is used up; what is left of it is too small, or goes further in other lines."
}

// split gives the body of a case and its trims.
func split(c planning.Case) (planning.Panel, []planning.Panel) {
	var body planning.Panel
	var trims []planning.Panel
	for _, p := range c.Panels {
		if p.Role == planning.Body {
			body = p
		} else {
			trims = append(trims, p)
		}
	}
	return body, trims
}

// lacking gives the trim roles for which no group that goes with the body has a
// piece large enough: of all cloth, or of what the plan leaves.
func (s stock) lacking(body string, trims []planning.Panel, left bool) []string {
	var roles []string
	for _, t := range trims {
		if !slices.ContainsFunc(s.problem.Trims[body], func(g string) bool { return s.has(g, t, left) }) {
			roles = append(roles, t.Role)
		}
	}
	return roles
}

func (s stock) has(g string, p planning.Panel, left bool) bool {
	return slices.ContainsFunc(s.groups[g], func(c stockPiece) bool { return c.holds(p, left) })
}

func (s stock) lots(g string, p planning.Panel) []string {
	var lots []string
	for _, c := range s.groups[g] {
		if c.holds(p, true) {
			lots = append(lots, c.lot)
		}
	}
	return lots
}

func (c stockPiece) holds(p planning.Panel, left bool) bool {
	if !slices.Contains(c.roles, p.Role) {
		return false
	}
	long := c.whole
	if left {
		long = c.left
	}
	around, along := roughly(p.Around), roughly(p.Along)
	return c.turn != planning.Along && around <= c.width && along <= long ||
		c.turn != planning.Across && along <= c.width && around <= long
}

func (s stock) len(d planning.Decimal) string { return length.Format(roughly(d), s.unit) }

func sortedOnce(list []string) []string {
	return slices.Compact(slices.Sorted(slices.Values(list)))
}

// lotWords names up to five lots in the order of their numbers.
func lotWords(lots []string) string {
	lots = sortedOnce(lots)
	slices.SortFunc(lots, func(a, b string) int {
		x, errX := strconv.ParseInt(a, 10, 64)
		y, errY := strconv.ParseInt(b, 10, 64)
		if errX != nil || errY != nil {
			return strings.Compare(a, b)
		}
		return int(min(max(x-y, -1), 1))
	})
	more := ""
	if n := len(lots); n > 5 {
		lots, more = lots[:5], fmt.Sprintf(" and %d more", n-5)
		return "lots " + strings.Join(lots, ", ") + more
	}
	if len(lots) == 1 {
		return "lot " + lots[0]
	}
	return "lots " + and(lots)
}
