package site

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// withKitForm is what came back of a kit, as typed.
type withKitForm struct {
	Kit   string `form:"kit"`
	Sewn  string `form:"sewn"`
	Rest  string `form:"rest"`  // unsewn: the rest came back too
	Extra string `form:"extra"` // yes: what is more than the kit holds is of own fabric
	Still string `form:"still_lost"`
}

// backKit handles POST /drives/:drive/back/kit. A kit alone is shown with what is
// known of it, so that a scanner's Enter leads on to the count; with a count it is
// booked: as back where somebody has it, as found where it was lost.
func (s *Site) backKit(c *gin.Context) error {
	p := backPage{Problems: map[string]string{}}
	if err := s.read(c, &p.WithKit); err != nil {
		return err
	}
	kit, err := s.kitTyped(c, p.WithKit.Kit, p.Problems)
	if err != nil {
		return err
	}
	if len(p.Problems) == 0 {
		if p.WithKit.Sewn == "" && p.WithKit.Rest == "" {
			return s.seeOther(c, s.path(c, "back")+"?kit="+kit.String())
		}
		if p.Scanned, err = s.scanned(c, kit); err != nil {
			return err
		}
		if err := s.takeIn(c, kit, p.WithKit, p.Problems); err != nil {
			return err
		}
		if len(p.Problems) == 0 {
			return s.seeOther(c, s.path(c, "back"))
		}
		p.Scanned.More = moreThanHeld(kit, p.WithKit)
	}
	return s.backWith(c, http.StatusUnprocessableEntity, p)
}

// kitTyped finds the kit that was scanned or typed; what is none is a problem of the
// field "kit".
func (s *Site) kitTyped(c *gin.Context, typed string, problems map[string]string) (postgres.KitPage, error) {
	refs, err := drive.ReadKitCodes(typed, s.driveID(c), s.url.String())
	if err == nil && len(refs) != 1 {
		err = apperr.Invalid("kit", "Scan the label of one kit, or type its number.")
	}
	if err != nil {
		if adopt(problems, err) {
			err = nil
		}
		return postgres.KitPage{}, err
	}
	kit, err := s.db.Kit(c.Request.Context(), s.driveID(c), refs[0])
	if apperr.Is(err, apperr.KindNotFound) {
		problem(problems, "kit", "There is no kit %s in %s. Look at the number on the label again; without a label, bring them in without a kit.", refs[0], s.drive(c).Name)
		err = nil
	}
	return kit, err
}

// takeIn books what came back of a kit; where that is refused, it says so in problems.
func (s *Site) takeIn(c *gin.Context, kit postgres.KitPage, form withKitForm, problems map[string]string) error {
	ctx, ref := c.Request.Context(), kit.KitRef
	if _, err := drive.ReadKitCodes(form.Sewn, s.driveID(c), s.url.String()); err == nil && strings.Contains(form.Sewn, "/") {
		problem(problems, "sewn", "That is a label. Say first how many of kit %s lie here, then scan the next.", ref)
		return nil
	}
	sewn, lost := typedCount(problems, "sewn", form.Sewn, 0), typedCount(problems, "still_lost", form.Still, 0)
	if len(problems) > 0 {
		return nil
	}
	in := drive.KitCounted{Sewn: sewn, RestUnsewn: form.Rest == restUnsewn, OwnFabric: form.Extra == "yes", StillLost: lost}
	done, err := s.db.TakeIn(ctx, s.act(c), ref, in, time.Time{})
	switch {
	case apperr.Is(err, apperr.KindNotFound) || apperr.Is(err, apperr.KindConflict):
		problem(problems, "kit", "%s", err.Error())
		return nil
	case err != nil && adopt(problems, err):
		return nil
	case err != nil:
		return err
	}
	part, also := undoneBy(ref, done)
	s.flashUndo(c, s.path(c, "back", "kit", part, "undo")+also, "%s", saidTaken(kit, done))
	return nil
}

