package site

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// kitPage is one kit, or what parted from it: where it is, what can be done
// with it now, its history, its cloth.
type kitPage struct {
	Kit      postgres.KitPage
	With     int64 // who has it, 0: nobody
	Plan     int64 // 0: none
	Change   int64 // the plan to change to make up for it, 0: none
	When     dueNote
	Parts    []postgres.KitLine // of its number, but for those that count in another again
	Again    string             // the kit that a part which was undone counts in again; empty: it was not
	Label    bool               // such a part has a label
	UndoOut  string             // where its hand-out is undone
	Unbag    string             // where it is undone that it is bagged and labelled
	Rests    []option
	Form     kitForm
	Problems map[string]string
	Sewers   []option
	Counts   []kitCount
	Events   []kitEvent
	Said     []drive.StandingReport // by whoever has it
	Word     lastWord               // of how many are sewn
}

// ToMend says that its pillowcases were sewn before and went out to be mended.
func (p kitPage) ToMend() bool { return toMend(p.Kit) }

// ToSew is about how long sewing all of it takes.
func (p kitPage) ToSew() string { return toSew(p.Kit.Cases, p.Kit.Spec) }

// DueIn is how soon its day is, after the day itself.
func (p kitPage) DueIn() string { return strings.TrimPrefix(p.When.Text, "due ") }

func (kitPage) template() string { return "kit.html" }
func (p kitPage) title() string  { return "Kit " + p.Kit.String() }

// kitForm is as typed into whichever form of the page was sent. Every field has
// a name of its own, so that a message stands beside the right one.
type kitForm struct {
	Sewn   string `form:"sewn"`
	Rest   string `form:"rest"`
	Day    string `form:"day"`
	Person string `form:"person"`
	Due    string `form:"due"`
	Longer string `form:"longer"`
	Reason string `form:"reason"`
	Found  string `form:"found"`
	Still  string `form:"still_lost"`
	Why    string `form:"why"`
	Good   string `form:"good"`
	Split  string `form:"split"`
	To     string `form:"split_to"`
	Until  string `form:"split_due"`
}

// kit handles GET /drives/:drive/kits/:kit.
func (s *Site) kit(c *gin.Context) error {
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	return s.kitWith(c, http.StatusOK, ref, false, map[string]string{})
}

// kitBack handles POST …/back: so many of it came back sewn.
func (s *Site) kitBack(c *gin.Context) error {
	return s.onKit(c, nil, func(ref drive.KitRef, form kitForm, problems map[string]string) error {
		r := drive.KitReturn{Sewn: typedCount(problems, "sewn", form.Sewn, 0), RestUnsewn: form.Rest == restUnsewn}
		day := typedDay(problems, "day", form.Day)
		if len(problems) > 0 {
			return nil
		}
		taken, err := s.db.TakeBack(c.Request.Context(), s.act(c), ref, r, orZeroDay(day))
		if err != nil {
			return err
		}
		if taken.Back == nil {
			s.flashUndo(c, s.path(c, "kits", ref, "undo-back"), "Kit %s is back unsewn and can be handed out again.", ref)
			return nil
		}
		s.flashUndo(c, s.path(c, "kits", taken.Back, "undo-back"), "%s of kit %s taken back, to be checked.", countCases(taken.Sewn), ref)
		return nil
	})
}

// kitGive handles POST …/give: somebody else gets it.
func (s *Site) kitGive(c *gin.Context) error {
	return s.onKit(c, nil, func(ref drive.KitRef, form kitForm, problems map[string]string) error {
		wish := drive.HandOut{Person: typedNumber(form.Person), Due: typedDay(problems, "due", form.Due)}
		if wish.Person == 0 {
			problem(problems, "person", "Choose who gets it.")
		}
		if len(problems) > 0 {
			return nil
		}
		homes, err := s.homesOf(c, drive.HandOut{Kits: []drive.KitRef{ref}, Person: wish.Person})
		if err != nil {
			return err
		}
		sooner, err := s.neededSooner(c, []drive.KitRef{ref}, wish.Due)
		if err != nil {
			return err
		}
		if _, err := s.db.GiveAgain(c.Request.Context(), s.act(c), ref, wish); err != nil {
			return err
		}
		s.flashUndo(c, s.undoHandOutPath(c, []drive.KitRef{ref}), "Kit %s given again.%s%s", ref, sooner, homes.told())
		return nil
	})
}

