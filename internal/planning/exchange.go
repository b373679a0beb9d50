package planning

// exchangeRole changes panels like z of one kit for panels like y of the other, as many as
// both have. Where looks differ whole sets go over, each only where it suits.
func (t *table) exchangeRole(z, y int32, role int) {
	sz, sy := t.slots[z], t.slots[y]
	b, o := t.bagOf[z], t.bagOf[y]
	other := t.roleOf(y)
	t.ours, t.theirs = t.like(t.ours[:0], b, role, sz), t.like(t.theirs[:0], o, other, sy)
	n := min(len(t.ours), len(t.theirs))
	if t.warm > 0 && t.rng.IntN(4) == 0 {
		n = 1
	}
	if t.stacks[sz].row == t.stacks[sy].row {
		for i := range n {
			t.exchange(t.ours[i], t.theirs[i])
		}
		t.judge(b, o, 1<<role, 1<<other)
		return
	}
	r, q := &t.lines[t.bags[b].line].roles[role], &t.lines[t.bags[o].line].roles[other]
	if r.count != q.count {
		return
	}
	for i := range n {
		if t.slots[t.ours[i]] == sz && t.slots[t.theirs[i]] == sy {
			t.exchangeSets(t.placeOf(t.ours[i]), t.placeOf(t.theirs[i]), r, q)
		}
	}
	t.judge(b, o, 1<<role, 1<<other)
}

// exchangeSets changes all panels of a role between two pillowcases where both stay as they may be.
func (t *table) exchangeSets(x, w int32, r, q *lineRole) {
	for c := range r.count {
		t.exchange(x+r.at+c, w+q.at+c)
	}
	if !t.suits(x) || !t.suits(w) {
		t.undo(len(t.done) - int(r.count))
	}
}

// exchangeCases changes the pillowcase of z for that of y, or all but some of their trims. A
// kit that holds one less than others of its line may take y's for nothing.
func (t *table) exchangeCases(z, y int32, role int) {
	b, o := t.bagOf[z], t.bagOf[y]
	l, k := &t.lines[t.bags[b].line], &t.lines[t.bags[o].line]
	if l.spec != k.spec {
		return
	}
	x, w := t.placeOf(z), t.placeOf(y)
	mask := int(t.rng.Uint32())&(1<<len(l.roles)-1) | 1<<role
	if t.rng.IntN(2) == 0 {
		mask = 1<<len(l.roles) - 1
		if gap := t.gap(b); l == k && gap != none && t.gap(o) == none {
			x = gap
		}
	}
	for i, r := range l.roles {
		if mask>>i&1 == 1 {
			for c := range r.count {
				t.exchange(x+r.at+c, w+r.at+c)
			}
		}
	}
	if l != k || mask != 1<<len(l.roles)-1 {
		if !t.suits(x) || !t.suits(w) {
			t.undo(0)
			return
		}
	}
	t.judge(b, o, mask, mask)
}

// gap gives the place of a kit that holds no pillowcase, or none.
func (t *table) gap(b int32) int32 {
	bag := &t.bags[b]
	wide := t.lines[bag.line].wide
	for p := range bag.places {
		if at := bag.first + p*wide; t.slots[at] == none {
			return at
		}
	}
	return none
}

// like lists the slots of a kit's role with panels of a stack.
func (t *table) like(list []int32, b int32, role int, s int32) []int32 {
	bag := &t.bags[b]
	l := &t.lines[bag.line]
	r := &l.roles[role]
	for p := range bag.places {
		at := bag.first + p*l.wide + r.at
		for c := range r.count {
			if t.slots[at+c] == s {
				list = append(list, at+c)
			}
		}
	}
	return list
}

// placeOf gives the first slot of the pillowcase that a slot belongs to.
func (t *table) placeOf(x int32) int32 {
	b := &t.bags[t.bagOf[x]]
	return x - (x-b.first)%t.lines[b.line].wide
}

// suits says whether a pillowcase's body may go to its quota and its trims with its body.
func (t *table) suits(place int32) bool {
	l := &t.lines[t.bags[t.bagOf[place]].line]
	body := t.groupAt(place)
	if !among(l.bodies, body) {
		return false
	}
	for _, r := range l.roles[1:] {
		if !among(t.trimming(body, r.name), t.groupAt(place+r.at)) {
			return false
		}
	}
	return true
}

func (t *table) groupAt(x int32) int32 {
	return int32(t.m.supply[t.stacks[t.slots[x]].row].group)
}

func among(list []int32, g int32) bool {
	lo, hi := 0, len(list)
	for lo < hi {
		if mid := (lo + hi) / 2; list[mid] < g {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo < len(list) && list[lo] == g
}

// exchange changes the panels of two slots.
func (t *table) exchange(a, b int32) {
	t.change(a, b)
	t.done = append(t.done, [2]int32{a, b})
}

func (t *table) change(a, b int32) {
	sa, sb := t.slots[a], t.slots[b]
	pa, pb := t.pos[a], t.pos[b]
	t.slots[a], t.slots[b] = sb, sa
	t.pos[a], t.pos[b] = pb, pa
	if sa != none {
		t.units[pa] = b
	}
	if sb != none {
		t.units[pb] = a
	}
}

// undo takes back all exchanges of the present try but the first n.
func (t *table) undo(n int) {
	for len(t.done) > n {
		last := t.done[len(t.done)-1]
		t.change(last[0], last[1])
		t.done = t.done[:len(t.done)-1]
	}
}

// judge keeps what the present try has done where it takes no more bundles, or one while the
// search is warm. The masks say which roles of the two kits it touched.
func (t *table) judge(b, o int32, mask, other int) {
	delta := t.delta(b, o, mask, other)
	if delta > 1 || delta == 1 && t.rng.Float64() >= t.warm {
		t.undo(0)
		return
	}
	t.settle(b, o, mask, other, delta)
}

// delta counts how many bundles more the present try takes.
func (t *table) delta(b, o int32, mask, other int) int32 {
	t.counts = t.counts[:0]
	var delta int32
	see := func(b int32, mask int) {
		for r := range t.lines[t.bags[b].line].roles {
			if mask>>r&1 == 1 {
				n := t.count(b, r)
				t.counts = append(t.counts, n)
				delta += n - t.apart[int(b)*t.roles+r]
			}
		}
	}
	see(b, mask)
	see(o, other)
	return delta
}

// settle keeps what the present try has done, as delta has counted it.
func (t *table) settle(b, o int32, mask, other int, delta int32) {
	t.total += int(delta)
	i := 0
	keep := func(b int32, mask int) {
		for r := range t.lines[t.bags[b].line].roles {
			if mask>>r&1 == 1 {
				t.apart[int(b)*t.roles+r] = t.counts[i]
				i++
			}
		}
	}
	keep(b, mask)
	keep(o, other)
}
