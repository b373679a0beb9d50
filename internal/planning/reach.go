package planning

// reach is the part of a model that matters while most pieces lie cut: pillowcases that can
// still be sewn, from panels that lie there or can still be cut. What is out of reach needs no
// row and no column, which makes programmes over a few pieces small.
type reach struct {
	makes   []bool
	choices [][]int // by trimming: the choices within reach
}

// reach finds what can be sewn from the panels that lie cut and those that groups still open can give.
func (m *model) reach(lie []int64, open []bool) *reach {
	can := func(row int, count int64) bool {
		s := &m.supply[row]
		return s.given+lie[row] >= count || open != nil && open[s.group]
	}
	r := &reach{makes: make([]bool, len(m.makes)), choices: make([][]int, len(m.trims))}
	for t := range m.trims {
		tr := &m.trims[t]
		for k, row := range tr.rows {
			if can(row, tr.count) {
				r.choices[t] = append(r.choices[t], k)
			}
		}
	}
	for i := range m.makes {
		mk := &m.makes[i]
		ok := m.quotas[mk.quota].most > 0
		for _, u := range mk.uses {
			ok = ok && can(u.row, u.count)
		}
		for _, t := range mk.trims {
			ok = ok && len(r.choices[t]) > 0
		}
		r.makes[i] = ok
	}
	return r
}

// everything is the reach of a model of which nothing is cut yet.
func (m *model) everything() *reach {
	r := &reach{makes: make([]bool, len(m.makes)), choices: make([][]int, len(m.trims))}
	for i := range r.makes {
		r.makes[i] = true
	}
	for t := range m.trims {
		for k := range m.trims[t].rows {
			r.choices[t] = append(r.choices[t], k)
		}
	}
	return r
}
