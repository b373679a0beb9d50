package planning

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// spot is where a panel lies, as text.
func spot(l *Layout, x *PlacedPanel) string {
	return fmt.Sprintf("%s/%d %s %s %s %s %s", l.Fabric, l.Piece, x.Role, x.X, x.Y, x.W, x.H)
}

// rename gives panels that lie where a panel of the old plan lay the old one's id, kits that
// are sewn from the same panels as an old one the old kit's id, and those that take an old
// kit's place, of the same quota and case, the id of the one most like it. All others get ids
// that the old plan did not have.
func rename(old *Plan, q *Problem, plan *Plan) {
	fixedPanels, fixedKits := map[string]bool{}, map[string]bool{}
	for i := range q.Fixed.Layouts {
		for _, x := range q.Fixed.Layouts[i].Panels {
			fixedPanels[x.ID] = true
		}
	}
	for i := range q.Fixed.Kits {
		fixedKits[q.Fixed.Kits[i].ID] = true
	}
	renamePanels(old, plan, fixedPanels)
	renameKits(old, plan, fixedKits)
}

func renamePanels(old, plan *Plan, fixed map[string]bool) {
	was, taken := map[string]string{}, map[string]bool{}
	for i := range old.Layouts {
		l := &old.Layouts[i]
		for j := range l.Panels {
			was[spot(l, &l.Panels[j])] = l.Panels[j].ID
			taken[l.Panels[j].ID] = true
		}
	}
	for id := range fixed {
		taken[id] = true
	}
	name := map[string]string{}
	for i := range plan.Layouts {
		l := &plan.Layouts[i]
		panels := slices.Clone(l.Panels)
		for j := range panels {
			x := &panels[j]
			if fixed[x.ID] {
				continue
			}
			id, same := was[spot(l, x)]
			if !same || fixed[id] {
				for id = x.ID; taken[id]; {
					id += "'"
				}
			}
			taken[id] = true
			name[x.ID], x.ID = id, id
		}
		l.Panels = panels
	}
	for i := range plan.Kits {
		k := &plan.Kits[i]
		cases := make([]map[string][]string, len(k.Pillowcases))
		for j, one := range k.Pillowcases {
			cases[j] = map[string][]string{}
			for role, ids := range one {
				for _, id := range ids {
					if to, renamed := name[id]; renamed {
						id = to
					}
					cases[j][role] = append(cases[j][role], id)
				}
			}
		}
		k.Pillowcases = cases
	}
}

func renameKits(old, plan *Plan, fixed map[string]bool) {
	byContent := map[string]*Kit{}
	free := newFreeKits()
	taken := map[string]bool{}
	for i := range old.Kits {
		k := &old.Kits[i]
		taken[k.ID] = true
		if !fixed[k.ID] {
			byContent[content(k)] = k
			free.add(k)
		}
	}
	var rest []*Kit
	for i := range plan.Kits {
		k := &plan.Kits[i]
		if fixed[k.ID] {
			taken[k.ID] = true
			continue
		}
		if same := byContent[content(k)]; same != nil && free.has(same) {
			*k = *same
			free.take(same)
			continue
		}
		rest = append(rest, k)
	}
	number := 0
	for _, k := range rest {
		if like := free.likest(k); like != nil {
			k.ID = like.ID
			free.take(like)
			continue
		}
		for k.ID = ""; k.ID == "" || taken[k.ID]; {
			number++
			k.ID = fmt.Sprintf("K%d", number)
		}
		taken[k.ID] = true
	}
}

// freeKits are the old kits whose numbers no new one has yet. Of thousands, none is looked at once
// for each new one.
type freeKits struct {
	order map[*Kit]int    // in the old plan; none where the number is taken
	of    map[string]*Kit // by panel
	sized map[kitKind]map[int][]*Kit
}

// kitKind is what a kit has in common with those that may take its number.
type kitKind struct{ quota, spec string }

func newFreeKits() *freeKits {
	return &freeKits{map[*Kit]int{}, map[string]*Kit{}, map[kitKind]map[int][]*Kit{}}
}

func (f *freeKits) add(k *Kit) {
	f.order[k] = len(f.order)
	for _, id := range k.panels() {
		f.of[id] = k
	}
	kind := kitKind{k.Quota, k.Case}
	if f.sized[kind] == nil {
		f.sized[kind] = map[int][]*Kit{}
	}
	f.sized[kind][len(k.Pillowcases)] = append(f.sized[kind][len(k.Pillowcases)], k)
}

func (f *freeKits) has(k *Kit) bool {
	_, free := f.order[k]
	return free
}

