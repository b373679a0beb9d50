package planning

import (
	"math"
	"slices"
)

// A dive turns a fractional solution into whole cuts. It settles one full-width strip of one
// piece at a time: what is left of the piece is a shorter piece, which the programme has
// priced already, so columns can still be generated for it. In the master nothing changes but
// bounds: columns that lack a settled strip are closed.

// candidate is a strip that could be settled on a unit; share is how much of the unit the
// present solution cuts that way.
type candidate struct {
	unit  *unit
	strip *strip
	share float64
}

const whole = 1e-5 // how near to a whole number counts as whole

// dive settles strips until every piece is cut in one way. It reports false when the value
// fell to cutoff or below, turned back as often as it may, or work must stop.
func (ms *master) dive(cutoff float64, stop func() bool) bool {
	ms.settleCopies()
	chances, rounds := ms.chances, 8
	var turns []turn
	for {
		if stop() {
			return false
		}
		value, ok := ms.generate(rounds, cutoff, nil)
		if !ok || value <= cutoff {
			if chances == 0 || len(turns) == 0 {
				return false
			}
			chances--
			turns = ms.turnBack(turns)
			continue
		}
		if rounds = 8; ms.settleLong() {
			rounds = 40 // hardly a pattern known so far holds all that is settled now
			continue
		}
		best := ms.settleShared()
		if best.unit == nil {
			return true
		}
		if chances > 0 {
			turns = append(turns, ms.mark(best))
		}
		ms.settle(best)
	}
}

// settleShared settles every strip that all of a unit's solution shares, which changes
// nothing, and gives the strip that comes nearest to it otherwise.
func (ms *master) settleShared() candidate {
	var best candidate
	bestScore := 0.0
	for _, u := range ms.units {
		if u.closed || u.pieces > 1 && ms.decided(u) {
			continue
		}
		for again := true; again; {
			again = false
			for _, c := range ms.shares(u) {
				if c.share >= 1-whole {
					ms.settle(c)
					again = true
					break
				}
				score := c.share
				if ms.noise != nil {
					score *= 1 + ms.noise()
				}
				if score > bestScore+1e-9 {
					best, bestScore = c, score
				}
			}
		}
	}
	return best
}

// settleCopies settles whole numbers of equal pieces that the solution cuts alike.
func (ms *master) settleCopies() {
	for _, u := range ms.units {
		if u.pieces < 2 {
			continue
		}
		for _, c := range u.cols {
			if n := math.Floor(ms.lp.Value(c.v) + whole); n >= 1 {
				_, hi := ms.lp.Bounds(c.v)
				ms.lp.SetBounds(c.v, n, hi)
			}
		}
	}
}

// shares lists the strips that the present solution cuts from one piece of the unit beyond
// those settled.
func (ms *master) shares(u *unit) []candidate {
	var out []candidate
	for _, c := range u.cols {
		x := ms.lp.Value(c.v)
		if lo, _ := ms.lp.Bounds(c.v); u.pieces > 1 {
			x -= lo
		}
		if x < whole {
			continue
		}
		if !contains(c.strips, u.begun) {
			continue
		}
		rest := beyond(c.strips, u.begun)
		for i, s := range rest {
			if repeated(rest[:i], s) {
				continue
			}
			known := false
			for k := range out {
				if out[k].strip == s {
					out[k].share += x
					known = true
				}
			}
			if !known {
				out = append(out, candidate{u, s, x})
			}
		}
	}
	if u.pieces > 1 {
		for k := range out {
			out[k].share = min(out[k].share, 1-2*whole)
		}
	}
	return out
}

func repeated(list []*strip, s *strip) bool {
	for _, t := range list {
		if t == s {
			return true
		}
	}
	return false
}

