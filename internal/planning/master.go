package planning

import (
	"slices"

	"boltward/internal/cutting"
	"boltward/internal/planning/lp"
)

// nudge lets every supply be short by about a millionth of a panel, each by a little
// different amount, so that the programme is not degenerate at its start, where nothing is
// cut yet. Bounds come from the prices alone, so this bends no proof.
const nudge = 1e-6

// master is the linear programme over the patterns known so far:
//
//	unit rows     Σ_p x[u,p] ≤ pieces of u
//	supply rows   Σ count·x − Σ use·y − Σ use·z ≥ −given
//	trim rows     Σ y − Σ z = 0
//	quota rows    Σ y ≤ wanted
type master struct {
	m        *model
	lp       *lp.Solver
	supplyAt []int // programme rows
	trimAt   []int
	quotaAt  []int
	y        []int   // variables by making
	z        [][]int // variables by trimming and choice
	units    []*unit
	cols     []*column // by variable, nil for others
	strips   []map[string]*strip
	pi       []float64
	price    prices
	counts   []int64
	entries  []lp.Entry // room for one column
	key      []byte
	scale    float64
	smooth   int64 // eighths of the best prices so far that new prices are mixed with
	weight   func(q int) int64
	gain     float64  // what the last prices promised at most
	enough   float64  // generation ends where they promise less
	thrift   *thrift  // what cloth costs, nil where only weight counts
	cut      []int64  // panels that lie cut from pieces outside this master, by supply row
	wanted   []int64  // by quota where others than these makings fill some of it, nil for all that is wanted
	settled  int      // strips that a dive has settled
	chances  int      // how many times a dive may turn back
	ends     int      // strips of a long piece that a dive settles one by one
	bans     []ban    // what it does without since
	footing  *footing // where the basis of the first solve is noted, nil for nowhere
	priceAll func() (added int, fabric int64, whole bool)
	noise    func() float64 // bends what a dive settles first, nil for not at all
}

// unit is a set of pieces that share a row: those of one stock, or a single piece that a dive
// has begun to cut. begun holds the strips settled so far, left what remains of the length.
type unit struct {
	stock  int
	group  int
	pieces int
	row    int
	width  int
	begun  []*strip
	left   int32
	cols   []*column
	told   int // columns that are among the known
	closed bool
}

// strip is one full-width strip of a group, known once.
type strip struct {
	number int // within its group
	layout cutting.Strip
	height int64
	counts []count
}

type count struct {
	row int32
	n   int32
}

// column is a pattern of a unit.
type column struct {
	v      int
	unit   *unit
	strips []*strip
	counts []count
}

// newMaster lays out the programme of a model with one unit for each stock, pieces given by take.
func newMaster(m *model) *master { return newMasterWith(m, make([]int64, len(m.supply)), 1) }

// newMasterWith is newMaster with panels that lie cut already. scale says how large its
// values are: exactness to a millionth would be too much asked of thousands.
func newMasterWith(m *model, cut []int64, scale float64) *master {
	ms := &master{m: m, strips: make([]map[string]*strip, len(m.groups)), cut: cut, scale: scale}
	ms.start(m.everything(), false)
	return ms
}

// newMasterNear is a small master: of the panels that lie cut and the groups that are still
// open it lays out only what these can reach, in the memory of one that is no longer used. Trims
// with one choice left need no row.
func newMasterNear(m *model, lie []int64, open []bool, strips []map[string]*strip, old *master) *master {
	ms := old.renewed(m, lie, strips)
	ms.start(m.reach(lie, open), true)
	return ms
}

// renewed is a master not yet laid out, in the memory of one that is no longer used.
func (old *master) renewed(m *model, lie []int64, strips []map[string]*strip) *master {
	old.lp.Reset()
	return &master{
		m: m, lp: old.lp, strips: strips, cut: lie, scale: 1,
		supplyAt: old.supplyAt, trimAt: old.trimAt, quotaAt: old.quotaAt, y: old.y, z: old.z,
		pi: old.pi, price: old.price, counts: old.counts, entries: old.entries,
		cols: old.cols[:0], units: old.units[:0], key: old.key,
	}
}

