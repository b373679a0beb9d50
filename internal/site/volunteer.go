package site

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/postgres"
	"boltward/internal/words"
)

// volunteerPage is what a personal link opens: the kits that somebody has.
type volunteerPage struct {
	words.Visit
	Token string
}

func (volunteerPage) template() string { return "volunteer.html" }
func (p volunteerPage) title() string  { return p.Visit.Title }

// volunteerKitPage is one of them: what can be said of it, and how it is sewn.
type volunteerKitPage struct {
	words.Visit
	Token    string
	Kit      words.VisitKit
	Said     []volunteerSaid
	Card     words.Card
	Shown    shownSteps
	Form     reportForm
	Problems map[string]string
}

func (volunteerKitPage) template() string { return "volunteer-kit.html" }
func (p volunteerKitPage) title() string  { return p.Kit.Title }

// volunteerSaid is what they said of the kit and may take back.
type volunteerSaid struct {
	Report int64
	Text   string
	Back   string // what takes it back
}

// reportForm is as typed into whichever form of the page was sent.
type reportForm struct {
	Finished string `form:"finished"`
	Until    string `form:"until"`
	Note     string `form:"note"`
}

// volunteer handles GET /v/:token.
func (s *Site) volunteer(c *gin.Context) error {
	guest, err := s.openPersonalLink(c)
	if err != nil {
		return err
	}
	lines, said, err := s.kitsOfGuest(c.Request.Context(), guest)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, volunteerPage{Visit: s.visitOf(c, guest, lines, said), Token: c.Param("token")})
}

// volunteerKit handles GET /v/:token/kits/:kit.
func (s *Site) volunteerKit(c *gin.Context) error {
	guest, err := s.openPersonalLink(c)
	if err != nil {
		return err
	}
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	return s.volunteerKitWith(c, http.StatusOK, guest, ref, false, map[string]string{})
}

// volunteerFinished handles POST /v/:token/kits/:kit/finished: so many are sewn.
func (s *Site) volunteerFinished(c *gin.Context) error {
	return s.volunteerSays(c, func(r *drive.KitReport, form reportForm, problems map[string]string) {
		r.Kind, r.Note = drive.ReportFinished, ""
		r.Cases = typedCount(problems, "finished", form.Finished, 0)
	})
}

// volunteerLonger handles POST /v/:token/kits/:kit/longer: another day is asked for.
func (s *Site) volunteerLonger(c *gin.Context) error {
	return s.volunteerSays(c, func(r *drive.KitReport, form reportForm, problems map[string]string) {
		r.Kind, r.Note = drive.ReportLonger, ""
		r.Until = typedDay(problems, "until", form.Until)
	})
}

// volunteerCannot handles POST /v/:token/kits/:kit/cannot.
func (s *Site) volunteerCannot(c *gin.Context) error {
	return s.volunteerSays(c, func(r *drive.KitReport, _ reportForm, _ map[string]string) { r.Kind = drive.ReportCannot })
}

// volunteerTakesBack handles POST /v/:token/kits/:kit/take-back/:report.
func (s *Site) volunteerTakesBack(c *gin.Context) error {
	guest, err := s.openPersonalLink(c)
	if err != nil {
		return err
	}
	if err := needKey(c); err != nil {
		return err
	}
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	report, err := s.number(c, "report")
	if err != nil {
		return err
	}
	// One that does not stand any more is as they wish it.
	_, err = s.db.EndReport(c.Request.Context(), s.guestAct(c, guest), report, guest.Person.Number)
	if err != nil && !apperr.Is(err, apperr.KindConflict) {
		return err
	}
	return s.seeOther(c, volunteerPath(c.Param("token"), ref))
}

