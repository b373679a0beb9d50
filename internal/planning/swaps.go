package planning

import (
	"math/rand/v2"
	"slices"
)

// swaps looks for fewer bundles by exchanges that leave everything else as it is: panels of
// one kind between two pillowcases, whole pillowcases between two kits.
type swaps struct {
	rng    *rand.Rand
	warm   float64              // how likely one bundle more is taken
	roles  int                  // most roles of a case
	apart  []int32              // stacks that a kit takes of a role: its bundles
	total  int                  // bundles
	least  int                  // proven: never fewer
	trims  [][]int32            // groups that may trim each group, in order
	only   map[onlyTrim][]int32 // the same for a role, where not all of them may
	units  []int32              // slots of each stack's panels, one stack after the other
	from   []int32              // where the units of a stack begin
	pos    []int32              // unit of each slot
	mark   []int32              // of stacks seen in the present count
	seen   int32
	done   [][2]int32 // slots exchanged by the present try
	ours   []int32
	theirs []int32
	counts []int32 // of the roles that the present try touches
}

// exchangesPerPanel and mostExchanges bound the search, in exchanges looked at: a tenth of a second.
const (
	exchangesPerPanel = 1000
	mostExchanges     = 2_000_000
	hurriedExchanges  = 200_000 // where somebody waits for the end
)

// warmth is how likely an exchange that takes one bundle more is kept at first, where there
// are tries enough to make good for it; it cools to nothing at four fifths of the tries.
const warmth = 0.3

// fewer exchanges panels and pillowcases between kits until effort is spent or the bundles
// are proven fewest. It never ends with more bundles than it began with.
func (t *table) fewer() {
	t.ready()
	t.least = t.floor()
	began, at := t.total, slices.Clone(t.slots)
	most := mostExchanges
	if t.m.hurried {
		most = hurriedExchanges
	}
	tries := min(exchangesPerPanel*len(t.slots), most)
	start := 0.0
	if tries >= exchangesPerPanel/2*len(t.slots) {
		start = warmth
	}
	for k := 0; k < tries && t.total > t.least; k++ {
		if k%1024 == 0 {
			t.warm = start * max(0, 1-1.25*float64(k)/float64(tries))
		}
		t.try()
	}
	if t.total > began {
		t.slots = at
		t.index()
	}
}

// ready counts the bundles and notes where the panels of every stack are.
func (t *table) ready() {
	t.rng = rand.New(rand.NewPCG(5, 6))
	for i := range t.lines {
		t.roles = max(t.roles, len(t.lines[i].roles))
	}
	groupOf := map[string]int32{}
	for g, gr := range t.m.groups {
		groupOf[gr.name] = int32(g)
	}
	t.trims, t.only = make([][]int32, len(t.m.groups)), map[onlyTrim][]int32{}
	for g, gr := range t.m.groups {
		for _, name := range t.m.p.Trims[gr.name] {
			if h, known := groupOf[name]; known {
				t.trims[g] = append(t.trims[g], h)
			}
		}
		slices.Sort(t.trims[g])
		for role, names := range t.m.p.TrimRoles[gr.name] {
			var only []int32
			for _, name := range names {
				if h, known := groupOf[name]; known {
					only = append(only, h)
				}
			}
			slices.Sort(only)
			t.only[onlyTrim{int32(g), role}] = only
		}
	}
	t.index()
}

type onlyTrim struct {
	body int32
	role string
}

// trimming gives the groups that may trim a group in a role, in order.
func (t *table) trimming(body int32, role string) []int32 {
	if only, said := t.only[onlyTrim{body, role}]; said {
		return only
	}
	return t.trims[body]
}

// index notes where the panels of every stack are, and what each kit takes.
func (t *table) index() {
	t.total = 0
	t.from = make([]int32, len(t.stacks)+1)
	for _, s := range t.slots {
		if s != none {
			t.from[s+1]++
		}
	}
	for s := range t.stacks {
		t.from[s+1] += t.from[s]
	}
	t.units, t.pos = make([]int32, t.from[len(t.stacks)]), make([]int32, len(t.slots))
	next := slices.Clone(t.from)
	for x, s := range t.slots {
		if s != none {
			t.units[next[s]], t.pos[x] = int32(x), next[s]
			next[s]++
		}
	}
	t.mark = make([]int32, len(t.stacks))
	t.apart = make([]int32, len(t.bags)*t.roles)
	for b := range t.bags {
		for r := range t.lines[t.bags[b].line].roles {
			t.apart[b*t.roles+r] = t.count(int32(b), r)
			t.total += int(t.apart[b*t.roles+r])
		}
	}
}

// count counts the stacks that a kit takes of a role.
func (t *table) count(b int32, role int) int32 {
	t.seen++
	bag := &t.bags[b]
	l := &t.lines[bag.line]
	r := &l.roles[role]
	var n int32
	for p := range bag.places {
		at := bag.first + p*l.wide + r.at
		for _, s := range t.slots[at : at+r.count] {
			if s != none && t.mark[s] != t.seen {
				t.mark[s] = t.seen
				n++
			}
		}
	}
	return n
}

// try looks at one exchange: of a stack that several kits share, one kit is to have more, for
// panels of another stack of which it then has less.
func (t *table) try() {
	x := int32(t.rng.IntN(len(t.slots)))
	s := t.slots[x]
	if s == none {
		return
	}
	b := t.bagOf[x]
	role := t.roleOf(x)
	if t.apart[int(b)*t.roles+role] < 2 {
		return
	}
	y := t.units[t.from[s]+int32(t.rng.IntN(int(t.from[s+1]-t.from[s])))]
	if t.bagOf[y] == b {
		return
	}
	z := t.otherThan(b, role, s)
	if z == none {
		return
	}
	t.done = t.done[:0]
	if t.rng.IntN(3) > 0 {
		t.exchangeRole(z, y, role)
	} else {
		t.exchangeCases(z, y, role)
	}
}

func (t *table) roleOf(x int32) int {
	b := &t.bags[t.bagOf[x]]
	l := &t.lines[b.line]
	at := (x - b.first) % l.wide
	for i := len(l.roles) - 1; ; i-- {
		if l.roles[i].at <= at {
			return i
		}
	}
}

// otherThan picks a panel of a kit's role that is not of this stack.
func (t *table) otherThan(b int32, role int, s int32) int32 {
	bag := &t.bags[b]
	l := &t.lines[bag.line]
	r := &l.roles[role]
	n := bag.places * r.count
	start := int32(t.rng.IntN(int(n)))
	for k := range n {
		i := (start + k) % n
		x := bag.first + i/r.count*l.wide + r.at + i%r.count
		if o := t.slots[x]; o != s && o != none {
			return x
		}
	}
	return none
}
