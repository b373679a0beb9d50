package planning

// mostTable is how many pieces a drive at a kitchen table has: plans for these close more often
// than not.
const mostTable = 45

// far is by how much of itself the bound is above a plan that is worth more work.
const far = 0.005

// mostEffort is what a plan gets, of more pieces than a table has, that stays far below the bound:
// up to fifteen seconds on two cores. Very many pieces have more as it is.
const mostEffort = 10_000

// mostBolts is what a plan gets besides, at most, where pieces are bolts.
const mostBolts = 3000

// defaultEffort ends a plan of a table within two seconds, one of a hundred pieces within five,
// larger ones within two to five on two cores; more is for a plan of those that is then still far
// below the bound.
func (m *model) defaultEffort() (usual, more int64) {
	n, units := int64(m.count()), int64(len(m.stock))
	switch {
	case units > mostUnits || m.many():
		usual = 800 + min(units, 1200)*7/5 + units/15
		if strips := m.strips(); strips >= longPiece*n {
			usual += min(strips, mostBolts) // a programme of bolts takes longer than one of remnants
		}
		return usual, max(mostEffort-usual, 0)
	case n <= mostTable:
		return 1500, 0
	case n < 75:
		usual = 3500
	case n < 200:
		usual = 2500
	default:
		usual = 2000
	}
	return usual, mostEffort - usual
}

// count gives the number of pieces.
func (m *model) count() int {
	n := 0
	for _, s := range m.stock {
		n += len(s.pieces)
	}
	return n
}