// volunteerSays notes what a holder says of the kit in the address. What cannot
// be stands beside its field, in their language, and names nobody.
func (s *Site) volunteerSays(c *gin.Context, read func(*drive.KitReport, reportForm, map[string]string)) error {
	guest, err := s.openPersonalLink(c)
	if err != nil {
		return err
	}
	if err := needKey(c); err != nil {
		return err
	}
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	var form reportForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	problems, l := map[string]string{}, s.guests
	report := drive.KitReport{KitRef: ref, Person: guest.Person.Number, Note: form.Note}
	read(&report, form, problems)
	w := l.Visit(words.VisitFacts{}).Words
	for field, say := range map[string]string{"finished": w.Unreadable, "until": w.UnreadableDay} {
		if problems[field] != "" {
			problems[field] = say
		}
	}
	if len(problems) > 0 {
		return s.volunteerKitWith(c, http.StatusUnprocessableEntity, guest, ref, true, problems)
	}
	var before int64
	var kits []postgres.KitLine
	err = s.db.Together(c.Request.Context(),
		func(ctx context.Context) (err error) {
			before, err = s.db.KitReported(ctx, s.guestAct(c, guest))
			return err
		},
		func(ctx context.Context) (err error) {
			kits, err = s.db.KitsHeld(ctx, guest.Drive.ID, guest.Person.Number)
			return err
		})
	// Sent twice, the kit may be with them no longer: the desk took it in meanwhile.
	switch {
	case apperr.Is(err, apperr.KindConflict):
		problem(problems, "", "%s", w.SentBefore)
		return s.volunteerKitWith(c, http.StatusConflict, guest, ref, true, problems)
	case err != nil:
		return err
	case before > 0:
		return s.seeOther(c, volunteerPath(c.Param("token"), ref))
	}
	kit, err := s.oneOf(kits, ref)
	if err != nil {
		return err
	}
	if fault := kit.Report(report, s.today(c)); fault != "" {
		problem(problems, fault.Field(), "%s", l.Fault(string(fault), kit.Cases))
		return s.volunteerKitWith(c, http.StatusUnprocessableEntity, guest, ref, true, problems)
	}
	_, err = s.db.ReportKit(c.Request.Context(), s.guestAct(c, guest), report)
	if apperr.Is(err, apperr.KindConflict) {
		// The kit moved meanwhile, which its page says, or the form was sent before with something else.
		problem(problems, "", "%s", w.SentBefore)
		return s.volunteerKitWith(c, http.StatusConflict, guest, ref, true, problems)
	}
	if err != nil {
		return err
	}
	return s.seeOther(c, volunteerPath(c.Param("token"), ref))
}

func (s *Site) volunteerKitWith(c *gin.Context, status int, guest postgres.Guest, ref drive.KitRef, typed bool, problems map[string]string) error {
	var kit postgres.KitLine
	var said map[drive.KitRef][]drive.StandingReport
	var kits []drive.KitToSew
	err := s.db.Together(c.Request.Context(),
		func(ctx context.Context) (err error) { kit, said, err = s.kitOfGuest(ctx, guest, ref); return err },
		func(ctx context.Context) (err error) {
			kits, err = s.db.KitsToSew(ctx, guest.Drive, []drive.KitRef{ref})
			return err
		})
	if err != nil {
		return err
	}
	if len(kits) == 0 {
		return apperr.NotFound("%s", s.guests.Visit(words.VisitFacts{}).Words.Gone)
	}
	facts, err := paper.CardFacts(guest.Drive, kits[0], s.guests)
	if err != nil {
		return err
	}
	page := volunteerKitPage{
		Visit: s.visitOf(c, guest, []postgres.KitLine{kit}, said), Token: c.Param("token"),
		Card: s.guests.Card(facts), Problems: problems,
	}
	page.Kit, page.Shown = page.Kits[0], s.showSteps(page.Card, facts)
	for _, r := range said[ref] {
		said := volunteerSaid{r.Report, page.Kit.Said.Cannot, page.Words.BackCannot}
		switch r.Kind {
		case drive.ReportFinished:
			said.Text, said.Back, page.Form.Finished = page.Kit.Said.Finished, page.Words.BackFinished, fmt.Sprint(r.Done)
		case drive.ReportLonger:
			said.Text, said.Back, page.Form.Until = page.Kit.Said.Longer, page.Words.BackLonger, r.Until.Format(time.DateOnly)
		}
		page.Said = append(page.Said, said)
	}
	if typed {
		// What was sent over what stands: the other forms of the page come back as they were filled in.
		if err := s.read(c, &page.Form); err != nil {
			return err
		}
	}
	return s.page(c, status, page)
}

