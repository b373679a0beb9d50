package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

// Plan is one plan of a drive as it stands, without its layouts.
type Plan struct {
	Number     int64      `db:"number"`
	State      PlanState  `db:"state"`
	Made       float64    `db:"made"`  // weight of what it makes
	Bound      float64    `db:"bound"` // no plan of the same problem is worth more
	Cases      int        `db:"cases"`
	Changes    *int64     `db:"changes"` // the accepted plan whose place it would take
	CasesBound int        `db:"cases_bound"`
	Seconds    float64    `db:"seconds"` // that working it out has taken
	Phase      string     `db:"phase"`
	Stopping   bool       `db:"stopping"` // somebody asked to keep the best so far
	Trouble    string     `db:"trouble"`  // why it failed
	CreatedAt  time.Time  `db:"created_at"`
	EndedAt    *time.Time `db:"ended_at"`
	AcceptedAt *time.Time `db:"accepted_at"`
	Version    int        `db:"version"`
	PassedOver bool       `db:"passed_over"` // it waits, but another was accepted since, of the same cloth
}

// Busy says whether the plan is still being worked out.
func (p Plan) Busy() bool { return p.State == PlanWaiting || p.State == PlanRunning }

// Withdrawn says whether the plan was accepted once and given up before it was cut.
func (p Plan) Withdrawn() bool { return p.State == PlanDropped && p.AcceptedAt != nil }

// Shelved is a piece of cloth and where it lies.
type Shelved struct {
	Cloth
	Lot   int64
	Piece int
	Shelf string
}

// NewSheet is a cut sheet about to be kept.
type NewSheet struct {
	Number   int64
	Lot      int64
	Piece    int
	Used     Side
	Panels   []Panel
	Remnants []Remnant
}

// Acceptance is what an accepted plan becomes.
type Acceptance struct {
	Sheets []NewSheet
	Kits   KitMoves
	Fabric []FabricEntry
}

// Accepting is what decides whether a plan can be accepted.
type Accepting struct {
	Number   int64 // the plan's
	FirstNew PlanNumbers
	Problem  *planning.Problem
	Plan     *planning.Plan
	Now      PlanInput // the rules, sizes and lines as they stand; its cloth is not read
	Shelf    []Shelved // the pieces that the plan cuts, as they lie now
}

// PlanNumbers are the first of as many numbers as the plan has layouts and kits.
type PlanNumbers struct{ Sheet, Kit int64 }

// Accept turns a plan into sheets in the order of the shelves, kits, and entries
// of the three ledgers; whole or not at all. It is a conflict, which names them,
// when a piece is not as it was when the plan was made, when a line asks for
// less than the plan makes, or when a size is cut otherwise now.
func (a Accepting) Accept() (Acceptance, error) {
	if err := a.stillStands(); err != nil {
		return Acceptance{}, err
	}
	kits, panelOf, err := a.kits()
	if err != nil {
		return Acceptance{}, err
	}
	out := Acceptance{Kits: kits}
	lying := map[string]Shelved{}
	for _, s := range a.Shelf {
		lying[s.ID] = s
	}
	layouts := slices.Clone(a.Plan.Layouts)
	slices.SortStableFunc(layouts, func(x, y planning.Layout) int { return lying[x.Fabric].compare(lying[y.Fabric]) })
	for i, l := range layouts {
		sheet, err := newSheet(a.FirstNew.Sheet+int64(i), lying[l.Fabric], l, panelOf)
		if err != nil {
			return Acceptance{}, err
		}
		area, err := sheet.Used.Times(lying[l.Fabric].Width)
		if err != nil {
			return Acceptance{}, fmt.Errorf("cloth of sheet %d: %w", sheet.Number, err)
		}
		out.Sheets = append(out.Sheets, sheet)
		out.Fabric = append(out.Fabric, FabricEntry{
			Lot: sheet.Lot, Piece: sheet.Piece, Kind: FabricPromised, From: Free, To: Promised,
			Length: sheet.Used, Area: area, Plan: &a.Number, Sheet: &sheet.Number,
		})
	}
	return out, nil
}

func (s Shelved) compare(o Shelved) int {
	if c := strings.Compare(strings.ToLower(s.Shelf), strings.ToLower(o.Shelf)); c != 0 {
		return c
	}
	if s.Lot != o.Lot {
		return int(min(max(s.Lot-o.Lot, -1), 1))
	}
	return s.Piece - o.Piece
}

// stillStands refuses a plan that does not fit what lies and is asked for now.
func (a Accepting) stillStands() error {
	if lots := a.changedLots(); len(lots) > 0 {
		return apperr.Conflict("Somebody was first: %s promised elsewhere or changed since this plan was made. Nothing was accepted; plan again with what is free now.", lotsAre(lots))
	}
	wants := map[string]Want{}
	for _, w := range a.Now.Wants {
		wants[w.ID] = w
	}
	for _, q := range a.Plan.Quotas {
		if w := wants[q.ID]; q.Made > w.Wanted {
			return apperr.Conflict("Line %s still asks for %d, and this plan makes %d. What is asked for has changed since; plan again.", lineName(q.ID, w), w.Wanted, q.Made)
		}
	}
	if faults := planning.Check(a.today(wants)); len(faults) > 0 {
		if lots := a.ruledLots(); len(lots) > 0 {
			return apperr.Conflict("What was decided by eye of %s, and perhaps sizes, lines or other cloth, is other than when this plan was made, and it does not keep to that (%s). Nothing was accepted; plan again.", lotNumbers(lots), faults[0])
		}
		return apperr.Conflict("Sizes, lines or cloth were changed since this plan was made (%s), so it does not fit any more. Plan again.", faults[0])
	}
	return nil
}

