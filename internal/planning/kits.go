package planning

import (
	"slices"
	"strconv"
)

// kits sews what was assembled and parts each quota and case into the fewest kits, of sizes
// that differ by at most one, so that the bundles are few.
func (t *table) kits(s *sewing) []Kit {
	t.layLines(s)
	t.sortStacks()
	t.fill(s)
	t.fewer()
	t.spread()
	return t.write()
}

// layLines makes the empty kits of every quota and case.
func (t *table) layLines(s *sewing) {
	m := t.m
	groupOf := map[string]int{}
	for g, gr := range m.groups {
		groupOf[gr.name] = g
	}
	made := map[[2]int]int64{}
	for i := range m.makes {
		made[[2]int{m.makes[i].quota, m.makes[i].spec}] += s.made[i]
	}
	for q := range m.p.Quotas {
		for spec := range m.p.Cases {
			sizes := share(int(made[[2]int{q, spec}]), m.p.KitCases(&m.p.Quotas[q]))
			if len(sizes) == 0 {
				continue
			}
			l := line{quota: q, spec: spec, first: int32(len(t.bags))}
			for _, b := range unique(m.p.Quotas[q].Bodies) {
				if g, known := groupOf[b]; known {
					l.bodies = append(l.bodies, int32(g))
				}
			}
			slices.Sort(l.bodies)
			l.roles, l.wide = rolesOf(&m.p.Cases[spec])
			for _, n := range sizes {
				b := bag{line: int32(len(t.lines)), first: int32(len(t.slots)), places: int32(sizes[0]), short: n < sizes[0]}
				for range b.places * l.wide {
					t.slots = append(t.slots, none)
					t.bagOf = append(t.bagOf, int32(len(t.bags)))
				}
				t.bags = append(t.bags, b)
			}
			l.end = int32(len(t.bags))
			t.lines = append(t.lines, l)
		}
	}
}

// rolesOf gives the slots of a pillowcase, its body's first.
func rolesOf(c *Case) ([]lineRole, int32) {
	var roles []lineRole
	var wide int32
	add := func(l *Panel) {
		roles = append(roles, lineRole{l.Role, wide, int32(l.Pieces)})
		wide += int32(l.Pieces)
	}
	add(c.panel(Body))
	for i := range c.Panels {
		if c.Panels[i].Role != Body {
			add(&c.Panels[i])
		}
	}
	return roles, wide
}

// size gives the pillowcases a kit is to hold.
func (b *bag) size() int32 {
	if b.short {
		return b.places - 1
	}
	return b.places
}

// write names the panels of every kit: those of one stack in the order in which they lie.
func (t *table) write() []Kit {
	taken := map[string]bool{}
	if f := t.m.p.Fixed; f != nil {
		for _, k := range f.Kits {
			taken[k.ID] = true
		}
	}
	next := make([]int32, len(t.stacks))
	out := make([]Kit, 0, len(t.bags))
	number := 0
	for i := range t.lines {
		l := &t.lines[i]
		for _, places := range t.inOrder(l) {
			number++
			for taken[kitID(number)] {
				number++
			}
			k := Kit{ID: kitID(number), Pillowcases: make([]map[string][]string, 0, len(places)), Quota: t.m.p.Quotas[l.quota].ID, Case: t.m.p.Cases[l.spec].ID}
			for _, place := range places {
				one := make(map[string][]string, len(l.roles))
				for _, r := range l.roles {
					ids := make([]string, r.count)
					for c := range ids {
						s := place[int(r.at)+c]
						ids[c] = t.stacks[s].ids[next[s]]
						next[s]++
					}
					one[r.name] = ids
				}
				k.Pillowcases = append(k.Pillowcases, one)
			}
			out = append(out, k)
		}
	}
	return out
}

func kitID(number int) string { return "K" + strconv.Itoa(number) }

// inOrder gives the pillowcases of a line's kits, kits and pillowcases in the order of their pieces.
func (t *table) inOrder(l *line) [][][]int32 {
	kits := make([][][]int32, 0, l.end-l.first)
	for _, b := range t.bags[l.first:l.end] {
		places := make([][]int32, 0, b.places)
		for p := range b.places {
			at := b.first + p*l.wide
			if place := t.slots[at : at+l.wide]; place[0] != none {
				places = append(places, place)
			}
		}
		slices.SortStableFunc(places, slices.Compare)
		kits = append(kits, places)
	}
	slices.SortStableFunc(kits, func(a, b [][]int32) int { return slices.CompareFunc(a, b, slices.Compare) })
	return kits
}

// share parts n into the fewest parts of at most size, differing by at most one, larger first.
func share(n, size int) []int {
	if n == 0 {
		return nil
	}
	kits := (n + size - 1) / size
	var out []int
	for i := range kits {
		part := n / kits
		if i < n%kits {
			part++
		}
		out = append(out, part)
	}
	return out
}

// Bundles counts the (kit, piece, role) stacks of a plan: what is cut, folded and labelled.
func Bundles(p *Plan) int { return bundles(p) }

func bundles(p *Plan) int {
	type bundle struct {
		kit    int
		layout *Layout
		role   string
	}
	places := map[string]*Layout{}
	for i := range p.Layouts {
		for _, x := range p.Layouts[i].Panels {
			places[x.ID] = &p.Layouts[i]
		}
	}
	seen := map[bundle]bool{}
	for i := range p.Kits {
		for _, one := range p.Kits[i].Pillowcases {
			for role, ids := range one {
				for _, id := range ids {
					seen[bundle{i, places[id], role}] = true
				}
			}
		}
	}
	return len(seen)
}
