package drive

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/planning"
)

// PlanChange is what decides whether a changed plan can take the place of the one it changes.
type PlanChange struct {
	Number   int64 // the changed plan's
	FirstNew PlanNumbers
	Problem  *planning.Problem // that the plan is a plan of
	Plan     *planning.Plan
	Was      PlanStands // when the change was asked for
	Now      Changing   // read once everything is locked
}

// SheetChange is a sheet that is laid out anew: its next revision, or, where it is on the
// table or cut, only which kits its panels go to.
type SheetChange struct {
	Was StandingSheet
	New NewSheet
}

// ChangeAcceptance is what an accepted change writes.
type ChangeAcceptance struct {
	Stay      []int64       // sheets that stay as they are
	Revised   []SheetChange // laid out anew
	Withdrawn []Sheet       // not cut any more
	New       []NewSheet
	KitsStay  []int64
	Kits      KitMoves
	Fabric    []FabricEntry
}

// Difference compares the changed plan with what stood.
func (c PlanChange) Difference() *planning.Replanned {
	return planning.Compare(c.Problem, c.Was.Plan, c.Plan)
}

// Numbers says how many new sheets and kits the change makes.
func (c PlanChange) Numbers() (sheets, kits int) {
	for _, l := range c.Plan.Layouts {
		if _, _, sheet, err := parseLaid(l.Fabric); err == nil && sheet == 0 {
			sheets++
		}
	}
	d := c.Difference()
	return sheets, len(d.Changed) + len(d.New)
}

// Accept turns a changed plan into what has to be written; whole or not at all. It is a
// conflict, which names them, when a sheet that it changes was signed out or cut since it was
// asked for, when one that it keeps came up short, when a kit that it gives up was cut, when
// cloth is gone, or when what is asked for changed.
func (c PlanChange) Accept() (ChangeAcceptance, error) {
	a := changeAcceptance{PlanChange: c, out: ChangeAcceptance{}, sheets: map[int64]StandingSheet{}, diff: c.Difference()}
	for _, s := range c.Now.Sheets {
		a.sheets[s.Number] = s
	}
	if err := a.linesStand(); err != nil {
		return ChangeAcceptance{}, err
	}
	if err := a.numberKits(); err != nil {
		return ChangeAcceptance{}, err
	}
	if err := a.layOut(); err != nil {
		return ChangeAcceptance{}, err
	}
	if err := a.clothStands(); err != nil {
		return ChangeAcceptance{}, err
	}
	if err := a.moveKits(); err != nil {
		return ChangeAcceptance{}, err
	}
	return a.out, nil
}

type changeAcceptance struct {
	PlanChange
	out     ChangeAcceptance
	diff    *planning.Replanned
	sheets  map[int64]StandingSheet
	kitOf   map[string]KitRef // by the plan's id
	panelOf map[string]Panel  // where each panel goes
	states  map[int64][]SheetState
}

// linesStand refuses a plan that makes more than is asked for now, or that was made for lines
// or sizes that have changed.
func (a *changeAcceptance) linesStand() error {
	now, stands := a.Now.Problem()
	wanted := map[string]int{}
	for _, q := range now.Quotas {
		wanted[q.ID] = q.Wanted
	}
	for _, q := range a.Plan.Quotas {
		if q.Made > wanted[q.ID] {
			return apperr.Conflict("Line %s still asks for %d, and this plan makes %d. What is asked for has changed since; change the plan again.",
				lineName(q.ID, stands.Lines[q.ID]), wanted[q.ID], q.Made)
		}
	}
	for _, id := range slices.Concat(a.diff.Changed, a.diff.New) {
		k := kitByID(a.Plan, id)
		was, is := a.Was.Lines[k.Quota], stands.Lines[k.Quota]
		was.Name, is.Name, was.Weight, is.Weight = "", "", 0, 0
		if !reflect.DeepEqual(was, is) {
			return apperr.Conflict("What line %s asks for has changed since; change the plan again.", lineName(k.Quota, stands.Lines[k.Quota]))
		}
		for _, c := range now.Cases {
			if made := a.Problem.CaseByID(c.ID); c.ID == k.Case && !reflect.DeepEqual(c, *made) {
				return apperr.Conflict("Size %s is cut otherwise now; change the plan again.", k.Case)
			}
		}
	}
	if faults := planning.Check(a.Problem, a.Plan); len(faults) > 0 {
		return fmt.Errorf("changed plan %d breaks its own rules: %s", a.Number, faults[0])
	}
	return nil
}

