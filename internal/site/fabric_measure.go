package site

import (
	"fmt"
	"net/http"

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
	Lot      postgres.LotPage
	Yardage  string
	Unit     string

	DepthHint string // how deep a border strip usually is
	Waiting   int    // lots that wait to be measured
	Look      measuredLook
	Picks     measurePicks
	Themes    []string
	Shelves   []string
}

func (measurePage) template() string { return "fabric-measure.html" }
func (p measurePage) title() string  { return fmt.Sprintf("Measure lot %d", p.Lot.Number) }

// measurePicks are the words that the form offers.
type measurePicks struct {
	Weights, Fibres, Ends, Prints, Turns, Borders []option
}

func newMeasurePicks() measurePicks {
	return measurePicks{
		Weights: optionsOf(drive.Weights()), Fibres: optionsOf(drive.Fibres()),
		Ends:   []option{{drive.EndsCut, "cut"}, {drive.EndsTorn, "torn"}},
		Prints: []option{{drive.PrintSolid, "solid"}, {drive.PrintTonal, "tonal"}, {drive.PrintFeature, "feature print"}},
		Turns:  turnOptions(),
		Borders: []option{
			{"", "none"}, {drive.BorderOne, "one selvedge"}, {drive.BorderBoth, "both selvedges"},
		},
	}
}

func turnOptions() []option {
	return []option{
		{drive.TurnEither, "either way"}, {drive.TurnAlong, "along, upright"}, {drive.TurnAcross, "across, sideways"},
	}
}

// measuredLook is what the sizes typed so far come to.
type measuredLook struct {
	Shown    bool
	How      []string
	Usable   []string // each usable piece in words
	Makes    []string // what it makes alone, by size
	Problems map[string]string
}

// nextToMeasure handles GET /drives/:drive/fabric/measure: the lot that waits longest.
func (s *Site) nextToMeasure(c *gin.Context) error {
	after, _ := wholeNumber(c.Query("after"))
	next, err := s.db.NextToMeasure(c.Request.Context(), s.driveID(c), after)
	if err != nil {
		return err
	}
	if next == 0 {
		s.flash(c, "Every lot is measured.")
		return s.seeOther(c, s.path(c, "fabric"))
	}
	return s.seeOther(c, s.path(c, "fabric", next, "measure"))
}

// measureLot handles GET /drives/:drive/fabric/:lot/measure.
func (s *Site) measureLot(c *gin.Context) error {
	lot, err := s.lotOf(c)
	if err != nil {
		return err
	}
	if lot.Measured() {
		s.flash(c, "Lot %d is measured already.", lot.Number)
		return s.seeOther(c, s.path(c, "fabric", lot.Number))
	}
	return s.measureWith(c, http.StatusOK, measurePage{Lot: lot, Form: measureFormOf(lot.Lot, s.drive(c))})
}

// measureLotNow handles POST /drives/:drive/fabric/:lot/measure: a tagged lot gets
// its size.
func (s *Site) measureLotNow(c *gin.Context) error {
	page, m, err := s.readMeasure(c)
	if err != nil {
		return err
	}
	if len(page.Problems) == 0 {
		done, err := s.db.MeasureLot(c.Request.Context(), s.act(c), page.Lot.Number, page.Form.version(), m)
		if err == nil {
			return s.measured(c, done, page.Form.Then)
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.measureWith(c, http.StatusUnprocessableEntity, page)
}

// measured goes on after a lot was measured: to the next that waits, or to the lot.
func (s *Site) measured(c *gin.Context, done postgres.LotMeasured, then string) error {
	next, more := int64(0), ""
	if then == "next" {
		var err error
		if next, err = s.db.NextToMeasure(c.Request.Context(), s.driveID(c), done.Number); err != nil {
			return err
		}
		if next == 0 {
			more = " No other lot waits."
		}
	}
	s.flashUndo(c, s.path(c, "fabric", done.Number, "undo"), "Lot %d is measured: %s on the shelf.%s", done.Number, counted(done.Pieces, "piece", "pieces"), more)
	if next != 0 {
		return s.seeOther(c, s.path(c, "fabric", next, "measure"))
	}
	return s.seeOther(c, s.path(c, "fabric", done.Number))
}

// lookAtMeasure handles POST /drives/:drive/fabric/:lot/measure/look: what the
// figures typed so far come to. Nothing is saved.
func (s *Site) lookAtMeasure(c *gin.Context) error {
	page, m, err := s.readMeasure(c)
	if err != nil {
		return err
	}
	page.Look = measuredLook{Shown: true, Problems: page.Problems}
	page.Problems = nil
	if len(page.Look.Problems) > 0 {
		return s.measureWith(c, http.StatusOK, page)
	}
	out, err := drive.Measure(s.drive(c), page.Lot.Lot, m, 1)
	switch {
	case apperr.Fields(err) != nil:
		page.Look.Problems = apperr.Fields(err)
		return s.measureWith(c, http.StatusOK, page)
	case err != nil:
		return err
	}
	page.Look.How = out.How
	cloths := out.Cloths()
	page.Look.Usable = clothWords(cloths, s.drive(c))
	if page.Look.Makes, err = s.makesAlone(c, cloths); err != nil {
		return err
	}
	return s.measureWith(c, http.StatusOK, page)
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
	page.Yardage, page.Unit, page.Picks = string(d.Yardage()), string(d.Unit), newMeasurePicks()
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
	if page.Themes, err = s.db.Themes(ctx, d.ID); err != nil {
		return err
	}
	return s.page(c, status, page)
}

// lotOf gives the lot of the address.
func (s *Site) lotOf(c *gin.Context) (postgres.LotPage, error) {
	number, err := s.number(c, "lot")
	if err != nil {
		return postgres.LotPage{}, err
	}
	return s.db.Lot(c.Request.Context(), s.driveID(c), number)
}
