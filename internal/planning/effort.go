package planning

// mostTable is how many pieces a drive at a kitchen table has: plans for these close more often
// than not.
const mostTable = 45

// far is by how much of itself the bound is above a plan that is worth more work.
const far = 0.005

// defaultEffort ends a plan of a table within two seconds, one of a hundred pieces within five,
// larger ones within two to five on two cores; more is for hundreds of pieces whose plan is then
// still far below the bound.
func (m *model) defaultEffort() (usual, more int64) {
	n, units := int64(m.count()), int64(len(m.stock))
	switch {
	case units > mostUnits || m.many():
		usual = 800 + min(units, 1200)*7/5 + units/15
		return usual, max(10_000-usual, 0)
	case n <= mostTable:
		return 1500, 0
	case n < 75:
		return 3500, 0
	case n < 200:
		return 2500, 0
	}
	return 2000, 0
}

// count gives the number of pieces.
func (m *model) count() int {
	n := 0
	for _, s := range m.stock {
		n += len(s.pieces)
	}
	return n
}
