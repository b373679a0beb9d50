package drive

import (
	"fmt"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/sizing"
)

// LoosePanel is one cut panel that no kit has, since its kit was taken apart.
type LoosePanel struct {
	Sheet      int64  `db:"sheet"`
	Panel      int    `db:"panel"`
	Role       string `db:"role"`
	Size       int64  `db:"size"`
	Lot        int64  `db:"lot"`
	Plan       int64  `db:"plan"` // of its sheet
	Kit        int64  `db:"kit"`  // it was cut for
	Pillowcase int    `db:"pillowcase"`
}

// LooseKit is a kit that somebody puts together by hand from panels that lie loose: so many
// pillowcases, all of the same fabrics.
type LooseKit struct {
	Size  int64
	Asked *int64 // the line it is for; nil: not promised yet
	Cases int
	Lots  map[string]int64 // the lot of each role
}

// GivenPanel is a loose panel with the pillowcase of the new kit that it goes to.
type GivenPanel struct {
	LoosePanel
	To int
}

// Make gives the kit and the panels that go into it. It is of the plan of their sheets, of none
// where they are of several. Too few panels are an invalid field of their role.
func (w LooseKit) Make(ref KitRef, spec sizing.Spec, loose []LoosePanel) (m KitMoves, given []GivenPanel, err error) {
	if w.Cases < 1 || w.Cases > MostKitCases {
		return m, nil, apperr.Invalid("cases", "A kit holds 1 to %d pillowcases.", MostKitCases)
	}
	panels, _, err := sizing.Cuts(spec)
	if err != nil {
		return m, nil, fmt.Errorf("kit of loose panels: %w", err)
	}
	var plan int64
	var bad []apperr.Field
	for _, p := range panels {
		if w.Lots[p.Role] == 0 {
			bad = append(bad, apperr.Field{Name: p.Role, Why: "Choose its fabric."})
			continue
		}
		var fit []LoosePanel
		for _, l := range loose {
			if l.Role == p.Role && l.Size == w.Size && l.Lot == w.Lots[p.Role] {
				fit = append(fit, l)
			}
		}
		if may := len(fit) / p.Pieces; may < w.Cases {
			bad = append(bad, apperr.Field{Name: p.Role, Why: fmt.Sprintf("Of lot %d %d lie loose, enough for %s.", w.Lots[p.Role], len(fit), pillowcases(may))})
			continue
		}
		for i, l := range fit[:w.Cases*p.Pieces] {
			given = append(given, GivenPanel{l, i/p.Pieces + 1})
			if len(given) == 1 {
				plan = l.Plan
			} else if plan != l.Plan {
				plan = 0
			}
		}
	}
	if err := apperr.InvalidFields(bad); err != nil {
		return m, nil, err
	}
	asked := int64(0)
	if w.Asked != nil {
		asked = *w.Asked
	}
	born := NewKit{KitRef: ref, Asked: w.Asked, Size: w.Size}
	if plan != 0 {
		born.Plan = &plan
	}
	entry := func(from, to KitState) KitEntry {
		return KitEntry{Kit: ref.Number, Part: ref.Part, From: from, To: to, Cases: w.Cases, Reason: fromLoose}
	}
	m = KitMoves{
		Born: []NewKit{born},
		Kits: []KitEntry{entry(KitBorn, KitPlanned), entry(KitPlanned, KitCut)},
		Cases: []CaseEntry{
			{Size: w.Size, N: w.Cases, From: CaseBorn, ToAsked: asked, ToKit: ref.Number, ToPart: ref.Part, To: CasePlanned, Reason: fromLoose},
			{Size: w.Size, N: w.Cases, Asked: asked, Kit: ref.Number, Part: ref.Part, From: CasePlanned, ToAsked: asked, ToKit: ref.Number, ToPart: ref.Part, To: CaseCut, Reason: fromLoose},
		},
	}
	return m, given, nil
}

const fromLoose = "put together from loose panels"

// Keeps refuses, by field, a kit that what was decided by eye is against: prints that never
// meet, one that goes to another recipient alone. recipient is 0 where it is not promised yet.
func (w LooseKit) Keeps(rules []LotRule, recipient int64) error {
	var bad []apperr.Field
	for _, r := range rules {
		switch r.Kind {
		case LotNever:
			for _, pair := range r.Roles.pairs() {
				if w.Lots[pair[0]] == r.Lot && w.Lots[pair[1]] == *r.Other {
					bad = append(bad, apperr.Field{Name: pair[1], Why: fmt.Sprintf("Lots %d and %d are never together, somebody decided by eye.", r.Lot, *r.Other)})
				}
			}
		case LotKeptFor:
			for _, role := range []string{"body", "cuff", "accent"} {
				if w.Lots[role] == r.Lot && *r.Recipient != recipient {
					bad = append(bad, apperr.Field{Name: role, Why: fmt.Sprintf("Lot %d is kept for one recipient: choose a line of theirs.", r.Lot)})
					break
				}
			}
		}
	}
	return apperr.InvalidFields(bad)
}

// pairs gives the roles in which two lots meet by a rule, that of the rule's lot first.
func (r RuleRoles) pairs() [][2]string {
	const body, cuff, accent = sizing.Body, sizing.Cuff, sizing.Accent
	switch r {
	case BodyAndCuff:
		return [][2]string{{body, cuff}}
	case BodyAndAccent:
		return [][2]string{{body, accent}}
	case CuffAndAccent:
		return [][2]string{{cuff, accent}, {accent, cuff}}
	}
	return [][2]string{{body, cuff}, {body, accent}, {cuff, body}, {accent, body}}
}

// SewnOrLost says which panels of a kit that came back in part, and whose rest is taken apart,
// are not among the rest: where all its pillowcases are put together alike, any of as many;
// else all of them, until somebody says which lie there. left is how many it still held; where that
// is all that they were cut for, none is away.
func SewnOrLost(panels []LoosePanel, left int) (gone []LoosePanel, known bool) {
	of := map[int]map[string]int{}
	for _, p := range panels {
		if of[p.Pillowcase] == nil {
			of[p.Pillowcase] = map[string]int{}
		}
		of[p.Pillowcase][fmt.Sprint(p.Role, " ", p.Lot)]++
	}
	numbers := sortedNumbers(of)
	if left >= len(numbers) {
		return nil, true
	}
	for _, n := range numbers {
		if fmt.Sprint(of[n]) != fmt.Sprint(of[numbers[0]]) {
			return panels, false
		}
	}
	away := numbers[:len(numbers)-left]
	for _, p := range panels {
		if slices.Contains(away, p.Pillowcase) {
			gone = append(gone, p)
		}
	}
	return gone, true
}