func lineName(id string, w Want) string {
	if w.Name == "" {
		return id
	}
	return id + " (" + w.Name + ")"
}

// changedLots gives the lots of pieces that are not as the problem has them. What was decided by
// eye since changes no cloth: whether the plan keeps to it, the check of all of it says.
func (a Accepting) changedLots() []int64 {
	return a.lotsOf(func(f planning.Fabric, s Shelved) bool {
		seen, _, _ := strings.Cut(f.Group, eyeSeam)
		now, _, _ := strings.Cut(s.group(nil).id, eyeSeam)
		return mm(s.Length) != f.Length || mm(s.Width) != f.Width || s.Waits(a.Now.Washing) != "" || now != seen
	})
}

// ruledLots gives the lots of which something was decided by eye since.
func (a Accepting) ruledLots() []int64 {
	return a.lotsOf(func(f planning.Fabric, s Shelved) bool { return s.group(nil).id != f.Group })
}

// lotsOf gives the lots of the pieces that the plan cuts of which is says so, as they were planned and lie now.
func (a Accepting) lotsOf(is func(planning.Fabric, Shelved) bool) []int64 {
	asked := map[string]planning.Fabric{}
	for _, f := range a.Problem.Fabrics {
		asked[f.ID] = f
	}
	lying := map[string]Shelved{}
	for _, s := range a.Shelf {
		lying[s.ID] = s
	}
	var lots []int64
	for _, l := range a.Plan.Layouts {
		if is(asked[l.Fabric], lying[l.Fabric]) {
			lot, _, _ := ParseClothID(l.Fabric)
			lots = append(lots, lot)
		}
	}
	slices.Sort(lots)
	return slices.Compact(lots)
}

// lotsAre writes "lot 4 is" or "lots 4, 7 and 9 are".
func lotsAre(lots []int64) string {
	words := make([]string, len(lots))
	for i, n := range lots {
		words[i] = strconv.FormatInt(n, 10)
	}
	if len(words) == 1 {
		return "lot " + words[0] + " is"
	}
	last := len(words) - 1
	return "lots " + strings.Join(words[:last], ", ") + " and " + words[last] + " are"
}

// today gives the plan and the problem it has to fit: cloth, sizes and lines as
// they are now, with the weights, kits and remnants that it was made by.
func (a Accepting) today(wants map[string]Want) (*planning.Problem, *planning.Plan) {
	in := PlanInput{Sizes: a.Now.Sizes, Washing: a.Now.Washing, KitCases: a.Problem.Kit.Cases}
	for _, s := range a.Shelf {
		in.Cloths = append(in.Cloths, s.Cloth)
	}
	plan := *a.Plan
	plan.Quotas = nil
	weights := map[string]planning.Quota{}
	for _, q := range a.Problem.Quotas {
		weights[q.ID] = q
	}
	for _, q := range a.Plan.Quotas {
		w, known := wants[q.ID]
		if !known || w.Wanted == 0 {
			continue
		}
		w.KitCases = weights[q.ID].Kit
		in.Wants = append(in.Wants, w)
		plan.Quotas = append(plan.Quotas, q)
	}
	problem, _ := in.Problem()
	problem.Keep = a.Problem.Keep
	for i := range problem.Quotas {
		problem.Quotas[i].Weight = weights[problem.Quotas[i].ID].Weight
	}
	return problem, &plan
}

// kits gives the plan's kits with their first entries, and where each panel goes.
func (a Accepting) kits() (KitMoves, map[string]Panel, error) {
	var moves KitMoves
	panelOf := map[string]Panel{}
	for i, k := range a.Plan.Kits {
		asked, err := strconv.ParseInt(k.Quota, 10, 64)
		if err != nil {
			return moves, nil, fmt.Errorf("kit %s of the plan: %w", k.ID, err)
		}
		size, err := strconv.ParseInt(k.Case, 10, 64)
		if err != nil {
			return moves, nil, fmt.Errorf("kit %s of the plan: %w", k.ID, err)
		}
		ref := KitRef{Number: a.FirstNew.Kit + int64(i), Part: 1}
		n := len(k.Pillowcases)
		moves.Born = append(moves.Born, NewKit{KitRef: ref, Asked: &asked, Size: size, Plan: &a.Number})
		moves.Kits = append(moves.Kits, KitEntry{Kit: ref.Number, Part: ref.Part, From: KitBorn, To: KitPlanned, Cases: n})
		moves.Cases = append(moves.Cases, CaseEntry{
			Size: size, N: n, From: CaseBorn, ToAsked: asked, ToKit: ref.Number, ToPart: ref.Part, To: CasePlanned,
		})
		for number, one := range k.Pillowcases {
			for role, ids := range one {
				for _, id := range ids {
					panelOf[id] = Panel{Role: role, Size: size, Kit: ref, Pillowcase: number + 1}
				}
			}
		}
	}
	return moves, panelOf, nil
}

// ParseClothID reads what ClothID and laidID write.
func ParseClothID(id string) (lot int64, piece int, err error) {
	lot, piece, _, err = parseLaid(id)
	return lot, piece, err
}
