package planning

import "slices"

// A dive that has come to nothing may go back to the strip that it settled last and do without
// it, a few times: what it has priced by then serves again.

// turns is how many times a hunt's dive may turn back: of few pieces others are soon taken up.
func (m *model) turns() int {
	if m.count() <= mostTable {
		return 4
	}
	return 12
}

// turn is where a dive settled a strip, and how its units stood before.
type turn struct {
	candidate
	before []stand
	bans   int
}

// stand is what is settled of a unit.
type stand struct {
	begun []*strip
	left  int32
}

// ban says of a unit that its pattern holds not all of these strips; they are in order.
type ban struct {
	unit   *unit
	strips []*strip
}

func (ms *master) mark(c candidate) turn {
	t := turn{candidate: c, bans: len(ms.bans)}
	for _, u := range ms.units {
		t.before = append(t.before, stand{u.begun, u.left})
	}
	return t
}

// turnBack undoes the last turn, without its strip this time, and gives the turns before it.
func (ms *master) turnBack(turns []turn) []turn {
	t := turns[len(turns)-1]
	for i, u := range ms.units {
		u.begun, u.left = t.before[i].begun, t.before[i].left
	}
	ms.bans = append(ms.bans[:t.bans], ban{t.unit, inOrder(append(slices.Clone(t.unit.begun), t.strip))})
	for _, u := range ms.units {
		least := 0
		if len(u.begun) > 0 {
			least = u.pieces
		}
		ms.lp.SetRowBounds(u.row, float64(least), float64(u.pieces))
		for _, c := range u.cols {
			most := 0.0
			if contains(c.strips, u.begun) && !ms.banned(u, c.strips) {
				most = float64(u.pieces + 1)
			}
			ms.lp.SetBounds(c.v, 0, most)
		}
	}
	return turns[:len(turns)-1]
}

// banned says whether a unit is to do without such a pattern.
func (ms *master) banned(u *unit, strips []*strip) bool {
	if len(ms.bans) == 0 {
		return false
	}
	strips = inOrder(strips)
	for _, b := range ms.bans {
		if b.unit == u && contains(strips, b.strips) {
			return true
		}
	}
	return false
}
