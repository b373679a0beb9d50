package planning

import "math"

// Where every pillowcase that takes a kind of panel takes two of it, as bodies of front and back
// do, a group's use of it is even in every plan: an odd number needs no more than the even one
// below it. The relaxation knows nothing of that, so parting goes by whole batches.

// takeBatches finds for every supply how many panels of it are always taken together.
func (m *model) takeBatches() {
	take := func(row int, count int64) {
		s := &m.supply[row]
		s.batch = commonFactor(s.batch, count)
	}
	for i := range m.makes {
		for _, u := range m.makes[i].uses {
			take(u.row, u.count)
		}
		for _, t := range m.makes[i].trims {
			for _, r := range m.trims[t].rows {
				take(r, m.trims[t].count)
			}
		}
	}
}

// commonFactor gives the greatest number that divides both; 0 is a multiple of everything.
func commonFactor(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// batch gives what a quantity is always a multiple of.
func (t *tree) batch(l limit) int64 {
	switch l.of {
	case limitUse:
		return max(t.s.m.supply[l.i].batch, 1)
	case limitSum:
		var b int64
		for range t.sums[l.i].quotas {
			b = 1
		}
		for _, r := range t.sums[l.i].rows {
			b = commonFactor(b, t.s.m.supply[r].batch)
		}
		return max(b, 1)
	}
	return 1
}

// above gives the least whole number of batches that is at least n.
func above(n, batch int64) int64 { return (n + batch - 1) / batch * batch }

// low and high are the nearest that a quantity can be to either side of its value, part how far
// between them that is.
func (c *quantity) low() float64 { return math.Floor(c.x/c.batch) * c.batch }

func (c *quantity) high() float64 { return math.Ceil(c.x/c.batch) * c.batch }

func (c *quantity) part() float64 { return c.x/c.batch - math.Floor(c.x/c.batch) }
