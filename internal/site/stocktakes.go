package site

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// mostMissing is how many of the lots that were not scanned yet one page shows.
const mostMissing = 200

// stocktakesPage lists the stocktakes and begins one.
type stocktakesPage struct {
	Form     stocktakeForm
	Problems map[string]string
	Takes    []postgres.StocktakeLine
	Open     int64 // the one that is open; 0: none
	Shelves  []option
	Writes   bool
}

func (stocktakesPage) template() string { return "stocktakes.html" }
func (stocktakesPage) title() string    { return "Stocktakes" }

// stocktakeForm is as typed.
type stocktakeForm struct {
	Shelf string `form:"shelf"`
}

// stocktakePage is one stocktake: what to scan next, what differs, what is missing.
type stocktakePage struct {
	Take     postgres.StocktakePage
	Code     string
	Problems map[string]string
	Reason   string
	Differ   []countRow
	AsBooked []countRow
	Missing  []lotRow
	More     int // lots not scanned that are not shown
	Writes   bool
	IsOpen   bool
}

func (stocktakePage) template() string { return "stocktake.html" }
func (p stocktakePage) title() string  { return fmt.Sprintf("Stocktake %d", p.Take.Number) }

// countRow is what was counted of a piece, or of a lot where all is as booked.
type countRow struct {
	Lot     int64
	Name    string
	What    string
	Shelf   string
	Booked  string
	Counted string
	By      string
	Less    string // how much less lies there
	More    string // or more
	Deed    *int64
}

// stocktakes handles GET /drives/:drive/fabric/stocktakes.
func (s *Site) stocktakes(c *gin.Context) error {
	return s.stocktakesWith(c, http.StatusOK, stocktakesPage{})
}

// beginStocktake handles POST /drives/:drive/fabric/stocktakes.
func (s *Site) beginStocktake(c *gin.Context) error {
	page := stocktakesPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	take, err := s.db.BeginStocktake(c.Request.Context(), s.act(c), page.Form.Shelf)
	if apperr.Is(err, apperr.KindConflict) {
		page.Problems[""] = apperr.As(err).Text
		return s.stocktakesWith(c, http.StatusConflict, page)
	}
	if err != nil {
		return err
	}
	return s.seeOther(c, s.path(c, "fabric", "stocktakes", take))
}

func (s *Site) stocktakesWith(c *gin.Context, status int, page stocktakesPage) error {
	ctx, id := c.Request.Context(), s.driveID(c)
	var err error
	if page.Takes, err = s.db.Stocktakes(ctx, id); err != nil {
		return err
	}
	for _, t := range page.Takes {
		if t.State == drive.StocktakeOpen {
			page.Open = t.Number
		}
	}
	shelves, err := s.db.Shelves(ctx, id)
	if err != nil {
		return err
	}
	page.Shelves = anyOf("every shelf", shelves)
	page.Writes = s.may(c, account.Fabric, account.Write)
	return s.page(c, status, page)
}

// stocktake handles GET /drives/:drive/fabric/stocktakes/:take. With ?code= it goes
// on to the lot that was scanned.
func (s *Site) stocktake(c *gin.Context) error {
	page := stocktakePage{Code: clean(c.Query("code")), Problems: map[string]string{}}
	if page.Code != "" {
		lot, err := s.lotScanned(c, page.Code)
		if err != nil {
			return err
		}
		if lot != 0 {
			take, err := s.number(c, "take")
			if err != nil {
				return err
			}
			return s.seeOther(c, s.path(c, "fabric", "stocktakes", take, lot))
		}
		problem(page.Problems, "code", "No lot here has this label, tag or number. Look at it again, or tag it as a new lot.")
	}
	status := http.StatusOK
	if len(page.Problems) > 0 {
		status = http.StatusNotFound
	}
	return s.stocktakeWith(c, status, page)
}

func (s *Site) stocktakeWith(c *gin.Context, status int, page stocktakePage) error {
	take, err := s.number(c, "take")
	if err != nil {
		return err
	}
	d := s.drive(c)
	if page.Take, err = s.db.Stocktake(c.Request.Context(), d.ID, take, mostMissing); err != nil {
		return err
	}
	for _, counted := range page.Take.Counted {
		rows, differs := countRows(counted, d)
		if differs {
			page.Differ = append(page.Differ, rows...)
		} else {
			page.AsBooked = append(page.AsBooked, rows...)
		}
	}
	for _, l := range page.Take.Missing {
		page.Missing = append(page.Missing, newLotRow(l, d))
	}
	page.More = page.Take.ToCount - len(page.Missing)
	page.Writes, page.IsOpen = s.may(c, account.Fabric, account.Write), page.Take.State == drive.StocktakeOpen
	return s.page(c, status, page)
}

// countRows gives the pieces of a counted lot that differ, else one row for the lot.
func countRows(c postgres.CountedLot, d drive.Drive) (rows []countRow, differs bool) {
	row := countRow{Lot: c.Lot, Name: fmt.Sprint(c.Lot), What: c.Kind, Shelf: c.Shelf, By: c.WhoName, Deed: c.Deed}
	if !c.Differs() {
		return []countRow{row}, false
	}
	on := func(l length.Length) string { return drive.OnTape(l, d.Yardage()) }
	for _, p := range c.Counts {
		if !p.Differs() {
			continue
		}
		row.Name, row.Booked, row.Counted = drive.ClothID(c.Lot, p.Piece), on(p.Booked), on(p.Counted)
		row.Less, row.More = "", ""
		if p.Counted < p.Booked {
			row.Less = on(p.Booked - p.Counted)
		} else {
			row.More = on(p.Counted - p.Booked)
		}
		rows = append(rows, row)
	}
	return rows, true
}

// postStocktake handles POST /drives/:drive/fabric/stocktakes/:take/post.
func (s *Site) postStocktake(c *gin.Context) error {
	take, err := s.number(c, "take")
	if err != nil {
		return err
	}
	var form struct {
		Reason string `form:"reason"`
	}
	if err := s.read(c, &form); err != nil {
		return err
	}
	page := stocktakePage{Reason: form.Reason, Problems: map[string]string{}}
	posted, err := s.db.PostStocktake(c.Request.Context(), s.act(c), take, form.Reason)
	switch {
	case err == nil:
		s.flash(c, "Stocktake %d is posted: %s counted, %s booked.", take, counted(posted.Lots, "lot", "lots"), counted(len(posted.Deeds), "difference", "differences"))
		return s.seeOther(c, s.path(c, "fabric", "stocktakes", take))
	case apperr.Is(err, apperr.KindConflict):
		page.Problems[""] = apperr.As(err).Text
		return s.stocktakeWith(c, http.StatusConflict, page)
	case !adopt(page.Problems, err):
		return err
	}
	return s.stocktakeWith(c, http.StatusUnprocessableEntity, page)
}

// dropStocktake handles POST /drives/:drive/fabric/stocktakes/:take/drop.
func (s *Site) dropStocktake(c *gin.Context) error {
	take, err := s.number(c, "take")
	if err != nil {
		return err
	}
	if _, err := s.db.DropStocktake(c.Request.Context(), s.act(c), take); err != nil {
		return err
	}
	s.flash(c, "Stocktake %d is given up: nothing of it is booked.", take)
	return s.seeOther(c, s.path(c, "fabric", "stocktakes"))
}
