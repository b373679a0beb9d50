package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/planning"
)

// KitChange is what becomes of one kit.
type KitChange struct {
	Number   int64 // as on its label; 0 for a new kit
	Line     string
	Size     string
	From, To int      // pillowcases before and after
	How      []string // what of it is otherwise
	Lots     []int64  // that it is cut from, then
}

// LineChange is what becomes of one line asked for.
type LineChange struct {
	ID                string
	Wanted, From, To  int // pillowcases of this plan: asked for now, made before, made after
	Stay, Others, New int // kits that stay, that change or fall away, that are new
}

// ChangeTold is what accepting a changed plan would do.
type ChangeTold struct {
	Stay, Change, Gone, New []KitChange
	Lines                   []LineChange
	SheetsStay              []int64
	SheetsAnew              []int64  // waiting, laid out anew: an old print is worth nothing
	SheetsGone              []int64  // not cut any more
	SheetsRegiven           []int64  // begun: some of their panels go to another kit
	SheetsNew               []string // cloth that gets a sheet it had not
}

// Nothing says whether accepting it would leave everything as it is.
func (c ChangeTold) Nothing() bool {
	return len(c.Change)+len(c.Gone)+len(c.New)+len(c.SheetsAnew)+len(c.SheetsGone)+len(c.SheetsRegiven)+len(c.SheetsNew) == 0
}

// TellChange says what a changed plan does to what stood when it was asked for.
func TellChange(problem *planning.Problem, plan *planning.Plan, was PlanStands) ChangeTold {
	t := changeTeller{problem: problem, plan: plan, was: was, diff: planning.Compare(problem, was.Plan, plan)}
	t.oldPlaces, t.newPlaces = was.Plan.Panels(), plan.Panels()
	t.kits()
	t.lines()
	t.sheets()
	return t.out
}

type changeTeller struct {
	problem              *planning.Problem
	plan                 *planning.Plan
	was                  PlanStands
	diff                 *planning.Replanned
	oldPlaces, newPlaces map[string]planning.PanelPlace
	out                  ChangeTold
}

func (t *changeTeller) kits() {
	for i := range t.plan.Kits {
		k := &t.plan.Kits[i]
		c := KitChange{Line: k.Quota, Size: k.Case, To: len(k.Pillowcases)}
		for _, lots := range lotsByRole(k, t.newPlaces) {
			c.Lots = append(c.Lots, lots...)
		}
		slices.Sort(c.Lots)
		c.Lots = slices.Compact(c.Lots)
		old := kitByID(t.was.Plan, k.ID)
		if old != nil {
			c.Number, c.From = kitNumber(k.ID), len(old.Pillowcases)
		}
		switch {
		case slices.Contains(t.diff.Kept, k.ID):
			t.out.Stay = append(t.out.Stay, c)
		case old != nil:
			c.How = t.how(old, k)
			t.out.Change = append(t.out.Change, c)
		default:
			t.out.New = append(t.out.New, c)
		}
	}
	for _, id := range t.diff.Gone {
		k := kitByID(t.was.Plan, id)
		t.out.Gone = append(t.out.Gone, KitChange{Number: kitNumber(id), Line: k.Quota, Size: k.Case, From: len(k.Pillowcases)})
	}
}

