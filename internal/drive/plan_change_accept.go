package drive

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"

	"boltward/internal/apperr"
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

// Begun says whether the sheet is on the table or cut.
func (c SheetChange) Begun() bool { return c.Was.begun() }

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
		was.Name, is.Name, was.Weight, is.Weight, was.Recipient, is.Recipient = "", "", 0, 0, "", ""
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
