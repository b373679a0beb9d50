package planning

import "fmt"

// pool hands out the panels that lie cut, by supply row, in the order of the pieces.
type pool struct {
	rows  [][]string
	names map[string]bool
}

func newPool(m *model) *pool {
	p := &pool{rows: make([][]string, len(m.supply)), names: map[string]bool{}}
	if f := m.p.Fixed; f != nil {
		for _, l := range f.Layouts {
			for _, x := range l.Panels {
				p.names[x.ID] = true
			}
		}
	}
	rows := map[[2]int]int{}
	for r, s := range m.supply {
		rows[[2]int{s.group, s.kind}] = r
	}
	for _, x := range spare(m.p) {
		for g, gr := range m.groups {
			if r, ok := rows[[2]int{g, m.kindOf(x.kind)}]; ok && gr.name == x.group {
				p.rows[r] = append(p.rows[r], x.id)
			}
		}
	}
	return p
}

// name makes an id that no panel has yet.
func (p *pool) name(id string) string {
	for p.names[id] {
		id += "'"
	}
	p.names[id] = true
	return id
}

func (p *pool) put(row int, id string) { p.rows[row] = append(p.rows[row], id) }

func (p *pool) take(row int, n int64) []string {
	ids := p.rows[row][:n:n]
	p.rows[row] = p.rows[row][n:]
	return ids
}

// kits sews what was assembled and parts each quota and case into the fewest kits, of sizes
// that differ by at most one.
func (m *model) kits(s *sewing, pool *pool) []Kit {
	taken := map[string]bool{}
	if f := m.p.Fixed; f != nil {
		for _, k := range f.Kits {
			taken[k.ID] = true
		}
	}
	left := make([][]int64, len(s.trims))
	for t := range s.trims {
		left[t] = append([]int64(nil), s.trims[t]...)
	}
	var out []Kit
	number := 0
	for q := range m.p.Quotas {
		for spec := range m.p.Cases {
			var cases []map[string][]string
			for i := range m.makes {
				if mk := &m.makes[i]; mk.quota == q && mk.spec == spec {
					for range s.made[i] {
						cases = append(cases, m.pillowcase(mk, left, pool))
					}
				}
			}
			for _, n := range share(len(cases), m.p.KitCases(&m.p.Quotas[q])) {
				number++
				id := fmt.Sprintf("K%d", number)
				for taken[id] {
					number++
					id = fmt.Sprintf("K%d", number)
				}
				out = append(out, Kit{ID: id, Quota: m.p.Quotas[q].ID, Case: m.p.Cases[spec].ID, Pillowcases: cases[:n:n]})
				cases = cases[n:]
			}
		}
	}
	return out
}

// pillowcase takes the panels of one pillowcase.
func (m *model) pillowcase(mk *making, left [][]int64, pool *pool) map[string][]string {
	one := map[string][]string{}
	for _, u := range mk.uses {
		one[m.kinds[m.supply[u.row].kind].role] = pool.take(u.row, u.count)
	}
	for _, t := range mk.trims {
		for k := range left[t] {
			if left[t][k] > 0 {
				left[t][k]--
				tr := &m.trims[t]
				one[m.kinds[tr.kind].role] = pool.take(tr.rows[k], tr.count)
				break
			}
		}
	}
	return one
}

// share parts n into the fewest parts of at most size, differing by at most one, larger first.
func share(n, size int) []int {
	if n == 0 {
		return nil
	}
	kits := (n + size - 1) / size
	var out []int
	for i := range kits {
		part := n / kits
		if i < n%kits {
			part++
		}
		out = append(out, part)
	}
	return out
}

// bundles counts the (kit, piece, role) stacks of a plan.
func bundles(p *Plan) int {
	type bundle struct {
		kit    int
		layout *Layout
		role   string
	}
	places := map[string]*Layout{}
	for i := range p.Layouts {
		for _, x := range p.Layouts[i].Panels {
			places[x.ID] = &p.Layouts[i]
		}
	}
	seen := map[bundle]bool{}
	for i := range p.Kits {
		for _, one := range p.Kits[i].Pillowcases {
			for role, ids := range one {
				for _, id := range ids {
					seen[bundle{i, places[id], role}] = true
				}
			}
		}
	}
	return len(seen)
}
