package drive

import (
	"fmt"
	"time"

	"boltward/internal/apperr"
)

// OwnFabric asks for kits without cloth of ours: a card and a due date for
// somebody who sews from their own fabric.
type OwnFabric struct {
	Kits   int        // how many
	Cases  int        // pillowcases in each
	Size   int64      // what to sew
	Asked  *int64     // the line it is for; nil: not promised yet
	Person *int64     // handed out to at once; nil: they lie ready
	Due    *time.Time // only with Person
	Note   string     // stands on the card, such as "red or green prints"
}

// The most kits of their own fabric that are made at once, and the most pillowcases in one.
const (
	MostOwnKits  = 200
	MostKitCases = 50
)

// Check says what is wrong by field. today is the day in the drive's zone.
func (o OwnFabric) Check(today time.Time) error {
	var bad []apperr.Field
	refuse := func(field, why string) { bad = append(bad, apperr.Field{Name: field, Why: why}) }
	if o.Kits < 1 || o.Kits > MostOwnKits {
		refuse("kits", fmt.Sprintf("Make 1 to %d kits at once.", MostOwnKits))
	}
	if o.Cases < 1 || o.Cases > MostKitCases {
		refuse("cases", fmt.Sprintf("A kit holds 1 to %d pillowcases.", MostKitCases))
	}
	if o.Size <= 0 {
		refuse("size", "Choose what is sewn.")
	}
	if o.Person == nil && o.Due != nil {
		refuse("due", "A day belongs to somebody: choose who gets them, or leave it empty.")
	} else if why := wrongDueDay(today, o.Due); why != "" {
		refuse("due", why)
	}
	bad = append(bad, tooLong("note", o.Note, 500)...)
	return apperr.InvalidFields(bad)
}

// Make gives the kits, numbered from first: each is ready, and handed out where
// there is a person.
func (o OwnFabric) Make(first int64, to *Holder, day time.Time) (KitMoves, error) {
	var all KitMoves
	asked := int64(0)
	if o.Asked != nil {
		asked = *o.Asked
	}
	for i := range o.Kits {
		k := Kit{
			KitRef: KitRef{first + int64(i), 1}, Asked: o.Asked, Size: o.Size, OwnFabric: true,
			Cases: o.Cases, State: KitBorn, Note: o.Note, LastPart: 1,
		}
		all.Add(KitMoves{
			Born: []NewKit{{KitRef: k.KitRef, Asked: k.Asked, Size: k.Size, OwnFabric: true, Note: k.Note}},
			Kits: []KitEntry{k.enter(KitReady, "own fabric")},
			Cases: []CaseEntry{{
				Size: k.Size, N: k.Cases, From: CaseBorn,
				ToAsked: asked, ToKit: k.Number, ToPart: k.Part, To: CaseCut, Reason: "own fabric",
			}},
		})
		if to == nil {
			continue
		}
		k.State, k.Since = KitReady, &day
		k.Held = []KitHeld{{Asked: asked, Size: k.Size, State: CaseCut, N: k.Cases}}
		out, err := k.HandOut(*to, day, o.Due)
		if err != nil {
			return KitMoves{}, err
		}
		all.Add(out)
	}
	return all, nil
}
