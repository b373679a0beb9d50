package planning

// reliable is how many times a half must have been seen to be believed, at a table and of more
// pieces, where a try takes longer and fewer can be afforded.
const reliable, reliableOfMany = 30, 8

// history is what parting by a quantity has lost, each half for the share of one it was moved.
type history struct{ down, up, downs, ups float64 }

// reliable says whether parting by a quantity has been seen often enough.
func (m *model) reliable(h *history) bool {
	least := float64(reliable)
	if m.count() > mostTable {
		least = reliableOfMany
	}
	return h.downs >= least && h.ups >= least
}

func (l limit) key() [3]int { return [3]int{int(l.of), l.i, l.k} }

// leastMove is the share that a half must be moved for what it loses to say anything.
const leastMove = 1e-4

// moves gives how far each half moves a quantity.
func (c *quantity) moves() (below, over float64) {
	part := c.part() + c.moved/c.batch
	return max(part, 0), max(1-part, 0)
}

// learn notes what the halves of a quantity have lost.
func (t *tree) learn(c quantity, down, up float64) {
	h := t.history[c.key()]
	if h == nil {
		h = &history{}
		t.history[c.key()] = h
	}
	below, over := c.moves()
	for _, h := range []*history{h, &t.usual} {
		if below > leastMove {
			h.down, h.downs = h.down+down/below, h.downs+1
		}
		if over > leastMove {
			h.up, h.ups = h.up+up/over, h.ups+1
		}
	}
}

// expected scores a quantity by what it has lost before, or what all have on average.
func (t *tree) expected(c quantity, room float64) float64 {
	h := t.history[c.key()]
	if h == nil || h.downs == 0 || h.ups == 0 {
		h = &t.usual
	}
	below, over := c.moves()
	return scoreOf(h.down/h.downs*below, h.up/h.ups*over, room)
}

// scoreOf weighs what the halves lose; more than ends a half counts no more than that.
func scoreOf(down, up, room float64) float64 {
	most := room + 0.5
	return max(min(down, most), 1e-4) * max(min(up, most), 1e-4)
}
