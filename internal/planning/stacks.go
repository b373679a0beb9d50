package planning

import "slices"

// stack is the panels of one kind cut from one piece: what lies on the table as one pile.
// Each kit that takes from it takes a bundle.
type stack struct {
	row   int32
	piece int32 // its layout in the plan
	ids   []string
	left  int32 // not put into a kit yet
}

// table holds everything that lies cut and the kits it goes into. Every kit is a row of
// places, every place a row of slots, one for each panel of a pillowcase; a slot names the
// stack its panel comes from. Panels of one stack are alike, so nothing else matters.
type table struct {
	m      *model
	stacks []stack
	rows   []shelf         // the stacks of each supply row
	names  map[string]bool // of panels of fixed layouts, and of those named beside them
	lines  []line
	bags   []bag
	slots  []int32 // stack of each panel, none where a kit holds one pillowcase less than others of its line
	bagOf  []int32 // kit of each slot
	swaps
}

const none = -1

// line is the pillowcases of one quota and one case.
type line struct {
	quota, spec int
	roles       []lineRole
	wide        int32 // panels of a pillowcase
	bodies      []int32
	first, end  int32 // its bags
}

type lineRole struct {
	name      string
	at, count int32 // slots of a place
}

// bag is one kit to be.
type bag struct {
	line, first, places int32
	short               bool // its last place began empty: one pillowcase less than the others
}

func newTable(m *model) *table {
	t := &table{m: m, rows: make([]shelf, len(m.supply)), names: map[string]bool{}}
	f := m.p.Fixed
	if f == nil {
		return t
	}
	rows := map[[2]int]int{}
	for r, s := range m.supply {
		rows[[2]int{s.group, s.kind}] = r
	}
	groups := map[string]int{}
	for g, gr := range m.groups {
		groups[gr.name] = g
	}
	for _, l := range f.Layouts {
		for _, x := range l.Panels {
			t.names[x.ID] = true
		}
	}
	for _, x := range spare(m.p) {
		if r, ok := rows[[2]int{groups[x.group], m.kindOf(x.kind)}]; ok {
			t.put(r, x.layout, x.id)
		}
	}
	return t
}

// name makes an id that no panel has yet.
func (t *table) name(id string) string {
	if len(t.names) == 0 {
		return id // told apart by fabric, piece and number
	}
	for t.names[id] {
		id += "'"
	}
	t.names[id] = true
	return id
}

// put lays a panel on the table. Panels of one piece must come one after the other.
func (t *table) put(row, piece int, id string) {
	sh := &t.rows[row]
	if n := len(sh.all); n == 0 || t.stacks[sh.all[n-1]].piece != int32(piece) {
		sh.all = append(sh.all, int32(len(t.stacks)))
		t.stacks = append(t.stacks, stack{row: int32(row), piece: int32(piece)})
	}
	st := &t.stacks[sh.all[len(sh.all)-1]]
	st.ids = append(st.ids, id)
	st.left++
}

// shelf is the stacks of one supply row, found by how many panels they have left. A stack is
// noted anew whenever it shrinks; notes that no longer hold are dropped where they are met.
type shelf struct {
	all  []int32
	by   [][]int32
	most int32
}

func (t *table) sortStacks() {
	for r := range t.rows {
		sh := &t.rows[r]
		for _, s := range sh.all {
			sh.most = max(sh.most, t.stacks[s].left)
		}
		sh.by = make([][]int32, sh.most+1)
		for _, s := range slices.Backward(sh.all) {
			sh.note(s, t.stacks[s].left)
		}
	}
}

func (sh *shelf) note(s, left int32) { sh.by[left] = append(sh.by[left], s) }

// holding gives a stack of a row with just so many panels left, or none.
func (t *table) holding(row int, left int32) int32 {
	sh := &t.rows[row]
	if left <= 0 || left > sh.most {
		return none
	}
	list := sh.by[left]
	for len(list) > 0 && t.stacks[list[len(list)-1]].left != left {
		list = list[:len(list)-1]
	}
	if sh.by[left] = list; len(list) == 0 {
		return none
	}
	return list[len(list)-1]
}

// fullest gives the stack of a row with most panels left, or none.
func (t *table) fullest(row int) int32 {
	sh := &t.rows[row]
	for ; sh.most > 0; sh.most-- {
		if s := t.holding(row, sh.most); s != none {
			return s
		}
	}
	return none
}

// fitting gives the stack that serves n panels best: one with just so many left, else the fullest.
func (t *table) fitting(row int, n int32) int32 {
	if s := t.holding(row, n); s != none {
		return s
	}
	return t.fullest(row)
}

// nearest gives a stack with at most n panels left, as many as there are, or none.
func (t *table) nearest(row int, n int32) int32 {
	for n = min(n, t.rows[row].most); n > 0; n-- {
		if s := t.holding(row, n); s != none {
			return s
		}
	}
	return none
}

// take takes up to n panels off a stack and says how many it had.
func (t *table) take(s, n int32) int32 {
	st := &t.stacks[s]
	n = min(n, st.left)
	if st.left -= n; st.left > 0 {
		t.rows[st.row].note(s, st.left)
	}
	return n
}