// kitLonger handles POST …/longer: whoever has it needs longer.
func (s *Site) kitLonger(c *gin.Context) error {
	return s.onKit(c, map[string]string{"due": "longer"}, func(ref drive.KitRef, form kitForm, problems map[string]string) error {
		due := typedDay(problems, "longer", form.Longer)
		if len(problems) > 0 {
			return nil
		}
		sooner, err := s.neededSooner(c, []drive.KitRef{ref}, due)
		if err != nil {
			return err
		}
		if _, err := s.db.ExtendDue(c.Request.Context(), s.act(c), []drive.KitRef{ref}, due); err != nil {
			return err
		}
		if due == nil {
			s.flash(c, "Kit %s has no day to be back by.", ref)
		} else {
			s.flash(c, "Kit %s has another day.%s", ref, sooner)
		}
		return nil
	})
}

// kitAnswered handles POST …/answered/:report: what the holder said has been dealt with.
func (s *Site) kitAnswered(c *gin.Context) error {
	report, err := s.number(c, "report")
	if err != nil {
		return err
	}
	return s.onKit(c, nil, func(ref drive.KitRef, _ kitForm, _ map[string]string) error {
		_, err := s.db.EndReport(c.Request.Context(), s.act(c), report, 0)
		return err
	})
}

// kitLost handles POST …/lost.
func (s *Site) kitLost(c *gin.Context) error {
	return s.onKit(c, nil, func(ref drive.KitRef, form kitForm, _ map[string]string) error {
		if _, err := s.db.KitLost(c.Request.Context(), s.act(c), ref, form.Reason, time.Time{}); err != nil {
			return err
		}
		s.flash(c, "Kit %s is booked as lost. When it turns up, say so here.", ref)
		return nil
	})
}

// kitFound handles POST …/found: it turned up, with so many sewn and so many still lost.
func (s *Site) kitFound(c *gin.Context) error {
	return s.onKit(c, map[string]string{"sewn": "found"}, func(ref drive.KitRef, form kitForm, problems map[string]string) error {
		sewn, lost := typedCount(problems, "found", form.Found, 0), typedCount(problems, "still_lost", form.Still, 0)
		if len(problems) > 0 {
			return nil
		}
		taken, err := s.db.KitFound(c.Request.Context(), s.act(c), ref, sewn, lost, time.Time{})
		if err != nil {
			return err
		}
		part, also := undoneBy(ref, taken)
		s.flashUndo(c, s.path(c, "kits", part, "undo-back")+also, "%s", saidFound(ref, taken))
		return nil
	})
}

// saidFound says what turned up of a kit.
func saidFound(ref drive.KitRef, taken postgres.TakenBack) string {
	if taken.Lost == 0 {
		return fmt.Sprintf("Kit %s is found.", ref)
	}
	still := areN(taken.Lost) + " still lost."
	if taken.Back != nil {
		waits := "wait"
		if taken.Sewn == 1 {
			waits = "waits"
		}
		still = fmt.Sprintf("%s of kit %s turned up and %s to be checked, as kit %s. %s", countCases(taken.Sewn), ref, waits, taken.Back, still)
	}
	if taken.Apart != nil {
		still = fmt.Sprintf("%s not sewn of kit %s turned up and can be handed out as kit %s: print its label. %s", countCases(taken.Left), ref, taken.Apart, still)
	}
	return still
}

// kitSplit handles POST …/split: some of it goes to somebody else, or into a bag of
// its own.
func (s *Site) kitSplit(c *gin.Context) error {
	renamed := map[string]string{"person": "split_to", "due": "split_due"}
	return s.onKit(c, renamed, func(ref drive.KitRef, form kitForm, problems map[string]string) error {
		n := typedCount(problems, "split", form.Split, 0)
		due := typedDay(problems, "split_due", form.Until)
		person := typedNumber(form.To)
		if person == 0 {
			due = nil
		}
		if len(problems) > 0 {
			return nil
		}
		split, err := s.db.SplitKit(c.Request.Context(), s.act(c), ref, n, person, due)
		if err != nil {
			return err
		}
		sooner, err := s.neededSooner(c, []drive.KitRef{split.Part}, due)
		s.flashUndo(c, s.path(c, "kits", split.Part, "undo-split"), "%s of kit %s are kit %s now. Print its label and put it on the bag.%s", countCases(n), ref, split.Part, s.beside(c, sooner, err))
		return nil
	})
}

// kitApart handles POST …/apart: nobody will sew it.
func (s *Site) kitApart(c *gin.Context) error {
	return s.onKit(c, nil, func(ref drive.KitRef, form kitForm, _ map[string]string) error {
		apart, err := s.db.TakeKitApart(c.Request.Context(), s.act(c), ref, form.Why, form.Good == "yes")
		if err != nil {
			return err
		}
		if apart.Tell {
			s.flash(c, "Kit %s is taken apart. Its pillowcases differ, so say among the loose panels which of them lie there.", ref)
		} else {
			s.flash(c, "Kit %s is taken apart.", ref)
		}
		return nil
	})
}

