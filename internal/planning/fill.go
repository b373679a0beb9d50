package planning

import (
	"math"
	"slices"
)

// filling puts panels into empty kits: bodies first, full kits from one stack where one will
// do, then what is left put together so that kits come out even; trims by what each kit's
// bodies ask for. It keeps to the sewing, so it cannot run dry.
type filling struct {
	*table
	need  []int64   // pillowcases of each making not yet begun
	trims [][]int64 // choices of each trimming not yet used
	makes [][]int   // makings of each line
}

func (t *table) fill(s *sewing) {
	f := &filling{table: t, need: slices.Clone(s.made), trims: make([][]int64, len(s.trims)), makes: make([][]int, len(t.lines))}
	for i := range s.trims {
		f.trims[i] = slices.Clone(s.trims[i])
	}
	lineOf := map[[2]int]int{}
	for l := range t.lines {
		lineOf[[2]int{t.lines[l].quota, t.lines[l].spec}] = l
	}
	for i := range t.m.makes {
		if mk := &t.m.makes[i]; s.made[i] > 0 {
			l := lineOf[[2]int{mk.quota, mk.spec}]
			f.makes[l] = append(f.makes[l], i)
		}
	}
	begun := make([]int32, len(t.lines))
	for l := range t.lines {
		begun[l] = f.evenBodies(l)
	}
	for l := range t.lines {
		for b := begun[l]; b < t.lines[l].end; b++ {
			f.mixedBodies(l, &t.bags[b])
		}
	}
	for l := range t.lines {
		for b := t.lines[l].first; b < t.lines[l].end; b++ {
			f.trimBag(l, &t.bags[b])
		}
	}
}

// evenBodies fills kits with bodies of one stack each, as long as there are such, and gives
// the first kit left empty.
func (f *filling) evenBodies(l int) int32 {
	ln := &f.lines[l]
	b := ln.first
	count := ln.roles[0].count
	for _, i := range f.makes[l] {
		row := f.m.makes[i].uses[0].row
		for b < ln.end {
			bag := &f.bags[b]
			n := bag.size()
			s := f.fullest(row)
			if f.need[i] < int64(n) || s == none || f.stacks[s].left < n*count {
				break
			}
			f.take(s, n*count)
			f.need[i] -= int64(n)
			for p := range n {
				f.set(bag, ln, p, 0, slices.Repeat([]int32{s}, int(count)))
			}
			b++
		}
	}
	return b
}

// set writes the stacks of one role of a place.
func (f *filling) set(b *bag, ln *line, place int32, role int, stacks []int32) {
	copy(f.slots[b.first+place*ln.wide+ln.roles[role].at:], stacks)
}

// mixedBodies fills a kit from several stacks: the best next one fills the kit just so, else
// is as large as can be, of a print that the kit has already where there is a choice.
func (f *filling) mixedBodies(l int, b *bag) {
	ln := &f.lines[l]
	count := ln.roles[0].count
	had := none
	for place := int32(0); place < b.size(); {
		gap := b.size() - place
		best, of, score := int32(none), none, int32(math.MinInt32)
		for _, i := range f.makes[l] {
			n := min(int64(gap), f.need[i])
			if n == 0 {
				continue
			}
			row := f.m.makes[i].uses[0].row
			s := f.nearest(row, int32(n)*count)
			if s == none {
				s = f.fullest(row)
			}
			n = min(n, int64(max(1, f.stacks[s].left/count)))
			mark := int32(n) * 4
			if int32(n) == gap && f.stacks[s].left == gap*count {
				mark += 1000
			}
			if f.m.makes[i].group == had {
				mark += 2
			}
			if f.stacks[s].left > int32(n)*count {
				mark -= 6 // it would be split
			}
			if mark > score {
				best, of, score = s, i, mark
			}
		}
		had = f.m.makes[of].group
		n := min(int64(gap), f.need[of], int64(max(1, f.stacks[best].left/count)))
		f.need[of] -= n
		row := f.m.makes[of].uses[0].row
		for range n {
			f.set(b, ln, place, 0, f.gather(row, best, count))
			place++
		}
	}
}

// gather takes so many panels of a row, from a certain stack first.
func (f *filling) gather(row int, s, count int32) []int32 {
	var out []int32
	for int32(len(out)) < count {
		if s == none || f.stacks[s].left == 0 {
			s = f.fitting(row, count-int32(len(out)))
		}
		out = append(out, slices.Repeat([]int32{s}, int(f.take(s, count-int32(len(out)))))...)
	}
	return out
}

// trimBag gives the pillowcases of a kit their trims, those of one body group together.
func (f *filling) trimBag(l int, b *bag) {
	ln := &f.lines[l]
	byGroup := map[int][]int32{}
	var groups []int
	for p := range b.size() {
		g := f.m.supply[f.stacks[f.slots[b.first+p*ln.wide]].row].group
		if byGroup[g] == nil {
			groups = append(groups, g)
		}
		byGroup[g] = append(byGroup[g], p)
	}
	for role := 1; role < len(ln.roles); role++ {
		var used []int32
		for _, g := range groups {
			places := byGroup[g]
			for len(places) > 0 {
				s, n := f.trimFor(l, g, role, int32(len(places)), used)
				used = append(used, s)
				for range n {
					f.set(b, ln, places[0], role, f.gather(int(f.stacks[s].row), s, ln.roles[role].count))
					places = places[1:]
				}
			}
		}
	}
}

// trimFor chooses the stack that trims n pillowcases with bodies of a group, or as many of
// them as it can: one in the kit already, one that has just enough, the fullest.
func (f *filling) trimFor(l, g, role int, n int32, used []int32) (int32, int32) {
	count := f.lines[l].roles[role].count
	best, most, score := int32(none), int32(0), int32(math.MinInt32)
	see := func(row int, left int64) {
		want := min(int64(n), left)
		if want == 0 {
			return
		}
		mark := func(s int32, more int32) {
			can := min(int32(want), max(1, f.stacks[s].left/count))
			if can == n {
				more += 1 << 20
			}
			if f.stacks[s].left == can*count {
				more += 1 << 10
			}
			if v := more + min(f.stacks[s].left, 1<<9); v > score {
				best, most, score = s, can, v
			}
		}
		for _, s := range used {
			if int(f.stacks[s].row) == row && f.stacks[s].left > 0 {
				mark(s, 1<<21)
			}
		}
		mark(f.fitting(row, int32(want)*count), 0)
	}
	rows, left := f.choices(l, g, role)
	for k, row := range rows {
		if left == nil {
			see(row, int64(n))
		} else {
			see(row, left[k])
		}
	}
	if left != nil {
		left[slices.Index(rows, int(f.stacks[best].row))] -= int64(most)
	}
	return best, most
}

// choices gives the rows that may trim bodies of a group, and how often each still may; nil
// for as often as asked.
func (f *filling) choices(l, g, role int) ([]int, []int64) {
	m := f.m
	for _, i := range f.makes[l] {
		mk := &m.makes[i]
		if mk.group != g {
			continue
		}
		for _, t := range mk.trims {
			if m.kinds[m.trims[t].kind].role == f.lines[l].roles[role].name {
				return m.trims[t].rows, f.trims[t]
			}
		}
		for _, u := range mk.uses[1:] {
			if m.kinds[m.supply[u.row].kind].role == f.lines[l].roles[role].name {
				return []int{u.row}, nil
			}
		}
	}
	return nil, nil
}