// saidTaken says what was booked of a kit.
func saidTaken(kit postgres.KitPage, done postgres.TakenBack) string {
	rest := ""
	switch {
	case done.Extra > 0:
		rest = fmt.Sprintf(" %d more of own fabric wait with them, not promised yet.", done.Extra)
	case done.Left == 0:
		rest = " That is all of it."
	case done.Here:
		rest = fmt.Sprintf(" %d not sewn %s here and can be handed out.", done.Left, oneOr(done.Left, "lies", "lie"))
	default:
		rest = fmt.Sprintf(" %d to go, with %s.", done.Left, kit.HolderName)
	}
	if done.Lost > 0 {
		if done.Apart != nil {
			rest = fmt.Sprintf(" %d not sewn can be handed out as kit %s: print its label.", done.Left, done.Apart)
		} else {
			rest = ""
		}
		return fmt.Sprintf("%d of kit %s turned up.%s %s still lost.", done.Sewn+done.Left, kit.KitRef, rest, areN(done.Lost))
	}
	if done.Found && done.Sewn == 0 {
		return fmt.Sprintf("Kit %s turned up, and none of it is sewn.%s", kit.KitRef, rest)
	}
	if done.Found {
		return fmt.Sprintf("Kit %s turned up, %d sewn.%s", kit.KitRef, done.Sewn, rest)
	}
	if done.Sewn == 0 {
		return fmt.Sprintf("Kit %s came back, and none of it is sewn.%s", kit.KitRef, rest)
	}
	return fmt.Sprintf("%d sewn of kit %s came back.%s", done.Sewn, kit.KitRef, rest)
}

// areN counts as the beginning of a clause: "1 is", "3 are".
func areN(n int) string {
	if n == 1 {
		return "1 is"
	}
	return fmt.Sprintf("%d are", n)
}

// moreThanHeld is how many more than the kit holds were counted, 0 where it is not so.
func moreThanHeld(kit postgres.KitPage, form withKitForm) int {
	n := typedCount(map[string]string{}, "", form.Sewn, 0)
	if kit.State != drive.KitOut {
		return 0
	}
	return max(n-kit.Cases, 0)
}

// scannedKit is the kit that lies on the table.
type scannedKit struct {
	Kit   postgres.KitPage
	Takes bool // it is out or lost, so that it can be taken in
	Lost  bool
	More  int // counted beyond what it holds
	Word  lastWord
}

func (s *Site) scanned(c *gin.Context, kit postgres.KitPage) (*scannedKit, error) {
	said, err := s.db.ReportsOf(c.Request.Context(), s.driveID(c), 0, kit.Number)
	if err != nil {
		return nil, err
	}
	lost := kit.State == drive.KitLost
	return &scannedKit{Kit: kit, Lost: lost, Takes: lost || kit.State == drive.KitOut, Word: lastWordOf(kit.Kit, said[kit.KitRef], s.drive(c).Location())}, nil
}

// ToMend says that its pillowcases were sewn before and went out to be mended.
func (s scannedKit) ToMend() bool { return toMend(s.Kit) }

// Ask is what the count of it is.
func (s scannedKit) Ask() string {
	switch {
	case s.ToMend() && s.Lost:
		return "How many turned up"
	case s.ToMend():
		return "How many came back"
	}
	return "How many are sewn"
}

// What becomes of the pillowcases of a kit that are not sewn.
const (
	restStays  = "stays"
	restUnsewn = "unsewn"
)

// lastWord is the count that taking a kit back begins with, and whose word that is.
type lastWord struct {
	Sewn  string
	Rest  string // what becomes of the others
	Whose string // a sentence; empty where nobody said anything, and all of the kit is counted
}

// lastWordOf is what whoever has a kit said last of how many are sewn. Where they cannot finish it the others
// come back too, and no count is begun with unless they said how far they came; pillowcases to mend were sewn before.
func lastWordOf(kit drive.Kit, said []drive.StandingReport, zone *time.Location) lastWord {
	word := lastWord{Sewn: strconv.Itoa(kit.Cases), Rest: restStays}
	if kit.Mending || kit.Count(drive.CaseToMend) > 0 {
		return word
	}
	if slices.ContainsFunc(said, func(r drive.StandingReport) bool { return r.Kind == drive.ReportCannot }) {
		word.Rest = restUnsewn
	}
	for _, r := range said {
		on := r.At.In(zone).Format("2 Jan 2006")
		switch r.Kind {
		case drive.ReportFinished:
			word.Sewn, word.Whose = strconv.Itoa(r.Done), fmt.Sprintf("%s said on %s that %d %s finished.", r.Name, on, r.Done, is(r.Done))
			return word
		case drive.ReportCannot:
			word.Sewn, word.Whose = "", fmt.Sprintf("%s said on %s that they cannot finish it, and not how many are sewn.", r.Name, on)
		}
	}
	return word
}

// toMend says that the pillowcases of a kit that is out or lost went out to be mended.
func toMend(kit postgres.KitPage) bool { return kit.Mending || kit.Count(drive.CaseToMend) > 0 }

// backKitUndo handles POST /drives/:drive/back/kit/:kit/undo.
func (s *Site) backKitUndo(c *gin.Context) error {
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	undone, err := s.undoBack(c, ref)
	if err != nil {
		return err
	}
	said, _ := s.saidUndone(c, ref, undone)
	s.flash(c, "%s", said)
	return s.seeOther(c, s.path(c, "back"))
}