func kitByID(p *planning.Plan, id string) *planning.Kit {
	for i := range p.Kits {
		if p.Kits[i].ID == id {
			return &p.Kits[i]
		}
	}
	return nil
}

// numberKits gives kits that stay their number, and all others the next ones: a label that was
// written for a kit is never right for another.
func (a *changeAcceptance) numberKits() error {
	a.kitOf, a.panelOf = map[string]KitRef{}, map[string]Panel{}
	stay := map[string]bool{}
	for _, id := range a.diff.Kept {
		stay[id] = true
	}
	next := a.FirstNew.Kit
	for _, k := range a.Plan.Kits {
		size, err := strconv.ParseInt(k.Case, 10, 64)
		if err != nil {
			return fmt.Errorf("kit %s of the plan: %w", k.ID, err)
		}
		ref := KitRef{Number: next, Part: 1}
		if stay[k.ID] {
			if ref.Number, err = strconv.ParseInt(k.ID, 10, 64); err != nil {
				return fmt.Errorf("kit %s of the plan: %w", k.ID, err)
			}
			a.out.KitsStay = append(a.out.KitsStay, ref.Number)
		} else {
			next++
		}
		a.kitOf[k.ID] = ref
		for number, one := range k.Pillowcases {
			for role, ids := range one {
				for _, id := range ids {
					a.panelOf[id] = Panel{Role: role, Size: size, Kit: ref, Pillowcase: number + 1}
				}
			}
		}
	}
	return nil
}

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
	begun := s.State == SheetOnTable || s.State == SheetCut
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

// clothStands frees the cloth of sheets that are laid out anew or withdrawn, promises what the
// plan takes, and refuses where a piece does not hold it any more.
func (a *changeAcceptance) clothStands() error {
	free := map[string]length.Length{}
	lying := map[string]Shelved{}
	for _, s := range a.Now.Shelf {
		free[ClothID(s.Lot, s.Piece)], lying[ClothID(s.Lot, s.Piece)] = s.Length, s
	}
	groups := map[string]string{}
	for _, f := range a.Problem.Fabrics {
		if lot, piece, _, err := parseLaid(f.ID); err == nil && f.Group != keptGroup {
			groups[ClothID(lot, piece)] = f.Group
		}
	}
	var release, promise []FabricEntry
	var lots []int64
	give := func(s Sheet) error {
		if s.State != SheetWaiting {
			return nil
		}
		area, err := s.Used.Times(s.Width)
		if err != nil {
			return fmt.Errorf("cloth of sheet %d: %w", s.Number, err)
		}
		e := s.entry(FabricReleased, Promised, Free, area)
		e.Length, e.Reason = s.Used, "plan changed"
		release = append(release, e)
		free[ClothID(s.Lot, s.Piece)] += s.Used
		return nil
	}
	take := func(n NewSheet) error {
		id := ClothID(n.Lot, n.Piece)
		s := lying[id]
		free[id] -= n.Used
		if free[id] < 0 || s.Waits(a.Now.Now.Washing) != "" || s.group(nil).id != groups[id] {
			lots = append(lots, n.Lot)
			return nil
		}
		area, err := n.Used.Times(s.Width)
		if err != nil {
			return fmt.Errorf("cloth of sheet %d: %w", n.Number, err)
		}
		number := n.Number
		promise = append(promise, FabricEntry{
			Lot: n.Lot, Piece: n.Piece, Kind: FabricPromised, From: Free, To: Promised, Length: n.Used, Area: area, Plan: &a.Number, Sheet: &number,
		})
		return nil
	}
	for _, s := range a.out.Withdrawn {
		if err := give(s); err != nil {
			return err
		}
	}
	var laid []NewSheet
	for _, r := range a.out.Revised {
		if r.Was.State == SheetWaiting || r.Was.State == SheetShort {
			if err := give(r.Was.Sheet); err != nil {
				return err
			}
			laid = append(laid, r.New)
		}
	}
	for _, n := range append(laid, a.out.New...) {
		if err := take(n); err != nil {
			return err
		}
	}
	if len(lots) > 0 {
		slices.Sort(lots)
		return apperr.Conflict("Somebody was first: %s promised elsewhere or changed since this change was worked out. Nothing was changed; put this plan away and change the plan again.", lotsAre(slices.Compact(lots)))
	}
	a.out.Fabric = append(release, promise...)
	return nil
}

