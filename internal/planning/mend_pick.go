package planning

import "slices"

// taken is the cloth that a move takes up.
type taken struct {
	groups []bool // that cloth is taken from
	loose  []loose
	stocks []int
	rest   map[int][]cutPattern // what stays of a stock's cuts
	lie    []int64              // panels of all that stays
}

// loose are pieces of a stock, alike in the strips that are kept.
type loose struct {
	stock  int
	pieces int
	room   int64 // how much of the length they may be cut anew on, beyond the strips kept; 0 for all
	kept   []*strip
	was    []cutPattern
}

// pick takes up cloth of a group where much is lost, and of groups that meet its panels.
func (d *mend) pick() *taken {
	t := &taken{groups: make([]bool, len(d.m.groups)), rest: map[int][]cutPattern{}, lie: slices.Clone(d.lie)}
	if len(d.groups) == 0 {
		return t
	}
	strips := 2 + d.rng.IntN(int(d.strips))
	seed := d.drawGroup(d.groups, d.rng.IntN(2) == 0)
	near := []int{seed}
	for _, g := range d.s.near()[seed] {
		if g != seed && len(d.m.groups[g].stock) > 0 {
			near = append(near, g)
		}
	}
	if wide := 1 + d.rng.IntN(6); len(near) > wide {
		d.rng.Shuffle(len(near)-1, func(i, j int) { near[i+1], near[j+1] = near[j+1], near[i+1] })
		near = near[:wide+1]
	}
	t.groups[seed] = true
	for tries := 0; strips > 0 && tries < 60; tries++ {
		g := seed
		if tries > 0 {
			g = d.drawGroup(near, d.rng.IntN(3) == 0)
		}
		list := d.m.groups[g].stock
		strips -= d.takeUp(t, list[d.rng.IntN(len(list))])
		t.groups[g] = true
	}
	return t
}

// drawGroup draws one of some groups, with a chance in proportion to what they lose if so asked.
func (d *mend) drawGroup(groups []int, byLoss bool) int {
	var sum float64
	for _, g := range groups {
		sum += d.losses[g]
	}
	if !byLoss || sum < 1e-9 {
		return groups[d.rng.IntN(len(groups))]
	}
	at := d.rng.Float64() * sum
	for _, g := range groups {
		if at -= float64(d.losses[g]); at < 0 {
			return g
		}
	}
	return groups[len(groups)-1]
}

// takeUp takes up one piece of a stock, or some strips of it where it is long, and gives how
// many strips that is.
func (d *mend) takeUp(t *taken, i int) int {
	rest, begun := t.rest[i]
	if !begun {
		rest = slices.Clone(d.cuts[i])
		t.stocks = append(t.stocks, i)
	}
	idle := len(d.m.stock[i].pieces)
	for _, c := range rest {
		idle -= c.pieces
	}
	for _, l := range t.loose {
		if l.stock == i {
			idle -= l.pieces
		}
	}
	t.rest[i] = rest
	if idle+len(rest) == 0 {
		return 1
	}
	k := d.rng.IntN(min(idle, 2) + len(rest))
	st := d.m.stock[i]
	highest := d.m.groups[st.group].highest()
	long := d.m.groups[st.group].prog.Length(st.point) >= longPiece*highest
	if k >= len(rest) {
		l := loose{stock: i, pieces: 1}
		if long {
			l.room = 4 * highest
		}
		t.add(l)
		return 3
	}
	c := cutPattern{rest[k].strips, 1}
	if rest[k].pieces--; rest[k].pieces == 0 {
		t.rest[i] = slices.Delete(rest, k, k+1)
	}
	for _, st := range c.strips {
		for _, n := range st.counts {
			t.lie[n.row] -= int64(n.n)
		}
	}
	l := loose{stock: i, pieces: 1, was: []cutPattern{c}}
	n := len(c.strips)
	if long {
		n = min(n, 3+d.rng.IntN(longPiece-3))
		l.kept = slices.Clone(c.strips)
		d.rng.Shuffle(len(l.kept), func(a, b int) { l.kept[a], l.kept[b] = l.kept[b], l.kept[a] })
		for _, s := range l.kept[:n] {
			l.room += s.height
		}
		l.room += 2 * highest
		l.kept = l.kept[n:]
	}
	t.add(l)
	return n
}

// add puts pieces of a stock together that nothing is kept of.
func (t *taken) add(l loose) {
	if len(l.kept) == 0 && l.room == 0 {
		for k := range t.loose {
			if o := &t.loose[k]; o.stock == l.stock && len(o.kept) == 0 && o.room == 0 {
				o.pieces += l.pieces
				o.was = append(o.was, l.was...)
				return
			}
		}
	}
	t.loose = append(t.loose, l)
}
