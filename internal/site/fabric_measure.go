package site

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// measurePage is the form that gives a tagged lot its size.
type measurePage struct {
	Form     measureForm
	Problems map[string]string
	Clash    clash
	Lot      postgres.LotPage
	Yardage  string
	Unit     string

	DepthHint string // how deep a border strip usually is
	Waiting   int    // lots that wait to be measured
	Hand      string // who else has it on the table; empty: nobody
	Like      int64  // the lot that kind of cloth, washing and shelf were taken over from; 0: none
	Look      measuredLook
	Picks     measurePicks
	Turns     []turnPick
	More      measureMore
}

// measureMore says which of the folded parts stand open.
type measureMore struct{ Flaws, Border, Pieces bool }

func (measurePage) template() string { return "fabric-measure.html" }
func (p measurePage) title() string  { return fmt.Sprintf("Measure lot %d", p.Lot.Number) }

// nextToMeasure handles GET /drives/:drive/fabric/measure: the lot that waits
// longest, or the one in somebody's hand by ?lot=, its number or its tag.
func (s *Site) nextToMeasure(c *gin.Context) error {
	ctx, id := c.Request.Context(), s.driveID(c)
	if typed := scanned(clean(c.Query("lot"))); typed != "" {
		number, err := s.db.LotByTag(ctx, id, typed)
		if err != nil {
			return err
		}
		if n, ok := wholeNumber(typed); ok && number == 0 {
			number = n
		}
		if number == 0 {
			return apperr.NotFound("No lot here has the number or the tag %s. Tag it first.", typed)
		}
		return s.seeOther(c, s.path(c, "fabric", number, "measure"))
	}
	after, _ := wholeNumber(c.Query("after"))
	next, err := s.db.NextToMeasure(ctx, id, after, s.tablet(c))
	if err != nil {
		return err
	}
	if next == 0 {
		s.flash(c, "Every lot is measured.")
		return s.seeOther(c, s.path(c, "fabric"))
	}
	return s.seeOther(c, s.path(c, "fabric", next, "measure"))
}

// measureLot handles GET /drives/:drive/fabric/:lot/measure?like=7: the form, with
// what mostly stays the same taken over from another lot.
func (s *Site) measureLot(c *gin.Context) error {
	lot, err := s.lotOf(c)
	if err != nil {
		return err
	}
	if err := lot.StillALot(); err != nil {
		return err
	}
	if lot.Measured() {
		s.flash(c, "Lot %d is measured already.", lot.Number)
		return s.seeOther(c, s.path(c, "fabric", lot.Number))
	}
	page := measurePage{Lot: lot, Form: measureFormOf(lot.Lot, s.drive(c))}
	if n, ok := wholeNumber(c.Query("like")); ok && lot.Fibre == "" {
		other, err := s.db.Lot(c.Request.Context(), s.driveID(c), n)
		if err != nil {
			return err
		}
		if other.Measured() {
			page.Form, page.Like = page.Form.like(other.Lot), n
		}
	}
	return s.measureWith(c, http.StatusOK, page)
}

// measureLotNow handles POST /drives/:drive/fabric/:lot/measure: a tagged lot gets
// its size. Where somebody else was first, both are shown and nothing is lost.
func (s *Site) measureLotNow(c *gin.Context) error {
	page, m, err := s.readMeasure(c)
	if err != nil {
		return err
	}
	if len(page.Problems) == 0 {
		measure := s.db.MeasureLot
		if page.Form.Instead == "yes" {
			measure = s.db.MeasureInstead
		}
		done, err := measure(c.Request.Context(), s.act(c), page.Lot.Number, page.Form.version(), m)
		switch {
		case err == nil:
			return s.measured(c, done, m, page.Form)
		case apperr.Is(err, apperr.KindConflict) && page.Lot.Version != page.Form.version():
			page.clashes(s.drive(c))
			return s.measureWith(c, http.StatusConflict, page)
		case !adopt(page.Problems, err):
			return err
		}
	}
	return s.measureWith(c, http.StatusUnprocessableEntity, page)
}

// clashes shows what stands beside what was typed. Sending the form again puts it
// in place of a measuring that stands.
func (p *measurePage) clashes(d drive.Drive) {
	stands, fields := measureFormOf(p.Lot.Lot, d), measureFields()
	typed := p.Form
	for _, f := range []*measureForm{&stands, &typed} {
		f.Colour, f.Theme, f.Colours, f.Themes = f.colours(), f.themes(), "", ""
		f.Width, f.Usual = cmp.Or(f.Width, f.Usual), ""
	}
	if along, across, err := length.ParseRect(typed.Length, d.Unit, length.Down); length.IsRect(typed.Length) && typed.Width == "" && err == nil {
		typed.Length, typed.Width = length.Format(along, d.Yardage()), length.Format(across, d.Unit)
	}
	if !p.Lot.Measured() {
		// Nobody measured it: only what stands can differ.
		fields = slices.DeleteFunc(fields, func(f clashField) bool { return f.Name != "shelf" && f.Name != "colour" && f.Name != "theme" })
	}
	p.Clash, p.Form.Version, p.Form.Instead = newClash(stands, typed, fields, lengthsIn(d.Yardage(), "length"), lengthsIn(d.Unit, "width")), stands.Version, yes(p.Lot.Measured())
}