// onKit does something with the kit in the address and comes back to its page, with messages beside the fields
// where it was refused. renamed tells which field of the page a field of the store is.
func (s *Site) onKit(c *gin.Context, renamed map[string]string, do func(drive.KitRef, kitForm, map[string]string) error) error {
	return s.onKitTo(c, renamed, func(ref drive.KitRef, form kitForm, problems map[string]string) (drive.KitRef, error) {
		return ref, do(ref, form, problems)
	})
}

// onKitTo is onKit for what leads to the page of another kit, which do gives.
func (s *Site) onKitTo(c *gin.Context, renamed map[string]string, do func(drive.KitRef, kitForm, map[string]string) (drive.KitRef, error)) error {
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	var form kitForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	problems := map[string]string{}
	now, err := do(ref, form, problems)
	if err == nil && len(problems) == 0 {
		return s.seeOther(c, s.path(c, "kits", now))
	}
	status := http.StatusUnprocessableEntity
	if err != nil {
		var ok bool
		if status, ok = s.refused(problems, err); !ok {
			return err
		}
	}
	for from, to := range renamed {
		if why, said := problems[from]; said {
			delete(problems, from)
			problem(problems, to, "%s", why)
		}
	}
	return s.kitWith(c, status, ref, true, problems)
}

func (s *Site) kitWith(c *gin.Context, status int, ref drive.KitRef, typed bool, problems map[string]string) error {
	kit, err := s.db.Kit(c.Request.Context(), s.driveID(c), ref)
	if err != nil {
		return err
	}
	page := kitPage{
		Kit: kit, With: numberOr0(kit.Holder), Plan: numberOr0(kit.Plan), When: dueOf(kit.Kit, s.today(c)),
		UndoOut: s.undoHandOutPath(c, []drive.KitRef{ref}), Unbag: s.undoReadyPath(c, []drive.KitRef{ref}), Rests: []option{{restStays, "stay with " + kit.HolderName}, {restUnsewn, "came back too"}},
		Problems: problems, Counts: kitCounts(kit.Kit),
	}
	if page.Sewers, err = s.sewerOptions(c.Request.Context(), s.driveID(c), "Choose who gets it"); err != nil {
		return err
	}
	if page.Plan > 0 && kit.State == drive.KitLost {
		if page.Change, err = s.db.StandsNow(c.Request.Context(), s.driveID(c), page.Plan); err != nil {
			return err
		}
	}
	page.Events = kitEvents(kit.Events)
	page.Parts = slices.DeleteFunc(slices.Clone(kit.Parts), func(p postgres.KitLine) bool { return countedAgain(kit.Events, p.Part) })
	if kit.Parent != nil && countedAgain(kit.Events, kit.Part) {
		page.Again, page.Label = drive.KitName(kit.Number, *kit.Parent), bagged(kit.Events, kit.Part)
	}
	said, err := s.db.ReportsOf(c.Request.Context(), s.driveID(c), 0, ref.Number)
	if err != nil {
		return err
	}
	page.Said, page.Word = said[ref], lastWordOf(kit.Kit, said[ref], s.drive(c).Location())
	day := s.today(c).AddDate(0, 0, 7*dueWeeks)
	if need := kit.NeededBy; need != nil && need.After(s.today(c)) && need.Before(day) {
		day = *need
	}
	later, longer := day.Format(time.DateOnly), day
	if due := kit.Due; due != nil && !longer.After(*due) {
		longer = due.AddDate(0, 0, 7)
	}
	page.Form = kitForm{Sewn: page.Word.Sewn, Rest: page.Word.Rest, Due: later, Longer: longer.Format(time.DateOnly), Found: "0", Still: "0", Split: fmt.Sprint(min(drive.BeginnerCases, max(kit.Cases-1, 1))), Until: later}
	for _, r := range page.Said {
		if r.Kind == drive.ReportLonger && !r.Until.Before(s.today(c)) {
			page.Form.Longer = r.Until.Format(time.DateOnly)
		}
	}
	page.Sewers = slices.DeleteFunc(page.Sewers, func(o option) bool { return page.With > 0 && o.Value == fmt.Sprint(page.With) })
	if kit.Mending {
		page.Form.Found = fmt.Sprint(kit.Cases)
	}
	if typed {
		// What was sent over what stands: the other forms of the page come back as they were filled in.
		if err := s.read(c, &page.Form); err != nil {
			return err
		}
	}
	return s.page(c, status, page)
}

// kitInPath gives the kit of the address; what is no kit's name is not found.
func kitInPath(c *gin.Context) (drive.KitRef, error) {
	ref, err := drive.ParseKitName(c.Param("kit"))
	if err != nil || ref.String() != c.Param("kit") {
		return ref, apperr.NotFound("%s", aroundOf(c).NoKit)
	}
	return ref, nil
}

func orZeroDay(day *time.Time) time.Time {
	if day == nil {
		return time.Time{}
	}
	return *day
}
