package site

import (
	"fmt"
	"slices"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// kitUndoBack handles POST …/undo-back: what was taken back goes to where it came from.
func (s *Site) kitUndoBack(c *gin.Context) error {
	return s.onKitTo(c, nil, func(ref drive.KitRef, _ kitForm, _ map[string]string) (drive.KitRef, error) {
		undone, err := s.undoBack(c, ref)
		if err != nil {
			return ref, err
		}
		said, now := s.saidUndone(c, ref, undone)
		s.flash(c, "%s", said)
		return now, nil
	})
}

// undoBack undoes that a kit, or a part, came back or turned up, with the others of the address that did so in the same act.
func (s *Site) undoBack(c *gin.Context, ref drive.KitRef) (postgres.KitsMoved, error) {
	also, err := kitRefs(c.QueryArray("kit"))
	if err != nil {
		return postgres.KitsMoved{}, err
	}
	if slices.ContainsFunc(also, func(o drive.KitRef) bool { return o.Number != ref.Number }) {
		return postgres.KitsMoved{}, apperr.Invalid("kit", "Only parts of kit %d came back with it. Undo the others on their own pages.", ref.Number)
	}
	return s.db.UndoTakeBack(c.Request.Context(), s.act(c), append([]drive.KitRef{ref}, also...)...)
}

// saidUndone says what of a kit did not come back, or turn up, after all, and where it is now; and gives the
// kit that holds it again.
func (s *Site) saidUndone(c *gin.Context, ref drive.KitRef, undone postgres.KitsMoved) (said string, now drive.KitRef) {
	now = ref
	if undone.Now != nil { // an answer that was kept before told nothing of it
		now = *undone.Now
	}
	kit, err := s.db.Kit(c.Request.Context(), s.driveID(c), now)
	if err != nil {
		return s.beside(c, fmt.Sprintf("Undone: kit %s did not come back after all.", ref), err), now
	}
	parts := "kit " + ref.String()
	if len(undone.Kits) > 1 {
		parts = fmt.Sprintf("kits %s and %s", undone.Kits[0], undone.Kits[1])
	}
	what, did := fmt.Sprintf("%s, %s,", countCases(undone.Cases), parts), "come back"
	if undone.Cases == kit.Cases {
		what = "kit " + kit.String()
	}
	if kit.State == drive.KitLost {
		did = "turn up"
	}
	said = fmt.Sprintf("Undone: %s did not %s after all. Kit %s %s, with %s.", what, did, kit.KitRef, kit.Where(), countCases(kit.Cases))
	for _, part := range undone.Kits {
		if countedAgain(kit.Events, part.Part) && bagged(kit.Events, part.Part) {
			said += fmt.Sprintf(" Throw the label of %s away.", part)
		}
	}
	return said, now
}

// undoneBy is the part of a kit by which what was taken back, or found, of it is undone; also are the others that
// turned up with it, as an address names them.
func undoneBy(ref drive.KitRef, taken postgres.TakenBack) (part drive.KitRef, also string) {
	switch {
	case taken.Back != nil && taken.Apart != nil:
		return *taken.Back, "?" + kitsInQuery([]drive.KitRef{*taken.Apart})
	case taken.Back != nil:
		return *taken.Back, ""
	case taken.Apart != nil:
		return *taken.Apart, ""
	}
	return ref, ""
}

// kitUndoSplit handles POST …/undo-split: what was split off is counted in its kit again.
func (s *Site) kitUndoSplit(c *gin.Context) error {
	return s.onKitTo(c, nil, func(ref drive.KitRef, _ kitForm, _ map[string]string) (drive.KitRef, error) {
		whole, err := s.db.UndoSplitKit(c.Request.Context(), s.act(c), ref)
		if err != nil {
			return ref, err
		}
		s.flash(c, "Undone: kit %s holds %s again. Throw the label of %s away.", whole.Part, countCases(whole.Left), ref)
		return whole.Part, nil
	})
}

// countedAgain says by what happened to a kit, the newest first, whether this part of it is none any more, since
// that it parted was undone.
func countedAgain(events []postgres.KitEvent, part int) bool {
	i := slices.IndexFunc(events, func(e postgres.KitEvent) bool { return e.Part == part && !e.OfCases && !e.IsSaid })
	return i >= 0 && events[i].Reason == drive.ReasonAgain
}

// bagged says by what happened to a kit, the newest first, whether this part of it went into a bag with a label when
// it parted: what is split off, or turns up unsewn, does; what comes back sewn does not.
func bagged(events []postgres.KitEvent, part int) bool {
	return slices.ContainsFunc(events, func(e postgres.KitEvent) bool {
		return e.Part == part && !e.OfCases && !e.IsSaid && e.From == string(drive.KitBorn) && e.To != string(drive.KitBack)
	})
}
