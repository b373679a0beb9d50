package planning

import "math/rand/v2"

// spreadsPerPanel and mostSpreads bound how long prints are spread, in exchanges looked at.
const (
	spreadsPerPanel = 200
	mostSpreads     = 400_000
)

// spread gives the kits of a ward more different prints where that costs nothing: whole
// pillowcases change places between kits of one quota and size, one or all that are cut from a
// stack, as long as no bundle is added. A kit that holds three times the same print counts as
// 3², so that every exchange that is kept makes some kit less alike.
func (t *table) spread() {
	if t.m.hurried || len(t.slots) == 0 {
		return
	}
	t.rng = rand.New(rand.NewPCG(7, 8))
	for range min(spreadsPerPanel*len(t.slots), mostSpreads) {
		t.trySpread()
	}
}

func (t *table) trySpread() {
	x := int32(t.rng.IntN(len(t.slots)))
	if t.slots[x] == none {
		return
	}
	b, x := t.bagOf[x], t.placeOf(x)
	l := &t.lines[t.bags[b].line]
	if l.end-l.first < 2 || t.ofPrint(b, t.groupAt(x)) < 2 {
		return
	}
	o := l.first + int32(t.rng.IntN(int(l.end-l.first)))
	w := t.bags[o].first + int32(t.rng.IntN(int(t.bags[o].places)))*l.wide
	if o == b || t.slots[w] == none || t.groupAt(w) == t.groupAt(x) {
		return
	}
	before := t.alike(b) + t.alike(o)
	t.done = t.done[:0]
	if t.rng.IntN(2) == 0 {
		t.exchangeWhole(x, w, l.wide)
	} else {
		sx, sw := t.slots[x], t.slots[w]
		ours, theirs := t.ofStack(nil, b, sx), t.ofStack(nil, o, sw)
		for i := range min(len(ours), len(theirs)) {
			t.exchangeWhole(ours[i], theirs[i], l.wide)
		}
	}
	mask := 1<<len(l.roles) - 1
	delta := t.delta(b, o, mask, mask)
	if delta > 0 || delta == 0 && t.alike(b)+t.alike(o) >= before {
		t.undo(0)
		return
	}
	t.settle(b, o, mask, mask, delta)
}

// exchangeWhole changes all panels of two pillowcases.
func (t *table) exchangeWhole(x, w, wide int32) {
	for c := range wide {
		t.exchange(x+c, w+c)
	}
}

// ofStack lists the pillowcases of a kit whose body begins with a panel of a stack.
func (t *table) ofStack(list []int32, b, s int32) []int32 {
	bag := &t.bags[b]
	wide := t.lines[bag.line].wide
	for p := range bag.places {
		if at := bag.first + p*wide; t.slots[at] == s {
			list = append(list, at)
		}
	}
	return list
}

// ofPrint counts the pillowcases of a kit with bodies of a group.
func (t *table) ofPrint(b, group int32) int {
	n := 0
	bag := &t.bags[b]
	wide := t.lines[bag.line].wide
	for p := range bag.places {
		if at := bag.first + p*wide; t.slots[at] != none && t.groupAt(at) == group {
			n++
		}
	}
	return n
}

// alike sums the squares of how often each print is in a kit: each pillowcase counts those
// like it.
func (t *table) alike(b int32) int {
	n := 0
	bag := &t.bags[b]
	wide := t.lines[bag.line].wide
	for p := range bag.places {
		if at := bag.first + p*wide; t.slots[at] != none {
			n += t.ofPrint(b, t.groupAt(at))
		}
	}
	return n
}

// Repeats counts the pillowcases of a plan whose print their kit holds once already.
func Repeats(p *Problem, plan *Plan) int {
	groups := map[string]string{}
	for i := range p.Fabrics {
		groups[p.Fabrics[i].ID] = p.Fabrics[i].Group
	}
	prints := map[string]string{} // of panels
	for i := range plan.Layouts {
		l := &plan.Layouts[i]
		for j := range l.Panels {
			prints[l.Panels[j].ID] = groups[l.Fabric]
		}
	}
	n := 0
	for _, k := range plan.Kits {
		seen := map[string]bool{}
		for _, one := range k.Pillowcases {
			print := prints[one[Body][0]]
			if seen[print] {
				n++
			}
			seen[print] = true
		}
	}
	return n
}
