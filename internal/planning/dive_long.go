package planning

import (
	"cmp"
	"math"
	"slices"
)

// A bolt holds a hundred strips, of which a solution mixes two or three patterns. Settled one at a
// time they would take more work than there is, for every strip is priced anew over all that is left
// of the bolt, and a dive that is not over is no plan. So most of a long piece is settled at once,
// each strip as many times as the mixture has it; only its end is settled strip by strip, which is
// enough to make up for what did not come out whole.

// ends is how many of the highest strips a dive leaves of a long piece to settle one by one. The
// second lane of a large drive leaves half of that, for where both took up the same pieces they
// would do the same work twice.
const ends = 6

// settleLong settles most of every single piece that is still longer than two ends, and says
// whether there was any.
func (ms *master) settleLong() bool {
	some := false
	for _, u := range ms.units {
		if u.closed || u.pieces > 1 {
			continue
		}
		if strips := ms.mixture(u); len(strips) > 0 {
			ms.settled += len(strips)
			ms.begin(u, strips)
			some = true
		}
	}
	return some
}

// mixture gives the strips that the present solution cuts from a long piece on the average of its
// patterns, but for an end. What is cut of it is less where the solution does not use it up.
func (ms *master) mixture(u *unit) []*strip {
	gr := ms.m.groups[u.group]
	end := int64(ms.ends) * gr.highest()
	if gr.prog.Length(u.left) < 2*end {
		return nil
	}
	var order []*strip
	share := map[*strip]float64{}
	var height float64
	for _, c := range u.cols {
		x := ms.lp.Value(c.v)
		if x < whole || !contains(c.strips, u.begun) {
			continue
		}
		for _, s := range beyond(c.strips, u.begun) {
			if _, known := share[s]; !known {
				order = append(order, s)
			}
			share[s] += x
			height += float64(x * float64(s.height))
		}
	}
	room := int64(height) - end
	if room <= 0 {
		return nil
	}
	part := float64(room) / height
	var out []*strip
	for _, s := range order {
		n := math.Floor(float64(share[s]*part) + whole)
		share[s] = float64(share[s]*part) - n
		for range int(n) {
			out = append(out, s)
			room -= s.height
		}
	}
	// What is nearest to one more comes first.
	slices.SortStableFunc(order, func(a, b *strip) int { return cmp.Compare(share[b], share[a]) })
	for _, s := range order {
		if share[s] > whole && s.height <= room {
			out = append(out, s)
			room -= s.height
		}
	}
	return out
}
