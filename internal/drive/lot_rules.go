package drive

import (
	"fmt"
	"slices"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/planning"
	"boltward/internal/sizing"
)

// LotRuleKind is what somebody decided of a lot by eye.
type LotRuleKind string

// What can be decided: two lots that never meet in one pillowcase, a body that is always sewn
// with one cuff or accent, a print that goes to one recipient alone.
const (
	LotNever   LotRuleKind = "never"
	LotAlways  LotRuleKind = "always"
	LotKeptFor LotRuleKind = "kept for"
)

// RuleRoles says as what two lots meet. Of body and trim, cuff and accent, both ways round count:
// either lot may be the one. Of the others the first is the body.
type RuleRoles string

// The roles a rule may speak of.
const (
	BodyAndTrim   RuleRoles = "body and trim"
	BodyAndCuff   RuleRoles = "body and cuff"
	BodyAndAccent RuleRoles = "body and accent"
	CuffAndAccent RuleRoles = "cuff and accent"
)

// Trim gives the trim of body and cuff, or of body and accent; empty for others.
func (r RuleRoles) Trim() string {
	switch r {
	case BodyAndCuff:
		return sizing.Cuff
	case BodyAndAccent:
		return sizing.Accent
	}
	return ""
}

// LotRule is what somebody decided by eye, and plans keep to until it is ended.
type LotRule struct {
	Number    int64       `db:"number"`
	Kind      LotRuleKind `db:"kind"`
	Lot       int64       `db:"lot"`
	Other     *int64      `db:"other"`     // that it never, or always, meets
	Roles     RuleRoles   `db:"roles"`     // as what
	Recipient *int64      `db:"recipient"` // that it is kept for
	MadeAt    time.Time   `db:"made_at"`
}

// Check refuses, by field, what is no rule.
func (r LotRule) Check() error {
	switch {
	case r.Lot <= 0:
		return apperr.Invalid("lot", "Say which lot.")
	case r.Kind == LotKeptFor:
		if r.Recipient == nil || r.Other != nil || r.Roles != "" {
			return apperr.Invalid("recipient", "Say whom it is kept for.")
		}
		return nil
	case r.Kind != LotNever && r.Kind != LotAlways:
		return apperr.Invalid("kind", "Say whether the two lots never meet, always meet, or the print is kept for somebody.")
	case r.Other == nil || r.Recipient != nil:
		return apperr.Invalid("other", "Say which other lot.")
	case r.Kind == LotNever && *r.Other == r.Lot:
		return apperr.Invalid("other", "A lot goes with itself: name another.")
	case r.Roles.Trim() == "" && (r.Kind == LotAlways || r.Roles != BodyAndTrim && r.Roles != CuffAndAccent):
		return apperr.Invalid("roles", "Say as what they meet: body and cuff, or body and accent.")
	}
	return nil
}

// Meeting is a rule as one of its lots sees it.
type Meeting struct {
	Kind  LotRuleKind `json:"kind"`
	Other string      `json:"other"` // the other lot
	Roles RuleRoles   `json:"roles"`
	First bool        `json:"first"` // whether the rule names this lot first
}

// On gives cloth as it is planned with under the rule too.
func (r LotRule) On(cloths []Cloth) []Cloth {
	cloths = slices.Clone(cloths)
	for i := range cloths {
		c := &cloths[i]
		lot := lotOf(c.ID)
		if r.Kind == LotKeptFor {
			if lot == NumberID(r.Lot) {
				c.Pin = NumberID(*r.Recipient)
			}
			continue
		}
		if lot == NumberID(r.Lot) {
			c.Met = append(slices.Clone(c.Met), Meeting{r.Kind, NumberID(*r.Other), r.Roles, true})
		}
		if lot == NumberID(*r.Other) {
			c.Met = append(slices.Clone(c.Met), Meeting{r.Kind, NumberID(r.Lot), r.Roles, false})
		}
	}
	return cloths
}

// With gives the plan as it stands under the rule too.
func (c Changing) With(r LotRule) Changing {
	c.Shelf = slices.Clone(c.Shelf)
	for i := range c.Shelf {
		c.Shelf[i].Cloth = r.On([]Cloth{c.Shelf[i].Cloth})[0]
	}
	return c
}

// Together is what one pillowcase is cut from: the lot of each role.
type Together struct {
	Role string
	Lots []int64
}

// KitByEye is a kit of a plan with what meets in it; pillowcases that are put together alike
// stand once.
type KitByEye struct {
	Kit       string // the plan's id
	Line      string
	Size      string
	Cases     int
	Different [][]Together
	First     []int // of each, the first pillowcase of the kit that is so, from 1
	Alike     []int // and how many are
}

// ByEye gives every kit of a plan with the lots that meet in its pillowcases.
func ByEye(plan *planning.Plan) ([]KitByEye, error) {
	places := plan.Panels()
	var list []KitByEye
	for _, k := range plan.Kits {
		kit := KitByEye{Kit: k.ID, Line: k.Quota, Size: k.Case, Cases: len(k.Pillowcases)}
		seen := map[string]int{}
		for n, one := range k.Pillowcases {
			met, err := together(places, one)
			if err != nil {
				return nil, err
			}
			key := fmt.Sprint(met)
			at, known := seen[key]
			if !known {
				at = len(kit.Different)
				seen[key] = at
				kit.Different = append(kit.Different, met)
				kit.First, kit.Alike = append(kit.First, n+1), append(kit.Alike, 0)
			}
			kit.Alike[at]++
		}
		list = append(list, kit)
	}
	return list, nil
}

// together gives what one pillowcase is cut from; no lot for a role whose cloth is gone.
func together(places map[string]planning.PanelPlace, one map[string][]string) ([]Together, error) {
	var met []Together
	for _, role := range rolesInOrder(one) {
		t := Together{Role: role}
		for _, id := range one[role] {
			l := places[id].Layout
			if l == nil {
				continue // its sheet came up short, and nothing of it is left to lie on
			}
			lot, _, err := ParseClothID(l.Fabric)
			if err != nil {
				return nil, err
			}
			if !slices.Contains(t.Lots, lot) {
				t.Lots = append(t.Lots, lot)
			}
		}
		met = append(met, t)
	}
	return met, nil
}

func rolesInOrder(one map[string][]string) []string {
	var roles []string
	for _, role := range []string{"body", "cuff", "accent"} {
		if len(one[role]) > 0 {
			roles = append(roles, role)
		}
	}
	return roles
}