// moveKits takes kits apart that fall away and brings new ones into being.
func (a *changeAcceptance) moveKits() error {
	parts := map[int64][]Kit{}
	for _, k := range a.Now.Kits {
		parts[k.Number] = append(parts[k.Number], k)
	}
	var against []string
	for _, id := range slices.Concat(a.diff.Changed, a.diff.Gone) {
		number, err := strconv.ParseInt(id, 10, 64)
		if err != nil {
			return fmt.Errorf("kit %s of the plan: %w", id, err)
		}
		if len(parts[number]) == 0 {
			return apperr.Conflict("Kit %d is in this plan no more. Nothing was changed; change the plan again.", number)
		}
		k := parts[number][0]
		if len(parts[number]) > 1 || k.State != KitPlanned && k.State != KitOnTable || k.Count(CasePlanned) != k.Cases {
			against = append(against, fmt.Sprintf("Kit %s %s.", k.KitRef, k.Where()))
			continue
		}
		cases, _ := k.move(k.Cases, []CaseState{CasePlanned}, k.Part, CaseWithdrawn, nil, "plan changed")
		e := k.enter(KitTakenApart, "plan changed")
		e.Cases = 0
		a.out.Kits.Add(KitMoves{Kits: []KitEntry{e}, Cases: cases})
	}
	if len(against) > 0 {
		return apperr.Conflict("%s Nothing was changed; put this plan away and change the plan again.", strings.Join(against, " "))
	}
	for _, id := range slices.Concat(a.diff.Changed, a.diff.New) {
		if err := a.bornKit(kitByID(a.Plan, id)); err != nil {
			return err
		}
	}
	slices.SortFunc(a.out.Kits.Born, func(x, y NewKit) int { return x.Compare(y.KitRef) })
	return nil
}

func (a *changeAcceptance) bornKit(k *planning.Kit) error {
	asked, err := strconv.ParseInt(k.Quota, 10, 64)
	if err != nil {
		return fmt.Errorf("kit %s of the plan: %w", k.ID, err)
	}
	size, err := strconv.ParseInt(k.Case, 10, 64)
	if err != nil {
		return fmt.Errorf("kit %s of the plan: %w", k.ID, err)
	}
	ref, n := a.kitOf[k.ID], len(k.Pillowcases)
	m := KitMoves{
		Born:  []NewKit{{KitRef: ref, Asked: &asked, Size: size, Plan: &a.Number}},
		Kits:  []KitEntry{{Kit: ref.Number, Part: ref.Part, From: KitBorn, To: KitPlanned, Cases: n}},
		Cases: []CaseEntry{{Size: size, N: n, From: CaseBorn, ToAsked: asked, ToKit: ref.Number, ToPart: ref.Part, To: CasePlanned}},
	}
	// Panels that lie cut or on the table already bring the kit there.
	if to := kitBySheets(a.states[ref.Number]); to != KitPlanned {
		m.Kits = append(m.Kits, KitEntry{Kit: ref.Number, Part: ref.Part, From: KitPlanned, To: to, Cases: n})
		if to == KitCut {
			m.Cases = append(m.Cases, CaseEntry{
				Size: size, N: n, Asked: asked, Kit: ref.Number, Part: ref.Part, From: CasePlanned, ToAsked: asked, ToKit: ref.Number, ToPart: ref.Part, To: CaseCut,
			})
		}
	}
	a.out.Kits.Add(m)
	return nil
}
