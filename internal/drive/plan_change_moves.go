package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/planning"
)

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
		// A sheet that only gives panels up takes nothing new, whatever is written of its lot by now.
		group, chosen := groups[id]
		if free[id] < 0 || chosen && (s.Waits(a.Now.Now.Washing) != "" || s.group(nil).id != group) {
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
		if !r.Begun() {
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
