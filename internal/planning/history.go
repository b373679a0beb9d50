package planning

// reliable is how many times a half must have been seen to be believed.
const reliable = 8

// history is what parting by a quantity has lost, each half for the share of one it was moved.
type history struct{ down, up, downs, ups float64 }

func (h *history) reliable() bool { return h.downs >= reliable && h.ups >= reliable }

func (l limit) key() [3]int { return [3]int{int(l.of), l.i, l.k} }

// learn notes what the halves of a quantity have lost.
func (t *tree) learn(c quantity, down, up float64) {
	h := t.history[c.key()]
	if h == nil {
		h = &history{}
		t.history[c.key()] = h
	}
	part := c.part()
	for _, h := range []*history{h, &t.usual} {
		h.down, h.downs = h.down+down/part, h.downs+1
		h.up, h.ups = h.up+up/(1-part), h.ups+1
	}
}

// expected scores a quantity by what it has lost before, or what all have on average.
func (t *tree) expected(c quantity, room float64) float64 {
	h := t.history[c.key()]
	if h == nil {
		h = &t.usual
	}
	part := c.part()
	return scoreOf(h.down/h.downs*part, h.up/h.ups*(1-part), room)
}

// scoreOf weighs what the halves lose; more than ends a half counts no more than that.
func scoreOf(down, up, room float64) float64 {
	most := room + 0.5
	return max(min(down, most), 1e-4) * max(min(up, most), 1e-4)
}
