package planning

import (
	"cmp"
	"math"
	"slices"

	"boltward/internal/cutting"
)

// The relaxation mixes patterns, so a group may seem to give whole numbers of panels that no
// patterns of its pieces give together. Where that is so, the numbers are lowered as far as
// they stay impossible, and every plan has less of one of them: another way to part a node,
// which limits only what is used and leaves pricing as it is.

// gives answers what the pieces of one group can give, and remembers it.
type gives struct {
	rows   []int // supply rows of the group
	counts *cutting.Counts
	sheets []cutting.Sheet
	stock  []int    // of each sheet
	can    []answer // what was found, the last first
	cannot [][]int
	unsure [][]int // what took too long to find out
}

type answer struct {
	panels   []int
	patterns []cutting.Pattern
	is       cutting.Answer
}

// mostSpare is how much more the pieces of a group at a table could cover than panels of which it is
// asked whether they can be cut, where these are many.
const mostSpare = 0.1

// mostSheets is how many pieces of a group are looked at together.
const mostSheets = 24

func newGives(m *model, g int) *gives {
	gr := m.groups[g]
	b := &gives{}
	at := map[int]int{}
	var kind []int
	for r := range m.supply {
		if m.supply[r].group == g {
			at[r] = len(b.rows)
			b.rows = append(b.rows, r)
		}
	}
	for _, r := range gr.row {
		kind = append(kind, at[r])
	}
	b.counts = cutting.NewCounts(gr.real, kind)
	if m.count() <= mostTable {
		b.counts.MostSpare = mostSpare
	}
	for _, s := range gr.stock {
		for _, p := range m.stock[s].pieces {
			if slices.ContainsFunc(gr.real, func(f cutting.Form) bool { return f.W <= p.width && f.H <= p.length }) {
				b.sheets = append(b.sheets, cutting.Sheet{Width: p.width, Length: p.length})
				b.stock = append(b.stock, s)
			}
		}
	}
	return b
}

// becomePatient allows questions more work, also those given up before.
func (b *gives) becomePatient() {
	b.unsure = nil
	b.counts.MostParts, b.counts.MostWork = 4096, 60_000_000
}

// cut says whether a group's pieces, with what lies cut already, give panels by place in rows; of
// what is taken in batches, whole ones.
func (t *tree) cut(g int, panels []int) answer {
	b := t.givesOf(g)
	need := make([]int, len(panels))
	for i, n := range panels {
		s := &t.s.m.supply[b.rows[i]]
		need[i] = max(int(above(int64(n), max(s.batch, 1))-s.given), 0)
	}
	for i := len(b.can) - 1; i >= 0; i-- {
		if atLeast(b.can[i].panels, need) {
			return b.can[i]
		}
	}
	for i := len(b.cannot) - 1; i >= 0; i-- {
		if atLeast(need, b.cannot[i]) {
			return answer{is: cutting.Cannot}
		}
	}
	if slices.ContainsFunc(b.unsure, func(had []int) bool { return slices.Equal(had, need) }) {
		return answer{panels: need}
	}
	a := answer{panels: need}
	if len(b.sheets) <= mostSheets {
		before := b.counts.Work
		a.patterns, a.is = b.counts.Cut(need, b.sheets)
		t.s.m.assembled += b.counts.Work - before
	}
	switch a.is {
	case cutting.Can:
		b.can = append(b.can, a)
	case cutting.Cannot:
		b.cannot = append(b.cannot, need)
	default:
		b.unsure = append(b.unsure, need)
	}
	return a
}

// atLeast says whether panels has at least as many of each as of.
func atLeast(panels, of []int) bool {
	for i, n := range of {
		if panels[i] < n {
			return false
		}
	}
	return true
}

// tooMuch is a number of panels of one group that cannot be cut together, each row's at least
// what the relaxation uses of it.
type tooMuch struct {
	rows []int
	n    []int64
}

// overdrawn looks for a panel of which a group cannot give what the relaxation uses of it, rounded
// up, along with what the limits ask of others: the node may be narrowed to less of it.
func (t *tree) overdrawn(n *node, used []float64) *tooMuch {
	lo, hi := t.limits(n)
	for g, mixed := range t.mixed() {
		if !mixed || t.s.m.groups[g].loose != nil {
			continue
		}
		b := t.givesOf(g)
		need := make([]int, len(b.rows))
		for i, r := range b.rows {
			need[i] = int(lo[r])
		}
		for i, r := range b.rows {
			up := int(min(math.Ceil(used[r]-1e-4), float64(hi[r])))
			if t.ms.pi[r] < 1e-6 || up <= need[i] {
				continue
			}
			was := need[i]
			need[i] = up
			if t.cut(g, need).is == cutting.Cannot {
				return t.lowered(g, need, lo)
			}
			need[i] = was
		}
	}
	return nil
}

// impossible looks for a group that cannot give what the relaxation uses of it, rounded up, and
// lowers that as far as it stays so. It prefers what leaves the fewest rows to part by.
func (t *tree) impossible(n *node, used []float64) *tooMuch {
	lo, hi := t.limits(n)
	least := math.MaxInt
	var best *tooMuch
	for g, mixed := range t.mixed() {
		if !mixed || t.s.m.groups[g].loose != nil {
			continue
		}
		b := t.givesOf(g)
		need := make([]int, len(b.rows))
		for i, r := range b.rows {
			need[i] = int(max(int64(min(math.Ceil(used[r]-1e-4), float64(hi[r]))), lo[r]))
		}
		if t.cut(g, need).is != cutting.Cannot {
			continue
		}
		if x := t.lowered(g, need, lo); x.open(lo) < least {
			least, best = x.open(lo), x
		}
	}
	return best
}

