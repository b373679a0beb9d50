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
	known   map[question]bool
}

// question is one that is asked again and again: whether cloth of a group holds a
// panel, of all there is or of what the plan leaves.
type question struct {
	group string
	need  need
	left  bool
}

// need is a panel as it is looked for.
type need struct {
	role          string
	around, along Side
}

func needOf(p planning.Panel) need { return need{p.Role, roughly(p.Around), roughly(p.Along)} }

type stockPiece struct {
	lot                string
	roles              []string
	turn               planning.Turn
	width, whole, left Side
}

func stockOf(p *planning.Problem, plan *planning.Plan, unit length.Unit) stock {
	s := stock{problem: p, unit: unit, groups: map[string][]stockPiece{}, known: map[question]bool{}}
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
	var smallest need
	fits, trimmed := 0, 0
	var missing, waiting, ranOut []string
	for _, id := range q.Cases {
		c := s.problem.CaseByID(id)
		if c == nil {
			continue
		}
		for _, g := range q.Bodies {
			body, trims := split(*c)
			if smallest.role == "" || body.along < smallest.along {
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
		return fmt.Sprintf("The cloth that suits it is too small: a body is %s × %s.", length.Format(smallest.around, s.unit), length.Format(smallest.along, s.unit))
	case trimmed == 0:
		return fmt.Sprintf("Nothing on the shelf goes with the prints that suit it as %s.", and(sortedOnce(missing)))
	case len(waiting) > 0:
		return fmt.Sprintf("Bodies would still fit on %s, but no %s that goes with them is left.", lotWords(waiting), and(sortedOnce(ranOut)))
	}
	return "The cloth that suits it is used up; what is left of it is too small, or goes further in other lines."
}

// split gives the body of a case and its trims.
func split(c planning.Case) (body need, trims []need) {
	for _, p := range c.Panels {
		if p.Role == planning.Body {
			body = needOf(p)
		} else {
			trims = append(trims, needOf(p))
		}
	}
	return body, trims
}

// lacking gives the trim roles for which no group that goes with the body has a
// piece large enough: of all cloth, or of what the plan leaves.
func (s stock) lacking(body string, trims []need, left bool) []string {
	var roles []string
	for _, t := range trims {
		if !slices.ContainsFunc(s.problem.Trims[body], func(g string) bool { return s.has(g, t, left) }) {
			roles = append(roles, t.role)
		}
	}
	return roles
}

func (s stock) has(g string, n need, left bool) bool {
	q := question{g, n, left}
	if answer, asked := s.known[q]; asked {
		return answer
	}
	s.known[q] = slices.ContainsFunc(s.groups[g], func(c stockPiece) bool { return c.holds(n, left) })
	return s.known[q]
}

func (s stock) lots(g string, n need) []string {
	var lots []string
	for _, c := range s.groups[g] {
		if c.holds(n, true) {
			lots = append(lots, c.lot)
		}
	}
	return lots
}

func (c stockPiece) holds(n need, left bool) bool {
	if !slices.Contains(c.roles, n.role) {
		return false
	}
	long := c.whole
	if left {
		long = c.left
	}
	return c.turn != planning.Along && n.around <= c.width && n.along <= long ||
		c.turn != planning.Across && n.along <= c.width && n.around <= long
}

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
