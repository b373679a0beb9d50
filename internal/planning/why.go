package planning

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Reason tells why a quota is not met.
type Reason struct {
	Quota   string `json:"quota"`
	Missing int    `json:"missing"`
	Text    string `json:"text"`
}

// WhyNot gives for each quota that a plan leaves short the reason in words. It is computed
// from what the plan leaves over: bodies that could still be cut and wait for trim; sizes that
// no suitable piece holds; or nothing suitable left.
func WhyNot(p *Problem, plan *Plan) ([]Reason, error) {
	m, err := modelOf(p)
	if err != nil {
		return nil, err
	}
	left, err := m.leftOver(plan)
	if err != nil {
		return nil, err
	}
	var out []Reason
	for i := range p.Quotas {
		q := &p.Quotas[i]
		if missing := q.Wanted - plan.Made(q.ID); missing > 0 {
			out = append(out, Reason{q.ID, missing, m.reason(q, missing, left)})
		}
	}
	return out, nil
}

// leftOver is the problem with only what the plan leaves: uncut pieces, and the uncut length
// of the others.
func (m *model) leftOver(plan *Plan) (*model, error) {
	rest := *m.p
	rest.Fabrics, rest.Fixed = nil, nil
	used := map[string]map[int]Decimal{}
	for _, l := range plan.Layouts {
		if used[l.Fabric] == nil {
			used[l.Fabric] = map[int]Decimal{}
		}
		used[l.Fabric][l.Piece] = l.Used
	}
	for _, f := range m.p.Fabrics {
		whole := f
		whole.Pieces = f.Pieces - len(used[f.ID])
		rest.Fabrics = append(rest.Fabrics, whole)
		for n := 1; n <= f.Pieces; n++ {
			if u, cut := used[f.ID][n]; cut && m.length(u) < m.length(f.Length) {
				end := f
				end.ID, end.Pieces, end.Length = fmt.Sprintf("%s end of piece %d", f.ID, n), 1, m.decimal(m.length(f.Length)-m.length(u))
				rest.Fabrics = append(rest.Fabrics, end)
			}
		}
	}
	return newModel(&rest)
}

func (m *model) reason(q *Quota, missing int, left *model) string {
	var unfit, waiting []string
	suits, cut := 0, 0
	var needs *Case
	for _, id := range unique(q.Cases) {
		c := m.p.CaseByID(id)
		if c == nil {
			continue
		}
		body := c.panel(Body)
		k := m.kindOf(kind{Body, body.Around, body.Along})
		for _, b := range unique(q.Bodies) {
			switch serves, holds := m.serves(b, k); {
			case !serves:
			case !holds:
				unfit = append(unfit, b)
			default:
				suits++
				if n := left.holdsFrom(b, k) / body.Pieces; n > 0 {
					cut += n
					needs = c
					waiting = append(waiting, b)
				}
			}
		}
	}
	waiting = slices.Compact(slices.Sorted(slices.Values(waiting)))
	switch {
	case len(q.Cases) == 0:
		return "no case is chosen for it"
	case suits == 0 && len(unfit) == 0:
		return "no fabric on the shelf suits it as a body"
	case suits == 0:
		c := m.p.CaseByID(q.Cases[0])
		return fmt.Sprintf("no piece of %s is large enough for a body of %s × %s %s", listed(unfit), c.panel(Body).Around, c.panel(Body).Along, m.p.Unit)
	case cut == 0:
		return fmt.Sprintf("the fabric that suits it is used up: %d more bodies wait for cloth", missing)
	}
	n := min(cut, missing)
	if text := m.trimReason(needs, waiting, n, left); text != "" {
		return text
	}
	return fmt.Sprintf("%s could still be cut from %s, but only where nothing better can be made of the trim", bodies(n), listed(waiting))
}

// trimReason says which trim bodies wait for, and how much of it; "" where there is enough.
func (m *model) trimReason(c *Case, groups []string, n int, left *model) string {
	for _, l := range c.Panels {
		if l.Role == Body {
			continue
		}
		k := m.kindOf(kind{l.Role, l.Around, l.Along})
		goes, rest := 0, 0
		for _, b := range groups {
			for _, t := range asSet(m.p.Trims[b]) {
				if serves, _ := m.serves(t, k); serves {
					goes++
					rest += left.holdsFrom(t, k) / l.Pieces
				}
			}
		}
		if rest >= n {
			continue
		}
		need := m.yardage(l, n-rest)
		if goes == 0 {
			return fmt.Sprintf("nothing on the shelf goes with %s as %s: %s for about %s of %s", listed(groups), l.Role, wait(n-rest), need, l.Role)
		}
		return fmt.Sprintf("what goes with %s is used up: %s for about %s of %s", listed(groups), wait(n-rest), need, l.Role)
	}
	return ""
}

// serves says whether a group may serve as a kind, and whether one of its pieces holds it.
func (m *model) serves(name string, k int) (serves, holds bool) {
	for i := range m.p.Fabrics {
		f := &m.p.Fabrics[i]
		if f.Group == name && slices.Contains(f.Roles, m.kinds[k].role) {
			serves = true
			break
		}
	}
	for g, gr := range m.groups {
		if gr.name == name {
			for r := range m.supply {
				if m.supply[r].group == g && m.supply[r].kind == k {
					holds = true
				}
			}
		}
	}
	return serves, holds
}

// holdsFrom gives how many panels of a kind a group holds where nothing else is cut from it.
func (m *model) holdsFrom(name string, k int) int {
	for g, gr := range m.groups {
		if gr.name != name || gr.prog == nil {
			continue
		}
		values := make([]int64, len(gr.forms))
		for f := range values {
			if gr.kind[f] == k {
				values[f] = 1
			}
		}
		gr.prog.Price(values, nil)
		return int(m.held(g))
	}
	return 0
}

// yardage says in words how much cloth n panels take, cut across cloth of usual width.
func (m *model) yardage(l Panel, n int) string {
	width := map[string]float64{"in": 42, "cm": 107, "mm": 1070}[m.p.Unit]
	a := max(1, math.Floor(width/l.Around.Float()))
	long := math.Ceil(float64(n*l.Pieces)/a) * l.Along.Float()
	switch m.p.Unit {
	case "in":
		quarters := int(math.Ceil(long / 9))
		text := [...]string{"", " 1/4", " 1/2", " 3/4"}[quarters%4]
		if quarters/4 > 0 {
			text = fmt.Sprint(quarters/4) + text
		}
		return strings.TrimSpace(text) + " yd"
	case "cm":
		long *= 10
	}
	return fmt.Sprintf("%.1f m", math.Ceil(long/100)/10)
}

func bodies(n int) string {
	if n == 1 {
		return "1 body"
	}
	return fmt.Sprintf("%d bodies", n)
}

func wait(n int) string {
	if n == 1 {
		return "1 body waits"
	}
	return fmt.Sprintf("%d bodies wait", n)
}

// listed names a few of a list.
func listed(names []string) string {
	names = slices.Compact(slices.Sorted(slices.Values(names)))
	switch n := len(names); {
	case n == 1:
		return names[0]
	case n <= 3:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	default:
		return fmt.Sprintf("%s, %s and %d others", names[0], names[1], n-2)
	}
}
