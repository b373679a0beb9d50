package site

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// countPage counts one lot of a stocktake.
type countPage struct {
	Take     int64
	Lot      int64
	What     string
	Shelf    string
	Waits    bool // to be measured: it can only be seen
	Rows     []countField
	Version  string
	Before   []string // what was counted of it already
	Clash    bool     // by somebody else, while this page was open
	By       string
	Problems map[string]string
	Yardage  string
	Sure     string // yes: far more lies there than is booked
	AskSure  bool
}

func (countPage) template() string { return "stocktake-count.html" }
func (p countPage) title() string  { return fmt.Sprintf("Count lot %d", p.Lot) }

// countField is one piece to be measured, or pieces that are alike and are counted.
type countField struct {
	Name   string
	Label  string
	Booked string
	Typed  string
	Pieces []int
	Single bool
}

// countLot handles GET /drives/:drive/fabric/stocktakes/:take/:lot.
func (s *Site) countLot(c *gin.Context) error {
	page, _, err := s.countStands(c)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, page)
}

// countLotNow handles POST /drives/:drive/fabric/stocktakes/:take/:lot. What a
// scanner types into a field, because the next label was scanned, confirms this
// lot as booked and goes on to that one.
func (s *Site) countLotNow(c *gin.Context) error {
	page, _, err := s.countStands(c)
	if err != nil {
		return err
	}
	var form struct {
		Version string `form:"version"`
		Gone    string `form:"gone"` // yes: nothing of it lies there
		Sure    string `form:"sure"`
		Next    string `form:"next"` // the label that was scanned after this lot's
	}
	if err := s.read(c, &form); err != nil {
		return err
	}
	page.Problems = map[string]string{}
	counted, next := page.counted(c, form.Gone == "yes", s.drive(c))
	if form.Next != "" {
		next = form.Next
	}
	if len(page.Problems) > 0 {
		return s.page(c, http.StatusUnprocessableEntity, page)
	}
	done, err := s.db.CountLot(c.Request.Context(), s.act(c), page.Take, page.Lot, typedCount(page.Problems, "version", form.Version, 0), counted, form.Sure == "yes")
	page.Sure, page.AskSure = form.Sure, form.Sure == "yes" || apperr.Fields(err)["sure"] != ""
	switch {
	case err == nil:
		text := "Lot %d is as booked."
		if done.Differs {
			text = "Lot %d differs: noted."
		}
		s.flashUndo(c, s.path(c, "fabric", "stocktakes", page.Take, page.Lot, "forget"), text, page.Lot)
		to := s.path(c, "fabric", "stocktakes", page.Take)
		if next != "" {
			to += filtered("code", next)
		}
		return s.seeOther(c, to)
	case apperr.Is(err, apperr.KindConflict):
		page.Problems[""], page.Clash = apperr.As(err).Text, page.Version != form.Version
		return s.page(c, http.StatusConflict, page)
	case !adopt(page.Problems, err):
		return err
	}
	return s.page(c, http.StatusUnprocessableEntity, page)
}

// counted reads what was typed, by piece; what is empty is as booked. next is the
// code that was scanned into a field.
func (p *countPage) counted(c *gin.Context, gone bool, d drive.Drive) (counted map[int]length.Length, next string) {
	counted = map[int]length.Length{}
	for i := range p.Rows {
		row := &p.Rows[i]
		row.Typed = clean(c.PostForm(row.Name))
		switch {
		case gone:
			for _, piece := range row.Pieces {
				counted[piece] = 0
			}
		case strings.Contains(row.Typed, "/l/"):
			next = row.Typed
		case row.Typed == "":
		case row.Single:
			counted[row.Pieces[0]] = clothLength(p.Problems, row.Name, row.Typed, d.Yardage())
		default:
			n := typedCount(p.Problems, row.Name, row.Typed, 0)
			if n > len(row.Pieces) {
				problem(p.Problems, row.Name, "Only %d are booked. Count those here, and tag the others as a lot of their own.", len(row.Pieces))
			}
			for k := min(n, len(row.Pieces)); k < len(row.Pieces); k++ {
				counted[row.Pieces[k]] = 0
			}
		}
	}
	return counted, next
}