// limits gives what the limits ask for of each supply, at least and at most. Where pillowcases
// take a thousand panels the programme's own numbers are a little off, and rounded up they may
// be above what the node allows.
func (t *tree) limits(n *node) (lo, hi []int64) {
	lo, hi = make([]int64, len(t.s.m.supply)), make([]int64, len(t.s.m.supply))
	for r := range hi {
		hi[r] = unlimited
	}
	for _, l := range n.limits {
		if l.of == limitUse {
			lo[l.i], hi[l.i] = l.lo, l.hi
		}
	}
	return lo, hi
}

func (t *tree) givesOf(g int) *gives {
	if t.gives[g] == nil {
		t.gives[g] = newGives(t.s.m, g)
		if t.patient {
			t.gives[g].becomePatient()
		}
	}
	return t.gives[g]
}

// mixed says of which groups the relaxation mixes patterns of a piece.
func (t *tree) mixed() []bool {
	out := make([]bool, len(t.s.m.groups))
	for _, u := range t.ms.units {
		out[u.group] = out[u.group] || !t.ms.decided(u)
	}
	return out
}

// open counts the rows of which the limits do not ask for as much already.
func (x *tooMuch) open(lo []int64) int {
	n := 0
	for i, r := range x.rows {
		if lo[r] < x.n[i] {
			n++
		}
	}
	return n
}

// lowered takes panels away, of rows that would have to be parted by first and of the cheaper
// ones of these, as long as what is left cannot be cut.
func (t *tree) lowered(g int, up []int, lo []int64) *tooMuch {
	rows := t.gives[g].rows
	order := make([]int, len(rows))
	for i := range order {
		order[i] = i
	}
	covered := func(i int) bool { return lo[rows[i]] >= int64(up[i]) }
	slices.SortStableFunc(order, func(a, b int) int {
		if covered(a) != covered(b) {
			if covered(a) {
				return 1
			}
			return -1
		}
		return cmp.Compare(t.ms.pi[rows[a]], t.ms.pi[rows[b]])
	})
	for _, i := range order {
		was := up[i]
		if was == 0 {
			continue
		}
		up[i] = 0
		if t.cut(g, up).is == cutting.Cannot {
			continue
		}
		for up[i] = was - 1; up[i] > 0 && t.cut(g, up).is == cutting.Cannot; up[i]-- {
		}
		up[i]++
	}
	x := &tooMuch{}
	for i, n := range up {
		if n > 0 {
			x.rows, x.n = append(x.rows, rows[i]), append(x.n, int64(n))
		}
	}
	return x
}

// part parts a node by what cannot be cut together, and gives the nodes in which plans may lie.
func (t *tree) part(n *node, x *tooMuch) []*node {
	var out []*node
	for i, r := range x.rows {
		l := limit{of: limitUse, i: r, hi: unlimited}
		for _, had := range n.limits {
			if had.same(l) {
				l = had
			}
		}
		if l.lo >= x.n[i] {
			continue
		}
		out = append(out, t.halve(n, l, x.n[i]-1))
		n.from, n = nil, n.high
	}
	n.cannot, n.bound, n.from = x, math.MinInt64, nil
	t.done = append(t.done, n)
	return out
}

// halve parts a node: at most at of a quantity, which is given back, or more.
func (t *tree) halve(n *node, l limit, at int64) *node {
	low, high, batch := l, l, t.batch(l)
	low.hi, high.lo = at/batch*batch, above(at+1, batch)
	n.split, n.at = l, at
	n.low = &node{limits: with(n.limits, low), bound: n.bound, proof: n.proof, from: n.from}
	n.high = &node{limits: with(n.limits, high), bound: n.bound, proof: n.proof, from: n.from}
	return n.low
}

// wholeCuts cuts what the relaxation uses where that is whole: a plan as good as the node's
// bound. ok is false where some group cannot give it or it is not known.
func (t *tree) wholeCuts(used []float64) (cuts [][]cutPattern, ok bool) {
	m := t.s.m
	mixed := t.mixed()
	cuts = t.ms.cuts() // of the groups that are whole
	for _, g := range m.stocked() {
		if !mixed[g] {
			continue
		}
		for _, s := range m.groups[g].stock {
			cuts[s] = nil
		}
		b := t.givesOf(g)
		if m.groups[g].loose != nil {
			return nil, false // pieces of one stock differ here
		}
		panels := make([]int, len(b.rows))
		for i, r := range b.rows {
			panels[i] = int(math.Ceil(used[r] - 1e-4))
		}
		a := t.cut(g, panels)
		if a.is != cutting.Can {
			return nil, false
		}
		for i, p := range a.patterns {
			if len(p) == 0 {
				continue
			}
			var strips []*strip
			for _, s := range p {
				strips = append(strips, t.ms.intern(g, s))
			}
			cuts[b.stock[i]] = append(cuts[b.stock[i]], cutPattern{strips, 1})
		}
	}
	return cuts, true
}