// measureFields names the fields where two measurings may differ.
func measureFields() []clashField {
	return []clashField{
		{"length", "Length", nil},
		{"width", "Width", nil},
		{"pieces", "Pieces", nil},
		{"ends", "Ends", nil},
		{"weight", "Kind of cloth", nil},
		{"fibre", "Fibre", nil},
		{"washed", "Washed already", yesNo()},
		{"print", "Print", nil},
		{"trim_ok", "May be trim too", yesNo()},
		{"turn", "How it lies", turnOptions()},
		{"border", "Border print", nil},
		{"colour", "Colours", nil},
		{"theme", "Themes", nil},
		{"shelf", "Shelf", nil},
	}
}

// measured goes on after a lot was measured: to the next that waits, or to the lot.
func (s *Site) measured(c *gin.Context, done postgres.LotMeasured, m drive.Measured, form measureForm) error {
	ctx, d := c.Request.Context(), s.drive(c)
	lot, err := s.db.Lot(ctx, d.ID, done.Number)
	if err != nil {
		return err
	}
	next, said := int64(0), ""
	for i, words := range clothWords(lot.Cloths(lot.Pieces), d) {
		if i > 0 {
			said += "; "
		}
		said += words
	}
	if form.Then == "next" {
		if next, err = s.db.TakeNextInHand(ctx, d.ID, done.Number, s.tablet(c), visitorOf(c).person.ID); err != nil {
			return err
		}
		if next == 0 {
			said += ". No other lot waits"
		}
	}
	said += "."
	if doubts := form.doubts(m, d); len(doubts) > 0 {
		said += " " + strings.Join(doubts, " ") + " Undo puts the form back with what was typed."
	}
	s.flashUndo(c, s.path(c, "fabric", done.Number, "undo"), "Lot %d is measured: usable %s", done.Number, said)
	if next != 0 {
		return s.seeOther(c, s.path(c, "fabric", next, "measure")+"?like="+strconv.FormatInt(done.Number, 10))
	}
	return s.seeOther(c, s.path(c, "fabric", done.Number))
}

// readMeasure reads the form of a lot, with what is wrong with it.
func (s *Site) readMeasure(c *gin.Context) (measurePage, drive.Measured, error) {
	lot, err := s.lotOf(c)
	if err != nil {
		return measurePage{}, drive.Measured{}, err
	}
	page := measurePage{Lot: lot}
	if err := s.read(c, &page.Form); err != nil {
		return page, drive.Measured{}, err
	}
	var m drive.Measured
	m, page.Problems = page.Form.measured(s.drive(c), lot.PiecesTold)
	return page, m, nil
}

func (s *Site) measureWith(c *gin.Context, status int, page measurePage) error {
	ctx, d := c.Request.Context(), s.drive(c)
	page.Yardage, page.Unit, page.Picks = string(d.Yardage()), string(d.Unit), newMeasurePicks(d)
	depth, err := s.db.BorderDepth(ctx, d.ID)
	if err != nil {
		return err
	}
	page.DepthHint = "The strip becomes a piece of its own; without a depth the border stays on."
	if depth > 0 {
		page.DepthHint = length.Format(depth, d.Unit) + " is as deep as the longest body. " + page.DepthHint
	}
	waiting, err := s.db.Lots(ctx, d.ID, postgres.LotsQuery{State: postgres.LotsWaiting, Limit: 1})
	if err != nil {
		return err
	}
	page.Waiting = waiting.Total
	hand, err := s.db.InHand(ctx, d.ID, page.Lot.Number, s.tablet(c))
	if err != nil {
		return err
	}
	if hand != nil && !page.Lot.Measured() {
		page.Hand = cmp.Or(hand.Name, "Somebody")
	}
	if err := s.offerWords(c, &page); err != nil {
		return err
	}
	if page.Turns == nil {
		page.Turns = plainTurnPicks(cmp.Or(page.Form.Turn, drive.TurnEither))
	}
	f := page.Form
	page.More = measureMore{
		Flaws:  f.Flaws != "" || slices.ContainsFunc(f.Flaw[:], flawForm.said),
		Border: f.Border != "" || f.BorderDepth != "",
		Pieces: f.Usable != "" || f.Length2 != "" || f.Length3 != "",
	}
	return s.page(c, status, page)
}

// offerWords puts colours, themes and shelves beside the form as taps; what was
// typed or stands already is chosen among them.
func (s *Site) offerWords(c *gin.Context, page *measurePage) error {
	ctx, id := c.Request.Context(), s.driveID(c)
	colours, err := s.db.Colours(ctx, id)
	if err != nil {
		return err
	}
	themes, err := s.db.Themes(ctx, id)
	if err != nil {
		return err
	}
	page.Picks.Colours, page.Picks.Themes = offerColours(colours, page.Form.Colour), offerThemes(themes, page.Form.Theme)
	page.Picks.Shelves, err = s.db.Shelves(ctx, id)
	return err
}

// tablet tells one place where somebody is signed in from another, and tells nobody
// how to be there.
func (s *Site) tablet(c *gin.Context) string {
	sum := sha256.Sum256([]byte("tablet " + s.sessions.Token(c.Request.Context())))
	return hex.EncodeToString(sum[:12])
}

// lotOf gives the lot of the address.
func (s *Site) lotOf(c *gin.Context) (postgres.LotPage, error) {
	number, err := s.number(c, "lot")
	if err != nil {
		return postgres.LotPage{}, err
	}
	return s.db.Lot(c.Request.Context(), s.driveID(c), number)
}