// forgetCount handles POST /drives/:drive/fabric/stocktakes/:take/:lot/forget.
func (s *Site) forgetCount(c *gin.Context) error {
	take, err := s.number(c, "take")
	if err != nil {
		return err
	}
	lot, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	if _, err := s.db.ForgetCount(c.Request.Context(), s.act(c), take, lot); err != nil {
		return err
	}
	s.flash(c, "Lot %d is to be counted again.", lot)
	return s.seeOther(c, s.path(c, "fabric", "stocktakes", take))
}

// countStands is the form for the lot as it stands now.
func (s *Site) countStands(c *gin.Context) (countPage, drive.Stock, error) {
	take, err := s.number(c, "take")
	if err != nil {
		return countPage{}, drive.Stock{}, err
	}
	lot, err := s.number(c, "lot")
	if err != nil {
		return countPage{}, drive.Stock{}, err
	}
	ctx, d := c.Request.Context(), s.drive(c)
	stock, err := s.db.LotStock(ctx, d.ID, lot)
	if err != nil {
		return countPage{}, stock, err
	}
	before, err := s.db.LotCount(ctx, d.ID, take, lot)
	if err != nil {
		return countPage{}, stock, err
	}
	page := countPage{
		Take: take, Lot: lot, What: whatItIs(stock.Lot), Shelf: stock.Lot.Shelf, Waits: !stock.Lot.Measured(), Version: "0", Yardage: string(d.Yardage()),
	}
	if l := look(stock.Lot.Make); l != "" {
		page.What += ", " + l
	}
	page.Rows = countFields(stock.Pieces, d)
	if before != nil {
		page.Version, page.By, page.Before = strconv.Itoa(before.Version), before.WhoName, countedWords(*before, d)
	}
	return page, stock, nil
}

// countFields gives a field for every piece that lies on the shelf by the books,
// one for those that are alike.
func countFields(pieces []drive.Piece, d drive.Drive) []countField {
	var rows []countField
	at := map[string]int{}
	for _, p := range pieces {
		if p.OnShelf() == 0 {
			continue
		}
		booked := clothSize(p.Width, p.OnShelf(), d)
		if i, alike := at[booked]; alike {
			rows[i].Pieces = append(rows[i].Pieces, p.Piece)
			continue
		}
		at[booked] = len(rows)
		rows = append(rows, countField{Booked: booked, Pieces: []int{p.Piece}, Label: p.Name()})
	}
	for i := range rows {
		first := rows[i].Pieces[0]
		if rows[i].Single = len(rows[i].Pieces) == 1; rows[i].Single {
			rows[i].Name, rows[i].Label = fmt.Sprintf("length%d", first), "Length of "+rows[i].Label
			continue
		}
		rows[i].Name, rows[i].Label = fmt.Sprintf("pieces%d", first), fmt.Sprintf("How many of %d", len(rows[i].Pieces))
	}
	return rows
}

// countedWords says what was counted of a lot.
func countedWords(c postgres.CountedLot, d drive.Drive) []string {
	if !c.Differs() {
		return []string{"as booked"}
	}
	var words []string
	for _, p := range c.Counts {
		if p.Differs() {
			words = append(words, fmt.Sprintf("%s: %s, booked %s", drive.ClothID(c.Lot, p.Piece), drive.OnTape(p.Counted, d.Yardage()), drive.OnTape(p.Booked, d.Yardage())))
		}
	}
	return words
}

// lotScanned gives the lot of what a scanner or a person typed: a label's code, a
// printed tag, a lot's number, or a piece's; 0 where there is none. Of a tag and a
// lot that have the same number it is the tag.
func (s *Site) lotScanned(c *gin.Context, typed string) (int64, error) {
	code, err := drive.ReadCode(typed)
	if apperr.Is(err, apperr.KindInvalid) || code.Drive != "" && code.Drive != s.driveID(c) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	found, err := s.db.Labelled(c.Request.Context(), s.driveID(c), code)
	if err != nil {
		return 0, err
	}
	lot := int64(0)
	for _, l := range found {
		if l.Kind == drive.CodeTag {
			return l.Lot, nil
		}
		if l.Lot != 0 {
			lot = l.Lot
		}
	}
	return lot, nil
}
