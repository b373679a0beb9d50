package planning

import "slices"

// choose picks pieces to take up: one where much is lost, then others of groups that meet its
// panels, those that lose more sooner.
func (h *hunt) choose() []int { return h.pick(h.size()) }

// pick picks so many pieces, or all where there are fewer.
func (h *hunt) pick(n int) []int {
	n = min(n, len(h.stock))
	loss := h.losses()
	if h.rng.IntN(2) == 0 {
		for i := range loss {
			loss[i] = 1
		}
	}
	seed := h.draw(loss, nil)
	near := map[int]bool{}
	for _, g := range h.related[h.m.stock[h.stock[seed]].group] {
		near[g] = true
	}
	free := []int{seed}
	loss[seed] = 0
	for len(free) < n {
		i := h.draw(loss, near)
		if i < 0 {
			i = h.draw(loss, nil)
		}
		if i < 0 {
			break
		}
		free = append(free, i)
		loss[i] = 0
	}
	slices.Sort(free)
	return free
}

// size draws how many pieces are taken up: mostly few, for many of them cost more and mostly come
// out as they were, but what is best for few may be far from best for more. Less cloth is found
// among a few pieces.
func (h *hunt) size() int {
	if h.thrift != nil {
		return h.rng.IntN(int(h.width)) + 2
	}
	return h.rng.IntN(4<<h.rng.IntN(3)) + 3
}

// draw picks a piece with a chance in proportion to its weight, of groups near only where given.
func (h *hunt) draw(weight []float64, near map[int]bool) int {
	var sum float64
	for i, w := range weight {
		if near == nil || near[h.m.stock[h.stock[i]].group] {
			sum += w
		}
	}
	at := h.rng.Float64() * sum
	last := -1
	for i, w := range weight {
		if w > 0 && (near == nil || near[h.m.stock[h.stock[i]].group]) {
			last = i
			if at -= float64(w); at < 0 {
				return i
			}
		}
	}
	return last
}

// losses tells for each piece how far its cut stays behind the best at the prices that prove
// the bound: what all lose together is what the plan lacks of the bound. Panels that nothing is
// sewn from are a loss of the pieces they are cut from.
func (h *hunt) losses() []float64 {
	unit := float64(h.m.unit)
	spare := make([]float64, len(h.m.supply))
	for r := range spare {
		if h.lie[r] > 0 {
			spare[r] = float64(h.lie[r]+h.m.supply[r].given-h.need[r]) / float64(h.lie[r]) * float64(h.prices[r])
		}
	}
	out := make([]float64, len(h.stock))
	for i, st := range h.stock {
		loss := float64(h.best[st])
		for _, strip := range h.cut[i] {
			for _, n := range strip.counts {
				loss -= (float64(h.prices[n.row]) - spare[n.row]) * float64(n.n)
			}
		}
		out[i] = max(loss/unit, 0) + 0.02
	}
	return out
}

// price reads what each stock could hold at the prices that prove the bound.
func (h *hunt) price() {
	h.prices = slices.Clone(h.s.proof)
	h.m.fabricSide(h.prices)
	h.best = make([]int64, len(h.m.stock))
	for i, st := range h.m.stock {
		h.best[i] = h.m.groups[st.group].prog.Best(st.point, st.width)
	}
}
