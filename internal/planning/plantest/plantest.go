// Package plantest makes plain plans for tests that need a plan and not a good
// one: every panel in a strip of its own, one after the other, in the order of
// the problem. It shares nothing with the planner. Its plans are valid; its
// bound is all that is wanted.
package plantest

import (
	"fmt"
	"math/big"

	"boltward/internal/planning"
)

// Plain plans a problem. It panics where a weight times a count is no Decimal.
func Plain(p *planning.Problem) *planning.Plan {
	m := &maker{p: p, plan: &planning.Plan{Unit: p.Unit}, ends: map[place]*big.Rat{}, layouts: map[place]int{}}
	made, bound := new(big.Rat), new(big.Rat)
	for i := range p.Quotas {
		q := &p.Quotas[i]
		n := m.quota(q)
		m.plan.Quotas = append(m.plan.Quotas, planning.QuotaMade{ID: q.ID, Made: n})
		made.Add(made, new(big.Rat).Mul(q.Weight.Rat(), big.NewRat(int64(n), 1)))
		bound.Add(bound, new(big.Rat).Mul(q.Weight.Rat(), big.NewRat(int64(q.Wanted), 1)))
	}
	m.plan.Summary = planning.Summary{
		WeightMade: decimal(made), WeightBound: decimal(bound), CasesMade: m.plan.Cases(), CasesBound: p.Wanted(), Stopped: planning.StoppedByEffort,
	}
	return m.plan
}

type place struct {
	fabric string
	piece  int
}

type maker struct {
	p       *planning.Problem
	plan    *planning.Plan
	ends    map[place]*big.Rat // where the next strip of a piece begins
	layouts map[place]int
	panels  int
}

// quota makes what it can for one quota and gives how many.
func (m *maker) quota(q *planning.Quota) int {
	n := 0
	for _, id := range q.Cases {
		spec := m.p.CaseByID(id)
		var cases []map[string][]string
		for n < q.Wanted {
			one := m.pillowcase(q, spec)
			if one == nil {
				break
			}
			cases = append(cases, one)
			n++
		}
		m.kits(q, id, cases)
	}
	return n
}

func (m *maker) pillowcase(q *planning.Quota, spec *planning.Case) map[string][]string {
	for _, body := range q.Bodies {
		var lay []strip
		taken := map[place]*big.Rat{}
		fits := true
		for _, line := range spec.Panels {
			groups := m.p.Trimming(body, line.Role)
			if line.Role == planning.Body {
				groups = []string{body}
			}
			strips := m.find(line, groups, taken)
			lay, fits = append(lay, strips...), fits && strips != nil
		}
		if fits {
			return m.lay(spec.ID, lay)
		}
	}
	return nil
}

type strip struct {
	at   place
	role string
	w, h planning.Decimal
	wide planning.Decimal // of the piece
}

// find looks for cloth of one group for all pieces of a role.
func (m *maker) find(line planning.Panel, groups []string, taken map[place]*big.Rat) []strip {
	for _, g := range groups {
		var strips []strip
		tried := map[place]*big.Rat{}
		for len(strips) < line.Pieces {
			s, ok := m.free(line, g, taken, tried)
			if !ok {
				break
			}
			strips = append(strips, s)
		}
		if len(strips) == line.Pieces {
			for at, end := range tried {
				taken[at] = end
			}
			return strips
		}
	}
	return nil
}

func (m *maker) free(line planning.Panel, g string, taken, tried map[place]*big.Rat) (strip, bool) {
	for _, f := range m.p.Fabrics {
		if f.Group != g || !contains(f.Roles, line.Role) {
			continue
		}
		w, h := line.Around, line.Along
		if f.Turn == planning.Along || f.Turn == planning.Either && w.Cmp(f.Width) > 0 {
			w, h = h, w
		}
		if w.Cmp(f.Width) > 0 {
			continue
		}
		for n := 1; n <= f.Pieces; n++ {
			at := place{f.ID, n}
			begin := first(tried[at], taken[at], m.ends[at])
			end := new(big.Rat).Add(begin, h.Rat())
			if end.Cmp(f.Length.Rat()) <= 0 {
				tried[at] = end
				return strip{at, line.Role, w, h, f.Width}, true
			}
		}
	}
	return strip{}, false
}

func (m *maker) lay(spec string, strips []strip) map[string][]string {
	one := map[string][]string{}
	for _, s := range strips {
		i, known := m.layouts[s.at]
		if !known {
			i = len(m.plan.Layouts)
			m.layouts[s.at] = i
			m.plan.Layouts = append(m.plan.Layouts, planning.Layout{Fabric: s.at.fabric, Piece: s.at.piece})
		}
		l := &m.plan.Layouts[i]
		begin := first(m.ends[s.at])
		end := new(big.Rat).Add(begin, s.h.Rat())
		m.panels++
		id := fmt.Sprintf("P%d", m.panels)
		l.Panels = append(l.Panels, planning.PlacedPanel{ID: id, Role: s.role, Case: spec, Y: decimal(begin), W: s.w, H: s.h})
		l.Used, m.ends[s.at] = decimal(end), end
		beside := decimal(new(big.Rat).Sub(s.wide.Rat(), s.w.Rat()))
		if keep := m.p.KeepSides(); worth(beside, s.h, keep) || worth(s.h, beside, keep) {
			l.Remnants = append(l.Remnants, planning.Remnant{X: s.w, Y: decimal(begin), W: beside, H: s.h})
		}
		one[s.role] = append(one[s.role], id)
	}
	return one
}

func worth(w, h planning.Decimal, keep planning.Keep) bool {
	return w.Cmp(keep.Width) >= 0 && h.Cmp(keep.Length) >= 0
}

// kits shares the pillowcases out among the fewest kits, as evenly as can be.
func (m *maker) kits(q *planning.Quota, spec string, cases []map[string][]string) {
	most := m.p.KitCases(q)
	kits := (len(cases) + most - 1) / most
	for i := range kits {
		from, to := i*len(cases)/kits, (i+1)*len(cases)/kits
		m.plan.Kits = append(m.plan.Kits, planning.Kit{
			ID: fmt.Sprintf("K%d", len(m.plan.Kits)+1), Quota: q.ID, Case: spec, Pillowcases: cases[from:to],
		})
	}
}

func contains(list []string, s string) bool {
	for _, one := range list {
		if one == s {
			return true
		}
	}
	return false
}

func first(list ...*big.Rat) *big.Rat {
	for _, r := range list {
		if r != nil {
			return r
		}
	}
	return new(big.Rat)
}

func decimal(r *big.Rat) planning.Decimal {
	d, err := planning.ParseDecimal(r.FloatString(9))
	if err != nil {
		panic(err)
	}
	return d
}
