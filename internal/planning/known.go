package planning

import "slices"

// known is every pattern that a lane has come across, by stock: those of the relaxation, those that
// trees have priced, and those that dives ended with. Dives begin with the first alone.
type known struct {
	m     *model
	ms    *master // whose strips they are of
	of    [][]*column
	count int
	told  []int // of each stock, how many of them another lane has
}

func newKnown(m *model, strips []map[string]*strip, pool [][]*column) *known {
	k := &known{m: m, ms: &master{m: m, strips: strips, counts: make([]int64, len(m.supply))}, told: make([]int, len(pool))}
	for _, list := range pool {
		k.of = append(k.of, slices.Clone(list))
		k.count += len(list)
	}
	return k
}

// add takes a pattern of a stock, unless it is known.
func (k *known) add(stock int, strips []*strip) {
	strips = inOrder(strips)
	had := func(c *column) bool { return sameStrips(c.strips, strips) }
	if len(strips) > 0 && !slices.ContainsFunc(k.of[stock], had) {
		k.of[stock] = append(k.of[stock], &column{strips: strips, counts: k.ms.sum(strips)})
		k.count++
	}
}

// take adds the patterns that a tree has priced since it was last asked.
func (k *known) take(t *tree) {
	for _, u := range t.ms.units {
		for _, c := range u.cols[u.told:] {
			k.add(u.stock, k.ms.adopted(u.group, c.strips))
		}
		u.told = len(u.cols)
	}
}

// share adds what another lane has come to know since it was last asked.
func (k *known) share(o *known) {
	for i, list := range o.of {
		for _, c := range list[o.told[i]:] {
			k.add(i, k.ms.adopted(k.m.stock[i].group, c.strips))
		}
		o.told[i] = len(list)
	}
}

// best gives the patterns of a stock that no other known one covers.
func (k *known) best(stock int) []*column {
	list := k.of[stock]
	var out []*column
	for i, c := range list {
		covered := false
		for j, o := range list {
			covered = covered || j != i && covers(o.counts, c.counts) && (j < i || !covers(c.counts, o.counts))
		}
		if !covered {
			out = append(out, c)
		}
	}
	return out
}

// covers says whether a pattern gives at least as many of every panel as another.
func covers(a, b []count) bool {
	for _, n := range b {
		at := slices.IndexFunc(a, func(o count) bool { return o.row == n.row })
		if at < 0 || a[at].n < n.n {
			return false
		}
	}
	return true
}
