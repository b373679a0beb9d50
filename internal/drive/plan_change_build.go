package drive

import (
	"fmt"
	"slices"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// changeBuilder makes the problem of a change.
type changeBuilder struct {
	c       Changing
	class   map[int64]kitClass
	alive   map[int64]int
	st      PlanStands
	problem *planning.Problem

	held   map[string]bool // panels of the pillowcases that stand
	loose  map[string]bool // panels that are cut, or will be, and that no kit has any more
	roles  []string        // that cloth which stays as it is serves as
	cloths []Cloth
	kept   []planning.Fabric // cloth that stays as it is
	lines  map[string]int    // settled pillowcases of each line
}

func panelID(sheet int64, panel int) string { return fmt.Sprintf("%d/%d", sheet, panel) }

// keptGroup is the group of cloth that stays as it is. It is a group of its own, so that a
// change of what is written about its lots does not touch what is cut of them.
const keptGroup = "as it is"

// takeKits puts down the kits that stand, with the pillowcases that still count.
func (b *changeBuilder) takeKits() {
	b.held, b.loose, b.lines = map[string]bool{}, map[string]bool{}, map[string]int{}
	apart, away := map[int64]bool{}, map[int64][]int{}
	for _, k := range b.c.Kits {
		apart[k.Number] = apart[k.Number] || k.Loose && k.State == KitTakenApart
	}
	cases := map[int64]map[int]map[string][]string{}
	for _, s := range b.c.Sheets {
		for _, p := range s.Panels {
			id := panelID(s.Number, p.Panel)
			if p.Gone {
				away[p.Kit.Number] = append(away[p.Kit.Number], p.Pillowcase)
			}
			if apart[p.Kit.Number] && s.begun() && !p.Gone {
				b.loose[id] = true
			}
			of := cases[p.Kit.Number]
			if of == nil {
				of = map[int]map[string][]string{}
				cases[p.Kit.Number] = of
			}
			if of[p.Pillowcase] == nil {
				of[p.Pillowcase] = map[string][]string{}
			}
			of[p.Pillowcase][p.Role] = append(of[p.Pillowcase][p.Role], id)
		}
	}
	made := map[string]int{}
	var order []string
	for _, k := range b.c.Kits {
		if k.Part != 1 || k.Asked == nil || b.class[k.Number] == kitDead {
			continue
		}
		kit := planning.Kit{ID: NumberID(k.Number), Quota: NumberID(*k.Asked), Case: NumberID(k.Size)}
		numbers := sortedNumbers(cases[k.Number])
		if b.class[k.Number] == kitSettled {
			// Of a kit that came back in part, those whose panels lie there no more are the sewn ones.
			slices.SortStableFunc(numbers, func(x, y int) int { return gone(away[k.Number], y) - gone(away[k.Number], x) })
			numbers = numbers[:min(len(numbers), b.alive[k.Number])]
		}
		for _, n := range numbers {
			kit.Pillowcases = append(kit.Pillowcases, cases[k.Number][n])
			for _, ids := range cases[k.Number][n] {
				for _, id := range ids {
					b.held[id] = true
					delete(b.loose, id)
				}
			}
		}
		if len(numbers) == 0 {
			continue
		}
		b.st.Plan.Kits = append(b.st.Plan.Kits, kit)
		if _, known := made[kit.Quota]; !known {
			order = append(order, kit.Quota)
		}
		made[kit.Quota] += len(numbers)
		if b.class[k.Number] == kitSettled {
			b.st.Settled.Kits = append(b.st.Settled.Kits, kit.ID)
			b.lines[kit.Quota] += len(numbers)
		}
	}
	for _, q := range order {
		b.st.Plan.Quotas = append(b.st.Plan.Quotas, planning.QuotaMade{ID: q, Made: made[q]})
	}
}

func gone(pillowcases []int, n int) int {
	if slices.Contains(pillowcases, n) {
		return 1
	}
	return 0
}

func sortedNumbers[V any](m map[int]V) []int {
	list := make([]int, 0, len(m))
	for n := range m {
		list = append(list, n)
	}
	slices.Sort(list)
	return list
}

// takeSheets puts down how the sheets lie, and which cloth there is beside them.
func (b *changeBuilder) takeSheets() {
	type at struct {
		lot   int64
		piece int
	}
	lying := map[at]Shelved{}
	last := map[at]int64{} // the sheet that may be laid out anew together with what is free
	for _, s := range b.c.Shelf {
		lying[at{s.Lot, s.Piece}] = s
	}
	for _, s := range b.c.Sheets {
		if b.mayRecut(s) {
			last[at{s.Lot, s.Piece}] = s.Number
		}
	}
	for _, s := range b.c.Sheets {
		if s.State == SheetWithdrawn {
			continue
		}
		b.st.Sheets[s.Number] = SheetAt{s.Revision, s.State}
		cloth := lying[at{s.Lot, s.Piece}].Cloth
		if !b.mayRecut(s) {
			b.keep(s, cloth)
			continue
		}
		long := s.Used
		if s.State == SheetShort {
			long = 0
		}
		if last[at{s.Lot, s.Piece}] == s.Number {
			long += cloth.Length
		}
		if long > 0 {
			cloth.ID, cloth.Length = laidID(s.Sheet), long
			if s.Narrow != nil {
				cloth.Width = min(cloth.Width, *s.Narrow)
			}
			b.cloths = append(b.cloths, cloth)
			b.lay(s, cloth.ID, func(string) bool { return true })
		}
	}
	for _, s := range b.c.Shelf {
		if _, taken := last[at{s.Lot, s.Piece}]; !taken && s.Length > 0 {
			b.cloths = append(b.cloths, s.Cloth)
		}
	}
}

// mayRecut says whether a sheet may be laid out anew: it waits, and no kit that is begun has
// panels on it.
func (b *changeBuilder) mayRecut(s StandingSheet) bool {
	if s.State != SheetWaiting && s.State != SheetShort {
		return false
	}
	return !slices.ContainsFunc(s.Panels, func(p Panel) bool { return b.class[p.Kit.Number] == kitSettled })
}

// keep puts down a sheet that stays as it lies: what settled kits have of it, and what others
// have or none has any more, which may be shared out anew. What lies loose of a kit that came back
// in part is of the latter, though what came back of it is settled.
func (b *changeBuilder) keep(s StandingSheet, cloth Cloth) {
	settled := map[string]bool{}
	for _, p := range s.Panels {
		id := panelID(s.Number, p.Panel)
		settled[id] = b.class[p.Kit.Number] == kitSettled && !b.loose[id]
	}
	id := laidID(s.Sheet)
	if l := b.lay(s, id, func(p string) bool { return settled[p] }); l != nil {
		for _, p := range l.Panels {
			if !slices.Contains(b.roles, p.Role) {
				b.roles = append(b.roles, p.Role)
			}
		}
		slices.Sort(b.roles)
		b.kept = append(b.kept, planning.Fabric{ID: id, Length: mm(s.Used), Width: mm(s.Width), Pieces: 1, Group: keptGroup, Turn: planning.Either})
		b.st.Settled.Pieces = append(b.st.Settled.Pieces, planning.PieceName{Fabric: id, Piece: 1})
	}
	if l := b.lay(s, id+panelsOnly, func(p string) bool { return !settled[p] }); l != nil {
		cloth.ID, cloth.Length = id+panelsOnly, s.Used
		b.cloths = append(b.cloths, cloth)
		b.st.Settled.Laid = append(b.st.Settled.Laid, planning.PieceName{Fabric: cloth.ID, Piece: 1})
	}
}

// lay puts down a layout of those panels of a sheet that stand and are asked for here; nil
// where there are none.
func (b *changeBuilder) lay(s StandingSheet, id string, which func(string) bool) *planning.Layout {
	l := planning.Layout{Fabric: id, Piece: 1}
	var ends length.Length
	for _, p := range s.Panels {
		name := panelID(s.Number, p.Panel)
		if !b.held[name] && !b.loose[name] || !which(name) {
			continue
		}
		ends = max(ends, p.Y+p.H)
		l.Panels = append(l.Panels, planning.PlacedPanel{ID: name, Role: p.Role, Case: NumberID(p.Size), X: mm(p.X), Y: mm(p.Y), W: mm(p.W), H: mm(p.H)})
	}
	if len(l.Panels) == 0 {
		return nil
	}
	l.Used = mm(ends)
	if len(l.Panels) == len(s.Panels) {
		for _, r := range s.Remnants {
			l.Remnants = append(l.Remnants, planning.Remnant{X: mm(r.X), Y: mm(r.Y), W: mm(r.W), H: mm(r.H)})
		}
	}
	b.st.Plan.Layouts = append(b.st.Plan.Layouts, l)
	return &l
}

// makeProblem puts cloth, lines and what stays together.
func (b *changeBuilder) makeProblem() {
	in := b.c.Now
	in.Cloths = b.cloths
	in.Wants = slices.Clone(in.Wants)
	for i := range in.Wants {
		in.Wants[i].Wanted += b.lines[in.Wants[i].ID]
		w := in.Wants[i]
		w.Wanted = 0
		b.st.Lines[w.ID] = w
	}
	p, _ := in.Problem()
	for _, f := range b.kept {
		f.Roles = b.roles
		p.Fabrics = append(p.Fabrics, f)
	}
	known := map[string]bool{}
	for _, c := range p.Cases {
		known[c.ID] = true
	}
	for _, k := range b.st.Plan.Kits {
		for _, s := range in.Sizes {
			if s.ID == k.Case && !known[s.ID] {
				known[s.ID] = true
				p.Cases = append(p.Cases, s.asCase())
			}
		}
	}
	if len(b.kept) > 0 {
		p.Trims[keptGroup] = []string{keptGroup}
	}
	for i := range p.Quotas {
		if q := &p.Quotas[i]; b.lines[q.ID] > 0 {
			q.Bodies = append(q.Bodies, keptGroup)
			q.Cases = b.withSettledCases(q)
		}
	}
	b.problem = p
}

// withSettledCases lets a line be filled by the sizes that settled kits of it have.
func (b *changeBuilder) withSettledCases(q *planning.Quota) []string {
	cases := slices.Clone(q.Cases)
	for _, k := range b.st.Plan.Kits {
		if k.Quota == q.ID && slices.Contains(b.st.Settled.Kits, k.ID) && !slices.Contains(cases, k.Case) {
			cases = append(cases, k.Case)
		}
	}
	return cases
}
