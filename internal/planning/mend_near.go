package planning

import "slices"

// nearby is what a move may sew anew: the pillowcases of some bodies.
type nearby struct {
	bodies        []bool
	lie           []int64 // panels that lie cut for them
	usedElsewhere []int64 // panels that other pillowcases take
	wanted        []int64 // by quota, without what others make
	value         int64   // what they are worth now
	makes         []int
	trims         []int
	owed          []int // panels that the cloth taken up must give to other pillowcases
}

// near finds the bodies that cloth taken up could serve.
func (d *mend) near(t *taken) *nearby {
	bodies := make([]bool, len(d.m.groups))
	var others []int
	for g, in := range t.groups {
		if !in {
			continue
		}
		bodies[g] = true
		for _, b := range d.touch[g] {
			if !slices.Contains(others, b) {
				others = append(others, b)
			}
		}
	}
	d.rng.Shuffle(len(others), func(i, j int) { others[i], others[j] = others[j], others[i] })
	for _, b := range others[:min(len(others), mostBodies<<d.rng.IntN(4))] {
		bodies[b] = true
	}
	return d.around(t, bodies)
}

// around gives what is to be known of these bodies when cloth is taken up.
func (d *mend) around(t *taken, bodies []bool) *nearby {
	m := d.m
	n := &nearby{bodies: bodies, usedElsewhere: slices.Clone(d.used), lie: slices.Clone(t.lie), wanted: make([]int64, len(m.quotas))}
	for q := range n.wanted {
		n.wanted[q] = m.quotas[q].wanted - d.quota[q]
	}
	for b, in := range n.bodies {
		if !in {
			continue
		}
		n.makes, n.trims = append(n.makes, d.makesOf[b]...), append(n.trims, d.trimsOf[b]...)
	}
	for _, i := range n.makes {
		mk := &m.makes[i]
		n.wanted[mk.quota] += d.made[i]
		n.value += d.made[i] * m.quotas[mk.quota].weight
		for _, u := range mk.uses {
			n.usedElsewhere[u.row] -= d.made[i] * u.count
		}
	}
	for _, t := range n.trims {
		for k, r := range m.trims[t].rows {
			n.usedElsewhere[r] -= d.trims[t][k] * m.trims[t].count
		}
	}
	for r, k := range n.usedElsewhere {
		if n.lie[r] -= k; n.lie[r]+m.supply[r].given < 0 {
			n.owed = append(n.owed, r)
		}
	}
	return n
}

// reach finds which of the pillowcases nearby can be sewn from panels that lie cut and those
// that open groups can give.
func (n *nearby) reach(m *model, lie []int64, open []bool) *reach {
	can := func(row int, count int64) bool {
		s := &m.supply[row]
		return s.given+lie[row] >= count || open != nil && open[s.group]
	}
	r := &reach{makes: make([]bool, len(m.makes)), choices: make([][]int, len(m.trims))}
	for _, t := range n.trims {
		tr := &m.trims[t]
		for k, row := range tr.rows {
			if can(row, tr.count) {
				r.choices[t] = append(r.choices[t], k)
			}
		}
	}
	for _, i := range n.makes {
		mk := &m.makes[i]
		ok := n.wanted[mk.quota] > 0
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

// most gives what the pillowcases nearby can be worth at most, by the prices that prove the
// bound: most moves are hopeless, and this is found without a programme.
func (d *mend) most(t *taken, n *nearby) float64 {
	m, p := d.m, d.s.proof
	var sum int64
	for _, l := range t.loose {
		sum += d.best[l.stock] * int64(l.pieces)
	}
	rows := map[int]bool{}
	cheapest := map[int]int64{}
	for _, i := range n.trims {
		cheapest[i] = m.cheapest(i, p)
		for _, r := range m.trims[i].rows {
			rows[r] = true
		}
	}
	best := make([]int64, len(m.quotas))
	for _, i := range n.makes {
		mk := &m.makes[i]
		rest := m.quotas[mk.quota].weight * m.unit
		for _, u := range mk.uses {
			rest -= p[u.row] * u.count
			rows[u.row] = true
		}
		for _, k := range mk.trims {
			rest -= cheapest[k]
		}
		best[mk.quota] = max(best[mk.quota], rest)
	}
	for q, b := range best {
		sum += b * n.wanted[q]
	}
	for _, r := range n.owed {
		rows[r] = true
	}
	for r := range rows {
		sum += p[r] * (n.lie[r] + m.supply[r].given)
	}
	return float64(sum) / float64(m.unit)
}

// sew takes over what is sewn of the bodies nearby.
func (d *mend) sew(n *nearby, sewn *sewing) {
	copy(d.used, n.usedElsewhere)
	for r, k := range d.m.needs(sewn) {
		d.used[r] += k
	}
	for b, in := range n.bodies {
		if !in {
			continue
		}
		for _, i := range d.makesOf[b] {
			d.quota[d.m.makes[i].quota] += sewn.made[i] - d.made[i]
			d.made[i] = sewn.made[i]
		}
		for _, t := range d.trimsOf[b] {
			d.trims[t] = sewn.trims[t]
		}
	}
	d.value += sewn.value - n.value
}