// openPersonalLink gives whose link is in the address, and makes their drive the
// one that the page is of.
func (s *Site) openPersonalLink(c *gin.Context) (postgres.Guest, error) {
	w := s.guests.Visit(words.VisitFacts{}).Words
	gone := apperr.NotFound("%s. %s", w.LinkGone, w.LinkGoneLong)
	id, ok := s.key.Open(c.Param("token"))
	if !ok {
		return postgres.Guest{}, gone
	}
	guest, err := s.db.PersonByLink(c.Request.Context(), id)
	if apperr.Is(err, apperr.KindNotFound) {
		return guest, gone
	}
	if err != nil {
		return guest, err
	}
	c.Set(visitorKey, &visitor{drive: guest.Drive})
	return guest, nil
}

// kitsOfGuest gives the kits somebody has, the most urgent first, and what they said of them.
func (s *Site) kitsOfGuest(ctx context.Context, guest postgres.Guest) (kits []postgres.KitLine, said map[drive.KitRef][]drive.StandingReport, err error) {
	err = s.db.Together(ctx,
		func(ctx context.Context) (err error) {
			kits, err = s.db.KitsHeld(ctx, guest.Drive.ID, guest.Person.Number)
			return err
		},
		func(ctx context.Context) (err error) {
			said, err = s.db.ReportsOf(ctx, guest.Drive.ID, guest.Person.Number, 0)
			return err
		})
	return kits, said, err
}

// kitOfGuest gives a kit that somebody has, and what they said of their kits; any other is not found.
func (s *Site) kitOfGuest(ctx context.Context, guest postgres.Guest, ref drive.KitRef) (postgres.KitLine, map[drive.KitRef][]drive.StandingReport, error) {
	lines, said, err := s.kitsOfGuest(ctx, guest)
	if err != nil {
		return postgres.KitLine{}, nil, err
	}
	kit, err := s.oneOf(lines, ref)
	return kit, said, err
}

// oneOf gives a kit of those somebody has; any other is not found.
func (s *Site) oneOf(kits []postgres.KitLine, ref drive.KitRef) (postgres.KitLine, error) {
	for _, kit := range kits {
		if kit.KitRef == ref {
			return kit, nil
		}
	}
	return postgres.KitLine{}, apperr.NotFound("%s", s.guests.Visit(words.VisitFacts{}).Words.Gone)
}

func (s *Site) visitOf(c *gin.Context, guest postgres.Guest, lines []postgres.KitLine, said map[drive.KitRef][]drive.StandingReport) words.Visit {
	facts := words.VisitFacts{Name: guest.Person.Name, Drive: guest.Drive.Name, Ask: guest.Drive.Ask}
	for _, k := range lines {
		f := words.VisitKitFacts{Kit: k.String(), Cases: k.Cases, Size: k.SizeName, Late: k.Late(s.today(c)), OwnFabric: k.OwnFabric}
		if k.Due != nil {
			f.Due = s.guests.Date(*k.Due)
		}
		for _, r := range said[k.KitRef] {
			switch r.Kind {
			case drive.ReportFinished:
				f.Finished = r.Done
			case drive.ReportLonger:
				f.Until = s.guests.Date(*r.Until)
				if k.NeededBy != nil && k.NeededBy.Before(*r.Until) && !k.NeededBy.Before(s.today(c)) {
					f.Needed = s.guests.Date(*k.NeededBy)
				}
			case drive.ReportCannot:
				f.Cannot = true
			}
		}
		facts.Kits = append(facts.Kits, f)
	}
	return s.guests.Visit(facts)
}

// guestAct is act for somebody who has not signed in: their link says who they are.
func (s *Site) guestAct(c *gin.Context, guest postgres.Guest) drive.Act {
	act := s.act(c)
	act.Link = fmt.Sprintf("person %d", guest.Person.Number)
	return act
}

// volunteerPath gives the address of a page of a personal link.
func volunteerPath(token string, kit drive.KitRef) string {
	return "/v/" + url.PathEscape(token) + "/kits/" + url.PathEscape(kit.String())
}