func (f *freeKits) take(k *Kit) { delete(f.order, k) }

// likest gives the old kit of the same quota and case that shares most panels with a new one,
// then is nearest to it in size, then comes first.
func (f *freeKits) likest(k *Kit) *Kit {
	shared := map[*Kit]int{}
	for _, id := range k.panels() {
		if o := f.of[id]; o != nil && f.has(o) && o.Quota == k.Quota && o.Case == k.Case {
			shared[o]++
		}
	}
	apart := func(o *Kit) int {
		return max(len(o.Pillowcases)-len(k.Pillowcases), len(k.Pillowcases)-len(o.Pillowcases))
	}
	var best *Kit
	weigh := func(o *Kit) {
		if best == nil || cmp.Or(cmp.Compare(shared[o], shared[best]), cmp.Compare(apart(best), apart(o)), cmp.Compare(f.order[best], f.order[o])) > 0 {
			best = o
		}
	}
	for o := range shared {
		weigh(o)
	}
	if best != nil {
		return best
	}
	bySize := f.sized[kitKind{k.Quota, k.Case}]
	for size, list := range bySize {
		for len(list) > 0 && !f.has(list[0]) {
			list = list[1:]
		}
		if bySize[size] = list; len(list) > 0 {
			weigh(list[0])
		}
	}
	return best
}

// content says what a kit is sewn from, whatever its id and the order of its pillowcases.
func content(k *Kit) string {
	var list []string
	for _, one := range k.Pillowcases {
		var parts []string
		for _, role := range sortedKeys(one) {
			parts = append(parts, role+" "+strings.Join(slices.Sorted(slices.Values(one[role])), " "))
		}
		list = append(list, strings.Join(parts, ", "))
	}
	slices.Sort(list)
	return k.Quota + " " + k.Case + ": " + strings.Join(list, "; ")
}

// Compare tells what changed between two plans whose kits and panels are named alike. What
// the problem had fixed before stays where the old plan does not tell of it.
func Compare(p *Problem, old, plan *Plan) *Replanned {
	r := &Replanned{Plan: plan, Kept: []string{}, Changed: []string{}, Gone: []string{}, New: []string{}, Quotas: []Moved{}, Recut: []PieceName{}}
	was := map[string]string{}
	for i := range old.Kits {
		was[old.Kits[i].ID] = content(&old.Kits[i])
	}
	now := map[string]bool{}
	if p.Fixed != nil {
		for i := range p.Fixed.Kits {
			if _, told := was[p.Fixed.Kits[i].ID]; !told {
				was[p.Fixed.Kits[i].ID] = content(&p.Fixed.Kits[i])
			}
		}
	}
	for i := range plan.Kits {
		k := &plan.Kits[i]
		now[k.ID] = true
		switch text, known := was[k.ID]; {
		case !known:
			r.New = append(r.New, k.ID)
		case text == content(k):
			r.Kept = append(r.Kept, k.ID)
		default:
			r.Changed = append(r.Changed, k.ID)
		}
	}
	for i := range old.Kits {
		if id := old.Kits[i].ID; !now[id] {
			r.Gone = append(r.Gone, id)
		}
	}
	made := map[string]bool{}
	for _, q := range plan.Quotas {
		made[q.ID] = true
		if n := old.Made(q.ID); n != q.Made {
			r.Quotas = append(r.Quotas, Moved{q.ID, n, q.Made})
		}
	}
	for _, q := range old.Quotas {
		if !made[q.ID] && q.Made > 0 {
			r.Quotas = append(r.Quotas, Moved{q.ID, q.Made, 0})
		}
	}
	r.Recut = recut(p, old, plan)
	return r
}

func recut(p *Problem, old, plan *Plan) []PieceName {
	list := []PieceName{}
	seen := map[PieceName]string{}
	if p.Fixed != nil {
		for _, l := range p.Fixed.Layouts {
			seen[PieceName{l.Fabric, l.Piece}] = fmt.Sprint(l.Panels)
		}
	}
	for _, l := range old.Layouts {
		seen[PieceName{l.Fabric, l.Piece}] = fmt.Sprint(l.Panels)
	}
	for _, l := range plan.Layouts {
		at := PieceName{l.Fabric, l.Piece}
		if seen[at] != fmt.Sprint(l.Panels) {
			list = append(list, at)
		}
		delete(seen, at)
	}
	for _, l := range old.Layouts {
		if at := (PieceName{l.Fabric, l.Piece}); seen[at] != "" {
			list = append(list, at)
		}
	}
	return list
}