// start lays out the rows and what is sewn.
func (ms *master) start(r *reach, near bool) {
	m := ms.m
	if ms.lp == nil {
		ms.lp = lp.New()
		ms.lp.Tol *= ms.scale
	}
	ms.weight, ms.ends = m.weightOf, ends
	ms.priceAll = ms.priceUnitsAll
	ms.supplyAt, ms.trimAt, ms.quotaAt = unset(ms.supplyAt, len(m.supply)), unset(ms.trimAt, len(m.trims)), unset(ms.quotaAt, len(m.quotas))
	ms.y = unset(ms.y, len(m.makes))
	if ms.z == nil {
		ms.z = make([][]int, len(m.trims))
	}
	if !near {
		ms.addRows()
	}
	needed := make([]bool, len(m.trims))
	for i, in := range r.makes {
		if in {
			ms.addMaking(i, r, near)
			for _, t := range m.makes[i].trims {
				needed[t] = true
			}
		}
	}
	for t := range m.trims {
		ms.z[t] = unset(ms.z[t], len(m.trims[t].rows))
		if needed[t] && !(near && len(r.choices[t]) == 1) {
			ms.addTrimming(t, r.choices[t])
		}
	}
	if ms.pi == nil {
		ms.pi, ms.counts = make([]float64, len(m.supply)), make([]int64, len(m.supply))
	}
}

// unset gives n times −1, in the memory of a list that is no longer used.
func unset(old []int, n int) []int {
	old = old[:0]
	for range n {
		old = append(old, -1)
	}
	return old
}

// addRows adds the rows of all supplies, trims and quotas.
func (ms *master) addRows() {
	for r := range ms.m.supply {
		ms.supplyRow(r)
	}
	for t := range ms.m.trims {
		ms.trimRow(t)
	}
	for q := range ms.m.quotas {
		ms.quotaRow(q)
	}
}

func (ms *master) supplyRow(r int) int {
	if ms.supplyAt[r] < 0 {
		low := -float64(ms.m.supply[r].given+ms.cut[r]) - float64(nudge*ms.scale)*(1+float64(r*7919%1009)/1009)
		ms.supplyAt[r] = ms.lp.AddRow(low, 1e7, nil, nil)
	}
	return ms.supplyAt[r]
}

func (ms *master) trimRow(t int) int {
	if ms.trimAt[t] < 0 {
		ms.trimAt[t] = ms.lp.AddRow(0, 0, nil, nil)
	}
	return ms.trimAt[t]
}

func (ms *master) quotaRow(q int) int {
	if ms.quotaAt[q] < 0 {
		most := ms.m.quotas[q].most
		if ms.wanted != nil {
			most = min(most, ms.wanted[q])
		}
		ms.quotaAt[q] = ms.lp.AddRow(0, float64(most), nil, nil)
	}
	return ms.quotaAt[q]
}

func (ms *master) addMaking(i int, r *reach, near bool) {
	mk := &ms.m.makes[i]
	col := ms.entries[:0]
	for _, u := range mk.uses {
		col = addEntry(col, ms.supplyRow(u.row), -float64(u.count))
	}
	for _, t := range mk.trims {
		if tr := &ms.m.trims[t]; near && len(r.choices[t]) == 1 {
			col = addEntry(col, ms.supplyRow(tr.rows[r.choices[t][0]]), -float64(tr.count))
		} else {
			col = addEntry(col, ms.trimRow(t), 1)
		}
	}
	col = addEntry(col, ms.quotaRow(mk.quota), 1)
	q := &ms.m.quotas[mk.quota]
	ms.y[i] = ms.add(float64(q.weight), float64(q.most), col, nil)
	ms.entries = col
}

func (ms *master) addTrimming(t int, choices []int) {
	tr := &ms.m.trims[t]
	for _, k := range choices {
		col := addEntry(ms.entries[:0], ms.supplyRow(tr.rows[k]), -float64(tr.count))
		col = addEntry(col, ms.trimRow(t), -1)
		ms.z[t][k] = ms.add(0, float64(tr.cap), col, nil)
		ms.entries = col
	}
}

// addEntry adds v to a row of a column: a kind may serve two roles of one case.
func addEntry(col []lp.Entry, row int, v float64) []lp.Entry {
	for i := range col {
		if int(col[i].Row) == row {
			col[i].Val += v
			return col
		}
	}
	return append(col, lp.Entry{Row: int32(row), Val: v})
}