func kitNumber(id string) int64 {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// lotsByRole gives the lots that each role of a kit is cut from.
func lotsByRole(k *planning.Kit, places map[string]planning.PanelPlace) map[string][]int64 {
	out := map[string][]int64{}
	for _, one := range k.Pillowcases {
		for role, ids := range one {
			for _, id := range ids {
				if l := places[id].Layout; l != nil {
					if lot, _, err := ParseClothID(l.Fabric); err == nil && !slices.Contains(out[role], lot) {
						out[role] = append(out[role], lot)
					}
				}
			}
		}
	}
	for role := range out {
		slices.Sort(out[role])
	}
	return out
}

// how says in words what of a kit is otherwise.
func (t *changeTeller) how(old, now *planning.Kit) []string {
	var how []string
	if a, b := len(old.Pillowcases), len(now.Pillowcases); a != b {
		how = append(how, fmt.Sprintf("%s instead of %d", pillowcases(b), a))
	}
	before, after := lotsByRole(old, t.oldPlaces), lotsByRole(now, t.newPlaces)
	var roles []string
	for role := range after {
		roles = append(roles, role)
	}
	slices.SortFunc(roles, func(a, b string) int {
		if (a == planning.Body) != (b == planning.Body) {
			if a == planning.Body {
				return -1
			}
			return 1
		}
		return strings.Compare(a, b)
	})
	for _, role := range roles {
		if !slices.Equal(before[role], after[role]) {
			how = append(how, fmt.Sprintf("%s from %s instead of %s", role, lotNumbers(after[role]), lotNumbers(before[role])))
		}
	}
	if len(how) == 0 {
		how = append(how, "cut elsewhere from the same cloth")
	}
	return how
}

func lotNumbers(lots []int64) string {
	words := make([]string, len(lots))
	for i, n := range lots {
		words[i] = strconv.FormatInt(n, 10)
	}
	return lotWords(words)
}

func (t *changeTeller) lines() {
	at := map[string]int{}
	line := func(id string) *LineChange {
		if _, known := at[id]; !known {
			at[id] = len(t.out.Lines)
			t.out.Lines = append(t.out.Lines, LineChange{ID: id})
		}
		return &t.out.Lines[at[id]]
	}
	for _, q := range t.problem.Quotas {
		l := line(q.ID)
		l.Wanted, l.To = q.Wanted, t.plan.Made(q.ID)
	}
	for _, q := range t.was.Plan.Quotas {
		line(q.ID).From = q.Made
	}
	for _, k := range t.out.Stay {
		line(k.Line).Stay++
	}
	for _, k := range slices.Concat(t.out.Change, t.out.Gone) {
		line(k.Line).Others++
	}
	for _, k := range t.out.New {
		line(k.Line).New++
	}
}

// sheets compares how each sheet lies: which panels, where, for which kits.
func (t *changeTeller) sheets() {
	before, after := sheetsAsText(t.was.Plan, t.diff.Kept, "before"), sheetsAsText(t.plan, t.diff.Kept, "after")
	var numbers []int64
	for n := range t.was.Sheets {
		numbers = append(numbers, n)
	}
	slices.Sort(numbers)
	for _, n := range numbers {
		s := t.was.Sheets[n]
		begun := s.State == SheetOnTable || s.State == SheetCut
		switch {
		case s.State != SheetShort && slices.Equal(before[n], after[n]), begun && within(after[n], before[n]):
			t.out.SheetsStay = append(t.out.SheetsStay, n)
		case begun:
			t.out.SheetsRegiven = append(t.out.SheetsRegiven, n)
		case len(after[n]) == 0:
			t.out.SheetsGone = append(t.out.SheetsGone, n)
		default:
			t.out.SheetsAnew = append(t.out.SheetsAnew, n)
		}
	}
	for _, l := range t.plan.Layouts {
		if lot, piece, sheet, err := parseLaid(l.Fabric); err == nil && sheet == 0 {
			t.out.SheetsNew = append(t.out.SheetsNew, ClothID(lot, piece))
		}
	}
}

// sheetsAsText writes down each sheet of a plan. Kits that do not stay get another number, so
// panels of theirs make it another sheet; which says before or after.
func sheetsAsText(p *planning.Plan, kept []string, which string) map[int64][]string {
	places := p.Panels()
	lines := map[int64][]string{}
	for i := range p.Layouts {
		_, _, sheet, err := parseLaid(p.Layouts[i].Fabric)
		if err != nil || sheet == 0 {
			continue
		}
		for _, x := range p.Layouts[i].Panels {
			kit := which
			if k := places[x.ID].Kit; k != nil && slices.Contains(kept, k.ID) {
				kit = k.ID
			}
			lines[sheet] = append(lines[sheet], fmt.Sprintf("%s %s %s %s %s %s", kit, x.Role, x.X, x.Y, x.W, x.H))
		}
	}
	for _, list := range lines {
		slices.Sort(list)
	}
	return lines
}

// within says whether all of some lines stand among others: panels of kits that fall away lie
// beside, where a sheet is begun.
func within(some, all []string) bool {
	return !slices.ContainsFunc(some, func(line string) bool { return !slices.Contains(all, line) })
}
