package site

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/sizing"
)

// washPage books a lot as washed: what is usable of each piece now.
type washPage struct {
	Rows     []washRow
	Seen     string
	Problems map[string]string
	Since    []string
	Lot      int64
	What     string
	Yardage  string
	Unit     string
	Learned  []learnedRow
}

func (washPage) template() string { return "fabric-wash.html" }
func (p washPage) title() string  { return fmt.Sprintf("Wash lot %d", p.Lot) }

// washRow is pieces that are alike, with what is typed for each of them.
type washRow struct {
	Name   string // of its fields: the first of its pieces
	Pieces []int
	Before string
	Length string
	Width  string
}

// Sent is its pieces as the form names them: 1,3,4.
func (r washRow) Sent() string {
	names := make([]string, len(r.Pieces))
	for i, p := range r.Pieces {
		names[i] = strconv.Itoa(p)
	}
	return strings.Join(names, ",")
}

// learnedRow says what washing taught about a kind of cloth.
type learnedRow struct {
	Cloth  string
	Lots   int
	Pieces int
	Along  string
	Across string
	Offer  string // as a size takes it: 3.1, 2.2
}

// washLot handles GET /drives/:drive/fabric/:lot/wash.
func (s *Site) washLot(c *gin.Context) error {
	page, _, err := s.washStands(c)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, page)
}

// washLotNow handles POST /drives/:drive/fabric/:lot/wash.
func (s *Site) washLotNow(c *gin.Context) error {
	page, stock, err := s.washStands(c)
	if err != nil {
		return err
	}
	var form struct {
		Seen string `form:"seen"`
	}
	if err := s.read(c, &form); err != nil {
		return err
	}
	d, problems := s.drive(c), map[string]string{}
	page.Problems = problems
	h := drive.Handling{Kind: drive.DeedWashed}
	first := map[string]string{} // field of a piece → field of its row
	sent, whole := sentWash(c)
	for _, row := range sent {
		long := clothLength(problems, "length"+row.Name, row.Length, d.Yardage())
		wide := clothLength(problems, "width"+row.Name, row.Width, d.Unit)
		for _, p := range row.Pieces {
			h.Sizes = append(h.Sizes, drive.WashedSize{Piece: p, Length: long, Width: wide})
			first["length"+strconv.Itoa(p)], first["width"+strconv.Itoa(p)] = "length"+row.Name, "width"+row.Name
		}
		if i := slices.IndexFunc(page.Rows, func(r washRow) bool { return r.Name == row.Name }); i >= 0 {
			page.Rows[i].Length, page.Rows[i].Width = row.Length, row.Width
		}
	}
	if !whole {
		problem(problems, "", "The form did not arrive whole. Open the page again.")
	}
	if len(problems) == 0 {
		done, err := s.db.HandleCloth(c.Request.Context(), s.act(c), page.Lot, typedNumber(form.Seen), h)
		switch {
		case err == nil:
			s.flashUndo(c, s.path(c, "fabric", page.Lot, "deeds", done.Deed, "undo"), "Lot %d is washed.", page.Lot)
			return s.seeOther(c, s.path(c, "fabric", page.Lot))
		case apperr.Is(err, apperr.KindConflict):
			problems[""], page.Since = apperr.As(err).Text, since(stock, typedNumber(form.Seen), d)
			return s.page(c, http.StatusConflict, page)
		}
		fields := apperr.Fields(err)
		if fields == nil {
			return err
		}
		for name, why := range fields {
			if row := first[name]; row != "" {
				name = row
			}
			problem(problems, name, "%s", why)
		}
	}
	return s.page(c, http.StatusUnprocessableEntity, page)
}

// sentWash gives the rows as they stood when the form was opened. The form alone says which
// pieces they are of: once they are washed they lie in other rows, and the same form sent
// again is the same. It is not whole where there is no row, or one whose pieces cannot be read.
func sentWash(c *gin.Context) (rows []washRow, whole bool) {
	whole = true
	for _, name := range slices.Sorted(maps.Keys(c.Request.PostForm)) {
		of, is := strings.CutPrefix(name, "pieces")
		if !is {
			continue
		}
		row := washRow{Name: of, Length: clean(c.Request.PostForm.Get("length" + of)), Width: clean(c.Request.PostForm.Get("width" + of))}
		for one := range strings.SplitSeq(c.Request.PostForm.Get(name), ",") {
			n, err := strconv.Atoi(one)
			whole = whole && err == nil
			row.Pieces = append(row.Pieces, n)
		}
		rows = append(rows, row)
	}
	return rows, whole && len(rows) > 0
}

// washStands is the form for the lot as it stands now.
func (s *Site) washStands(c *gin.Context) (washPage, drive.Stock, error) {
	lot, err := s.lotOf(c)
	if err != nil {
		return washPage{}, drive.Stock{}, err
	}
	d := s.drive(c)
	stock, err := s.db.LotStock(c.Request.Context(), d.ID, lot.Number)
	if err != nil {
		return washPage{}, stock, err
	}
	page := washPage{
		Lot: lot.Number, What: whatItIs(lot.Lot), Seen: strconv.FormatInt(stock.Last(), 10), Yardage: string(d.Yardage()), Unit: string(d.Unit),
	}
	rows := map[string]int{}
	for _, p := range stock.Pieces {
		if p.FreeLength == 0 {
			continue
		}
		before := clothSize(p.Width, p.FreeLength, d)
		at, known := rows[before]
		if !known {
			at = len(page.Rows)
			rows[before] = at
			page.Rows = append(page.Rows, washRow{Name: strconv.Itoa(p.Piece), Before: before, Width: sizeText(p.Width, d.Unit)})
		}
		page.Rows[at].Pieces = append(page.Rows[at].Pieces, p.Piece)
	}
	page.Learned, err = s.learned(c)
	return page, stock, err
}

// learned gives what washing taught so far.
func (s *Site) learned(c *gin.Context) ([]learnedRow, error) {
	list, err := s.db.Shrinkages(c.Request.Context(), s.driveID(c))
	if err != nil {
		return nil, err
	}
	var rows []learnedRow
	for _, l := range list {
		shrunk := l.Shrunk()
		rows = append(rows, learnedRow{
			Cloth: l.Weight + " " + l.Fibre, Lots: l.Lots, Pieces: l.Pieces,
			Along: shrunk.Along.String(), Across: shrunk.Across.String(), Offer: shrinkText(sizing.Shrink{Along: shrunk.Along, Across: shrunk.Across}),
		})
	}
	return rows, nil
}