func (ms *master) add(cost, hi float64, entries []lp.Entry, c *column) int {
	v := ms.lp.AddColumn(cost, 0, hi, entries)
	for len(ms.cols) <= v {
		ms.cols = append(ms.cols, nil)
	}
	ms.cols[v] = c
	return v
}

// addUnit gives pieces of a stock a row of their own.
func (ms *master) addUnit(stock, pieces int) *unit {
	st := ms.m.stock[stock]
	u := &unit{stock: stock, group: st.group, pieces: pieces, width: st.width, left: st.point}
	u.row = ms.lp.AddRow(0, float64(pieces), nil, nil)
	ms.units = append(ms.units, u)
	return u
}

// addColumn makes a pattern of strips a column of its unit, unless the unit has it. The order of
// strips makes no difference: columns that are the same could share one cut between them, and
// neither would be whole.
func (ms *master) addColumn(u *unit, strips []*strip) *column {
	strips = inOrder(strips)
	for _, c := range u.cols {
		if sameStrips(c.strips, strips) {
			return nil
		}
	}
	return ms.addNew(u, strips, ms.sum(strips))
}

// addNew makes a pattern that its unit has not yet a column of it; strips are in order.
func (ms *master) addNew(u *unit, strips []*strip, counts []count) *column {
	c := &column{unit: u, strips: strips, counts: counts}
	col := append(ms.entries[:0], lp.Entry{Row: int32(u.row), Val: 1})
	for _, n := range c.counts {
		if row := ms.supplyAt[n.row]; row >= 0 {
			col = append(col, lp.Entry{Row: int32(row), Val: float64(n.n)})
		}
	}
	c.v = ms.add(-ms.thrift.cost(u, strips), float64(u.pieces+1), col, c)
	u.cols = append(u.cols, c)
	ms.entries = col
	return c
}

// inOrder gives strips in the order of their numbers.
func inOrder(strips []*strip) []*strip {
	byNumber := func(a, b *strip) int { return a.number - b.number }
	if slices.IsSortedFunc(strips, byNumber) {
		return strips
	}
	strips = slices.Clone(strips)
	slices.SortFunc(strips, byNumber)
	return strips
}

func sameStrips(a, b []*strip) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// sum adds the counts of strips up, in order of rows.
func (ms *master) sum(strips []*strip) []count {
	var out []count
	for _, s := range strips {
		for _, n := range s.counts {
			ms.counts[n.row] += int64(n.n)
		}
	}
	for _, s := range strips {
		for _, n := range s.counts {
			if k := ms.counts[n.row]; k != 0 {
				out = append(out, count{n.row, int32(k)})
				ms.counts[n.row] = 0
			}
		}
	}
	return out
}

// intern gives the one strip of a group with this layout.
func (ms *master) intern(g int, s cutting.Strip) *strip {
	ms.key = ms.key[:0]
	for _, c := range s {
		for _, f := range c {
			ms.key = append(ms.key, byte(f))
		}
		ms.key = append(ms.key, 255)
	}
	if ms.strips[g] == nil {
		ms.strips[g] = map[string]*strip{}
	}
	if known := ms.strips[g][string(ms.key)]; known != nil {
		return known
	}
	gr := ms.m.groups[g]
	st := &strip{number: len(ms.strips[g]), layout: s, height: s.Height(gr.forms)}
	rows := map[int]int32{}
	var order []int
	for _, c := range s {
		for _, f := range c {
			r := gr.row[f]
			if rows[r] == 0 {
				order = append(order, r)
			}
			rows[r]++
		}
	}
	for _, r := range order {
		st.counts = append(st.counts, count{int32(r), rows[r]})
	}
	ms.strips[g][string(ms.key)] = st
	return st
}

// best rebuilds the strips of the best pattern for a unit from its group's last run.
func (ms *master) best(u *unit) []*strip {
	strips := append([]*strip(nil), u.begun...)
	for _, s := range ms.m.groups[u.group].prog.Pattern(u.left, u.width) {
		strips = append(strips, ms.intern(u.group, s))
	}
	return strips
}

// takePrices reads the prices of the supply rows after a solve.
func (ms *master) takePrices() {
	for r := range ms.pi {
		ms.pi[r] = 0
		if row := ms.supplyAt[r]; row >= 0 {
			ms.pi[r] = -ms.lp.Dual(row)
		}
	}
	ms.price = ms.m.toPrices(ms.pi, ms.price)
}
