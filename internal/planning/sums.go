package planning

import "slices"

// sum is a whole quantity made up of others: pillowcases of several quotas, or panels used from
// several groups. Where the relaxation shifts a fraction from one quota or group to the next,
// limits on single ones bind little; a limit on their sum leaves it nowhere to go.
type sum struct {
	quotas []int
	rows   []int
	row    int // of the programme, −1 where none was needed yet
}

// sums lists those worth limiting: pillowcases of one weight, those that weigh as much or more,
// and panels of a kind from all groups.
func (m *model) sums() []sum {
	var out []sum
	add := func(quotas, rows []int) {
		known := func(o sum) bool { return slices.Equal(o.quotas, quotas) && slices.Equal(o.rows, rows) }
		if len(quotas)+len(rows) > 1 && !slices.ContainsFunc(out, known) {
			out = append(out, sum{quotas, rows, -1})
		}
	}
	for _, from := range m.quotas {
		var up, level []int
		for q := range m.quotas {
			if m.quotas[q].weight >= from.weight {
				up = append(up, q)
			}
			if m.quotas[q].weight == from.weight {
				level = append(level, q)
			}
		}
		add(up, nil)
		add(level, nil)
	}
	for k := range m.kinds {
		var rows []int
		for r := range m.supply {
			if m.supply[r].kind == k {
				rows = append(rows, r)
			}
		}
		add(nil, rows)
	}
	return out
}

// sumVariable gives the programme's variable that is a sum.
func (t *tree) sumVariable(i int) int {
	s := &t.sums[i]
	if s.row < 0 {
		var vars []int
		var vals []float64
		take := func(v int, n float64) {
			if at := slices.Index(vars, v); at >= 0 {
				vals[at] += n
				return
			}
			vars, vals = append(vars, v), append(vals, n)
		}
		for k := range t.s.m.makes {
			if slices.Contains(s.quotas, t.s.m.makes[k].quota) {
				take(t.ms.y[k], 1)
			}
		}
		for _, r := range s.rows {
			users, each := t.ms.users(r)
			for k, v := range users {
				take(v, each[k])
			}
		}
		s.row = t.ms.lp.AddRow(0, unlimited, vars, vals)
		t.addEscape(s.row)
	}
	return t.ms.lp.RowVar(s.row)
}

// takeSums reads the multipliers of the sums that a node limits.
func (t *tree) takeSums(n *node, pr *proof, dual func(row int) int64) {
	for _, l := range n.limits {
		if l.of != limitSum {
			continue
		}
		if pr.sums == nil {
			pr.sums, pr.extra, pr.toll = make([]int64, len(t.sums)), make([]int64, len(pr.price)), make([]int64, len(pr.quota))
		}
		s := &t.sums[l.i]
		v := dual(s.row)
		if l.hi >= unlimited {
			v = min(v, 0)
		}
		pr.sums[l.i] = v
		for _, q := range s.quotas {
			pr.toll[q] += v
		}
		for _, r := range s.rows {
			pr.extra[r] += v
		}
	}
}

// charge is what a pillowcase pays for a panel of a row.
func (pr *proof) charge(r int) int64 {
	c := pr.price[r] + pr.use[r]
	if pr.extra != nil {
		c += pr.extra[r]
	}
	return c
}
