package drive

import (
	"fmt"
	"slices"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

// LotRule is what somebody decided by eye, and plans keep to until it is ended: two lots
// that never meet as body and trim of one pillowcase, or a print that goes to one
// recipient alone.
type LotRule struct {
	Number    int64     `db:"number"`
	Lot       int64     `db:"lot"`
	Other     *int64    `db:"other"`     // never together with it
	Recipient *int64    `db:"recipient"` // pinned to it
	MadeAt    time.Time `db:"made_at"`
}

// Check refuses, by field, what is no rule.
func (r LotRule) Check() error {
	switch {
	case r.Lot <= 0:
		return apperr.Invalid("lot", "Say which lot.")
	case (r.Other == nil) == (r.Recipient == nil):
		return apperr.Invalid("rule", "Say which lot it never meets, or whom it is for.")
	case r.Other != nil && *r.Other == r.Lot:
		return apperr.Invalid("other", "A lot goes with itself: name another.")
	}
	return nil
}

// On gives cloth as it is planned with under the rule too.
func (r LotRule) On(cloths []Cloth) []Cloth {
	cloths = slices.Clone(cloths)
	for i := range cloths {
		c := &cloths[i]
		switch lot := lotOf(c.ID); {
		case r.Recipient != nil && lot == NumberID(r.Lot):
			c.Pin = NumberID(*r.Recipient)
		case r.Other != nil && lot == NumberID(r.Lot):
			c.Never = append(slices.Clone(c.Never), NumberID(*r.Other))
		case r.Other != nil && lot == NumberID(*r.Other):
			c.Never = append(slices.Clone(c.Never), NumberID(r.Lot))
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
}

// ByEye gives every kit of a plan with the lots that meet in its pillowcases.
func ByEye(plan *planning.Plan) ([]KitByEye, error) {
	places := plan.Panels()
	var list []KitByEye
	for _, k := range plan.Kits {
		kit := KitByEye{Kit: k.ID, Line: k.Quota, Size: k.Case, Cases: len(k.Pillowcases)}
		seen := map[string]bool{}
		for _, one := range k.Pillowcases {
			var case1 []Together
			for _, role := range rolesInOrder(one) {
				t := Together{Role: role}
				for _, id := range one[role] {
					l := places[id].Layout
					if l == nil {
						return nil, fmt.Errorf("panel %s of kit %s lies nowhere", id, k.ID)
					}
					lot, _, err := ParseClothID(l.Fabric)
					if err != nil {
						return nil, err
					}
					if !slices.Contains(t.Lots, lot) {
						t.Lots = append(t.Lots, lot)
					}
				}
				case1 = append(case1, t)
			}
			if key := fmt.Sprint(case1); !seen[key] {
				seen[key] = true
				kit.Different = append(kit.Different, case1)
			}
		}
		list = append(list, kit)
	}
	return list, nil
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
