package drive

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

// layOut says of every sheet whether it stays, and how it lies otherwise.
func (a *changeAcceptance) layOut() error {
	laid := map[int64]*NewSheet{}
	var fresh []planning.Layout
	for _, l := range a.Plan.Layouts {
		lot, piece, sheet, err := parseLaid(l.Fabric)
		if err != nil {
			return err
		}
		if sheet == 0 {
			fresh = append(fresh, l)
			continue
		}
		part, err := newSheet(sheet, Shelved{Lot: lot, Piece: piece}, l, a.panelOf)
		if err != nil {
			return err
		}
		if a.lies(l) {
			// What no kit of the plan is sewn from stays where it is.
			part.Panels = slices.DeleteFunc(part.Panels, func(p Panel) bool { return p.Kit == KitRef{} })
			if err := a.requireLain(part); err != nil {
				return err
			}
			part.Remnants = a.sheets[sheet].Remnants
		}
		if whole := laid[sheet]; whole != nil {
			whole.Used = max(whole.Used, part.Used)
			whole.Panels = append(whole.Panels, part.Panels...)
			continue
		}
		laid[sheet] = &part
	}
	a.states = map[int64][]SheetState{}
	var meanwhile []string
	for _, s := range a.Now.Sheets {
		was, known := a.Was.Sheets[s.Number]
		if !known {
			continue
		}
		if why := a.sheet(s, was, laid[s.Number]); why != "" {
			meanwhile = append(meanwhile, why)
		}
	}
	for number := range a.Was.Sheets {
		if s, here := a.sheets[number]; !here || s.State == SheetWithdrawn {
			meanwhile = append(meanwhile, fmt.Sprintf("sheet %d was withdrawn", number))
		}
	}
	if len(meanwhile) > 0 {
		slices.Sort(meanwhile)
		return apperr.Conflict("Meanwhile %s. Nothing was changed; put this plan away and change the plan again.", and(slices.Compact(meanwhile)))
	}
	return a.newSheets(fresh)
}

// sheet decides about one sheet that stood when the change was asked for; it gives what stands
// against it.
func (a *changeAcceptance) sheet(s StandingSheet, was SheetAt, laid *NewSheet) string {
	begun := s.begun()
	begunThen := was.State == SheetOnTable || was.State == SheetCut
	same := laid != nil && a.sameAs(s, *laid)
	switch {
	case s.State == SheetWithdrawn:
		return ""
	case s.Revision != was.Revision:
		return fmt.Sprintf("sheet %d was laid out anew", s.Number)
	case s.State == SheetShort && was.State != SheetShort:
		return fmt.Sprintf("sheet %d came up short", s.Number)
	case same && s.State != SheetShort, begunThen && begun && laid == nil:
		a.out.Stay = append(a.out.Stay, s.Number)
	case begunThen && begun && !a.mayGive(s, *laid):
		return fmt.Sprintf("panels of sheet %d were put into another kit or left out", s.Number)
	case begunThen && begun:
		a.out.Revised = append(a.out.Revised, SheetChange{s, regiven(s, *laid)})
	case s.State == SheetOnTable:
		return fmt.Sprintf("sheet %d was signed out to %s", s.Number, s.Helper)
	case s.State == SheetCut:
		return fmt.Sprintf("sheet %d was cut", s.Number)
	case laid == nil:
		a.out.Withdrawn = append(a.out.Withdrawn, s.Sheet)
		return ""
	default:
		laid.closeUp()
		numberInCuttingOrder(laid)
		a.out.Revised = append(a.out.Revised, SheetChange{s, *laid})
	}
	state := s.State
	if state == SheetShort {
		state = SheetWaiting
	}
	if laid != nil {
		a.note(*laid, state)
	}
	return ""
}

// lies says whether a layout is of a sheet that lies as it lay: panels change kits there, or
// fall away, and nothing is cut otherwise.
func (a *changeAcceptance) lies(l planning.Layout) bool {
	at := planning.PieceName{Fabric: l.Fabric, Piece: l.Piece}
	return slices.Contains(a.Was.Settled.Pieces, at) || slices.Contains(a.Was.Settled.Laid, at)
}

// requireLain holds that what a plan says of a sheet that lies as it lay is there: a kit would
// get a panel that nobody cuts.
func (a *changeAcceptance) requireLain(part NewSheet) error {
	s, here := a.sheets[part.Number]
	if !here || s.Revision != a.Was.Sheets[s.Number].Revision {
		return nil // what became of it meanwhile is told
	}
	for _, p := range part.Panels {
		if !slices.ContainsFunc(s.Panels, func(o Panel) bool { return o.Place == p.Place && o.Role == p.Role && o.Size == p.Size }) {
			return fmt.Errorf("changed plan %d cuts a %s from sheet %d that does not lie there", a.Number, p.Role, s.Number)
		}
	}
	return nil
}

