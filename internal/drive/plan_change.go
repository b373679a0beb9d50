package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/planning"
)

// StandingSheet is a sheet of an accepted plan with all that lies on it.
type StandingSheet struct {
	Sheet
	Panels   []Panel
	Remnants []Remnant
}

// begun says whether the sheet is on the table or cut.
func (s StandingSheet) begun() bool { return s.State == SheetOnTable || s.State == SheetCut }

// Changing is an accepted plan as it stands, with all that a change of it is made from.
type Changing struct {
	Plan   int64
	Now    PlanInput // rules, sizes and lines as they stand; a line wants what it needs beside what is settled. Its cloth is not read
	Shelf  []Shelved // pieces with free cloth, and every piece that a sheet of the plan takes of
	Sheets []StandingSheet
	Kits   []Kit // every part
}

// PlanStands is an accepted plan as a change finds it: the sheets and kits that are neither cut
// nor given up, what of them is settled, and what must not have moved when the change is accepted.
type PlanStands struct {
	Plan    *planning.Plan    `json:"plan"`
	Settled planning.Settled  `json:"settled"`
	Sheets  map[int64]SheetAt `json:"sheets"`
	Lines   map[string]Want   `json:"lines"`
	Swapped string            `json:"swapped,omitempty"` // the kit whose cuff or accent somebody chose, where that is why it changes
}

// SheetAt is how a sheet stood.
type SheetAt struct {
	Revision int        `json:"revision"`
	State    SheetState `json:"state"`
}

// laidID names the cloth of a sheet in plans: "42/1 sheet 17". What the planner adds to it
// says that it is the rest of that cloth, or that only the panels on it may be shared out anew.
func laidID(s Sheet) string { return fmt.Sprintf("%s sheet %d", ClothID(s.Lot, s.Piece), s.Number) }

// panelsOnly marks cloth of which nothing may be cut otherwise.
const panelsOnly = " as laid"

// parseLaid reads an id of cloth in a plan; sheet is 0 where no sheet has it, as with the rest of a
// piece of which a kit was given some by hand: "42/1 rest 1".
func parseLaid(id string) (lot int64, piece int, sheet int64, err error) {
	before, after, _ := strings.Cut(id, "/")
	number, more, onSheet := strings.Cut(after, " ")
	if lot, err = strconv.ParseInt(before, 10, 64); err == nil {
		piece, err = strconv.Atoi(number)
	}
	if err == nil && onSheet {
		words := strings.Fields(more)
		if len(words) < 2 || words[0] != "sheet" && words[0] != "rest" {
			err = fmt.Errorf("%q is no sheet", more)
		} else if !slices.Contains(words, "rest") {
			sheet, err = strconv.ParseInt(words[1], 10, 64)
		}
	}
	if err != nil {
		return 0, 0, 0, fmt.Errorf("piece %q of a plan: %w", id, err)
	}
	return lot, piece, sheet, nil
}

// kitClass is what a change may do with a kit.
type kitClass int

const (
	kitDead    kitClass = iota // nothing of it counts any more
	kitSettled                 // begun, cut or with somebody
	kitOpen                    // nothing of it is cut, or what it needs cannot be cut any more
)

// classes says of every kit, by its number, what may be done with it, and how many of its
// pillowcases still count.
func (c Changing) classes() (class map[int64]kitClass, alive map[int64]int) {
	class, alive = map[int64]kitClass{}, map[int64]int{}
	lacks := map[int64]bool{} // kits with panels on a sheet that came up short
	for _, s := range c.Sheets {
		for _, p := range s.Panels {
			lacks[p.Kit.Number] = lacks[p.Kit.Number] || s.State == SheetShort || s.State == SheetWithdrawn
		}
	}
	for _, k := range c.Kits {
		for _, h := range k.Held {
			if h.State.Alive() {
				alive[k.Number] += h.N
			}
		}
		switch {
		case k.State == KitPlanned, k.State == KitOnTable && lacks[k.Number]:
			class[k.Number] = kitOpen
		case class[k.Number] == kitDead && alive[k.Number] > 0:
			class[k.Number] = kitSettled
		}
	}
	return class, alive
}

// Open gives how many pillowcases of each line a change may plan otherwise.
func (c Changing) Open() map[int64]int {
	class, _ := c.classes()
	open := map[int64]int{}
	for _, k := range c.Kits {
		if class[k.Number] == kitOpen && k.Asked != nil {
			open[*k.Asked] += k.Cases
		}
	}
	return open
}

// StillToChange is how many pillowcases a change should plan for the line, of which open
// stand in kits that it may plan otherwise: what is missing without them, with the drive's
// share of spares. Spares that stand already are not given up for rounding.
func (a Asked) StillToChange(c Counts, open, spareShare int) int {
	if a.Closed {
		return 0
	}
	rest := c.Alive() - open
	missing := max(0, a.Wanted-rest)
	all := (a.Wanted*(100+spareShare) + 99) / 100
	return max((missing*(100+spareShare)+99)/100, min(open, max(0, all-rest)))
}

// Problem makes the problem of a change and what stands. Cloth of sheets that are on the
// table, cut, or hold panels of kits that are begun stays as it is, alike only to itself;
// cloth of sheets that wait may be cut otherwise, together with what is free of the piece.
func (c Changing) Problem() (*planning.Problem, PlanStands) {
	b := changeBuilder{c: c, st: PlanStands{Plan: &planning.Plan{Unit: "mm", Layouts: []planning.Layout{}, Kits: []planning.Kit{}}, Sheets: map[int64]SheetAt{}, Lines: map[string]Want{}}}
	b.class, b.alive = c.classes()
	b.takeKits()
	b.takeSheets()
	b.makeProblem()
	return b.problem, b.st
}
