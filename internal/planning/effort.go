package planning

// mostTable is how many pieces a drive at a kitchen table has: plans for these close more often
// than not.
const mostTable = 45

// far is by how much of itself the bound is above a plan that is worth more work.
const far = 0.005

// defaultEffort ends a usual drive within about two seconds, one of a hundred pieces within
// five; more is for hundreds of pieces whose plan is then still far below the bound.
func (m *model) defaultEffort() (usual, more int64) {
	switch n := m.count(); {
	case len(m.stock) > mostUnits || m.many():
		usual = 700 + int64(len(m.stock))/10
		return usual, max(5000-usual, 0)
	case n > mostTable && n < 200:
		return 2000, 0
	case n <= mostTable:
		return 1500, 0
	}
	return 400, 0
}

// count gives the number of pieces.
func (m *model) count() int {
	n := 0
	for _, s := range m.stock {
		n += len(s.pieces)
	}
	return n
}