// closeUp moves what lies behind a strip that no panel lies on any more up to what lies before
// it. A remnant that no panel lies beside is not cut off: it stays with the piece.
func (n *NewSheet) closeUp() {
	n.Remnants = slices.DeleteFunc(slices.Clone(n.Remnants), func(r Remnant) bool {
		return !slices.ContainsFunc(n.Panels, func(p Panel) bool { return p.Y < r.Y+r.H && r.Y < p.Y+p.H })
	})
	var all []*Place
	for i := range n.Panels {
		all = append(all, &n.Panels[i].Place)
	}
	for i := range n.Remnants {
		all = append(all, &n.Remnants[i].Place)
	}
	slices.SortFunc(all, func(a, b *Place) int { return cmp.Compare(a.Y, b.Y) })
	var ends, gone Side
	for _, at := range all {
		gone += max(0, at.Y-ends)
		ends = max(ends, at.Y+at.H)
		at.Y -= gone
	}
	n.Used = 0
	for _, p := range n.Panels {
		n.Used = max(n.Used, p.Y+p.H)
	}
	n.Remnants = slices.DeleteFunc(n.Remnants, func(r Remnant) bool { return r.Y+r.H > n.Used })
}

// note remembers how the sheets of each kit stand.
func (a *changeAcceptance) note(s NewSheet, state SheetState) {
	seen := map[int64]bool{}
	for _, p := range s.Panels {
		if !seen[p.Kit.Number] {
			seen[p.Kit.Number] = true
			a.states[p.Kit.Number] = append(a.states[p.Kit.Number], state)
		}
	}
}

// sameAs says whether a sheet lies as the plan has it. On one that is begun, panels of kits
// that count no more lie beside.
func (a *changeAcceptance) sameAs(s StandingSheet, laid NewSheet) bool {
	type spot struct {
		Place
		role       string
		kit        int64
		pillowcase int
	}
	lies := map[spot]bool{}
	for _, p := range s.Panels {
		lies[spot{p.Place, p.Role, p.Kit.Number, p.Pillowcase}] = true
	}
	for _, p := range laid.Panels {
		if !lies[spot{p.Place, p.Role, p.Kit.Number, p.Pillowcase}] {
			return false
		}
	}
	return len(s.Panels) == len(laid.Panels) || s.State == SheetOnTable || s.State == SheetCut
}

// mayGive says whether the panels that the plan gives to another kit are there to be given: they
// lie loose, or their kit falls away with this change. Somebody may have put them into a kit by
// hand since the change was asked for, or said that they are of no use.
func (a *changeAcceptance) mayGive(s StandingSheet, laid NewSheet) bool {
	falls := map[int64]bool{}
	for _, id := range slices.Concat(a.diff.Changed, a.diff.Gone) {
		if number, err := strconv.ParseInt(id, 10, 64); err == nil {
			falls[number] = true
		}
	}
	for _, k := range a.Now.Kits {
		falls[k.Number] = falls[k.Number] || k.Part == 1 && k.Loose && k.State == KitTakenApart
	}
	to := map[Place]Panel{}
	for _, p := range laid.Panels {
		to[p.Place] = p
	}
	for _, p := range s.Panels {
		if given, lies := to[p.Place]; lies && given.Kit != p.Kit && (p.Gone || !falls[p.Kit.Number]) {
			return false
		}
	}
	return true
}

// regiven is a sheet that is begun, its panels where they lie, those that the plan gives to
// another kit with that one.
func regiven(s StandingSheet, laid NewSheet) NewSheet {
	out := NewSheet{Number: s.Number, Lot: s.Lot, Piece: s.Piece, Used: s.Used, Panels: slices.Clone(s.Panels), Remnants: s.Remnants}
	for i := range out.Panels {
		for _, p := range laid.Panels {
			if p.Place == out.Panels[i].Place {
				out.Panels[i].Kit, out.Panels[i].Pillowcase = p.Kit, p.Pillowcase
			}
		}
	}
	return out
}

// newSheets numbers sheets that there were not, in the order of the shelves.
func (a *changeAcceptance) newSheets(layouts []planning.Layout) error {
	where := func(l planning.Layout) Shelved {
		lot, piece, _, _ := parseLaid(l.Fabric)
		for _, s := range a.Now.Shelf {
			if s.Lot == lot && s.Piece == piece {
				return s
			}
		}
		return Shelved{Lot: lot, Piece: piece}
	}
	slices.SortStableFunc(layouts, func(x, y planning.Layout) int { return where(x).compare(where(y)) })
	for i, l := range layouts {
		sheet, err := newSheet(a.FirstNew.Sheet+int64(i), where(l), l, a.panelOf)
		if err != nil {
			return err
		}
		a.out.New = append(a.out.New, sheet)
		a.note(sheet, SheetWaiting)
	}
	return nil
}