// beyond gives the strips of list without those of begun, each taken once. Both are in order
// and list holds all of begun.
func beyond(list, begun []*strip) []*strip {
	rest := make([]*strip, 0, len(list)-len(begun))
	k := 0
	for _, s := range list {
		if k < len(begun) && begun[k] == s {
			k++
			continue
		}
		rest = append(rest, s)
	}
	return rest
}

// contains says whether list holds all of begun; both are in order.
func contains(list, begun []*strip) bool {
	k := 0
	for _, s := range list {
		if k == len(begun) || begun[k].number < s.number {
			break
		}
		if begun[k] == s {
			k++
		}
	}
	return k == len(begun)
}

// decided says whether the unit's solution is whole: nothing, or one column once.
func (ms *master) decided(u *unit) bool {
	for _, c := range u.cols {
		x := ms.lp.Value(c.v)
		if math.Abs(x-math.Round(x)) > whole {
			return false
		}
	}
	return true
}

// settle fixes a strip on one piece.
func (ms *master) settle(c candidate) {
	u := c.unit
	if u.pieces > 1 {
		u = ms.split(u)
	}
	ms.settled++
	ms.begin(u, []*strip{c.strip})
}

// begin fixes strips on a unit.
func (ms *master) begin(u *unit, strips []*strip) {
	prog := ms.m.groups[u.group].prog
	left := prog.Length(u.left)
	for _, st := range strips {
		left -= st.height
	}
	u.begun, u.left = inOrder(append(slices.Clip(u.begun), strips...)), prog.Point(left)
	for _, col := range u.cols {
		if _, hi := ms.lp.Bounds(col.v); hi > 0 && !contains(col.strips, u.begun) {
			ms.lp.SetBounds(col.v, 0, 0)
		}
	}
	ms.addColumn(u, append([]*strip(nil), u.begun...))
	// Such a piece is cut for certain now: a part of a cut would count as a part of its panels.
	ms.lp.SetRowBounds(u.row, float64(u.pieces), float64(u.pieces))
}

// expand parts every unit into single pieces.
func (ms *master) expand() {
	for _, u := range ms.units[:len(ms.units):len(ms.units)] {
		for u.pieces > 1 {
			ms.split(u)
		}
	}
}

// split parts one piece from a unit of several and gives it the unit's columns.
func (ms *master) split(u *unit) *unit {
	n := ms.addUnit(u.stock, 1)
	n.begun, n.left = u.begun, u.left
	u.pieces--
	lo := 0
	if len(u.begun) > 0 {
		lo = u.pieces
		ms.lp.SetRowBounds(n.row, 1, 1)
	}
	ms.lp.SetRowBounds(u.row, float64(lo), float64(u.pieces))
	cols := u.cols
	for _, c := range cols {
		ms.addColumn(n, c.strips)
		lo, hi := ms.lp.Bounds(c.v)
		ms.lp.SetBounds(c.v, lo, max(lo, min(hi, float64(u.pieces))))
	}
	return n
}

// cuts reads the whole solution: for each stock the patterns cut.
func (ms *master) cuts() [][]cutPattern {
	out := make([][]cutPattern, len(ms.m.stock))
	for _, u := range ms.units {
		for _, c := range u.cols {
			if n := int(math.Round(ms.lp.Value(c.v))); n > 0 && len(c.strips) > 0 {
				out[u.stock] = append(out[u.stock], cutPattern{c.strips, n})
			}
		}
	}
	return out
}

// cutsOf reads the solution of some stocks, in their order.
func (ms *master) cutsOf(stocks []int) [][]cutPattern {
	out := make([][]cutPattern, len(stocks))
	for _, u := range ms.units {
		k := slices.Index(stocks, u.stock)
		for _, c := range u.cols {
			if n := int(math.Round(ms.lp.Value(c.v))); n > 0 && len(c.strips) > 0 {
				out[k] = append(out[k], cutPattern{c.strips, n})
			}
		}
	}
	return out
}

// cutPattern is a pattern cut from a number of pieces.
type cutPattern struct {
	strips []*strip
	pieces int
}
