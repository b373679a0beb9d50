package site

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// mostDonorsToChoose is up to how many donors a filter lists; more are found by
// searching for their name.
const mostDonorsToChoose = 200

// shelfLook is how somebody looks at the shelf: which lots, and for which size it
// is said what they would make.
type shelfLook struct {
	query postgres.LotsQuery
	size  string
	plan  *drive.PlanSize // nil where the drive has no size
}

// shelfLook reads the filters of the shelf and adds them to the search form.
func (s *Site) shelfLook(c *gin.Context, list *listing) (shelfLook, error) {
	ctx, id := c.Request.Context(), s.driveID(c)
	var colours, shelves []string
	var donors []drive.Donor
	var sizes []drive.PlanSize
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) { colours, err = s.db.Colours(ctx, id); return err },
		func(ctx context.Context) (err error) { shelves, err = s.db.Shelves(ctx, id); return err },
		func(ctx context.Context) (err error) {
			donors, err = s.db.DonorsToChoose(ctx, id, mostDonorsToChoose+1)
			return err
		},
		func(ctx context.Context) (err error) { sizes, err = s.planSizes(ctx, id); return err })
	if err != nil {
		return shelfLook{}, err
	}
	look := shelfLook{query: postgres.LotsQuery{
		State: postgres.LotsState(list.Choose("state", "Which", []option{
			{"", "on the shelf"},
			{string(postgres.LotsWaiting), "to measure"},
			{string(postgres.LotsFree), "free for plans"},
			{string(postgres.LotsLeft), "free or to measure"},
			{string(postgres.LotsAside), "set aside"},
			{string(postgres.LotsUsed), "used up"},
			{string(postgres.LotsAll), "all"},
		})),
		Colour: list.Choose("colour", "Colour", anyOf("every colour", colours)),
		Print:  list.Choose("print", "Print", anyOf("every print", drive.Prints())),
		Weight: list.Choose("cloth", "Cloth", anyOf("every kind", drive.Weights())),
		Fibre:  list.Choose("fibre", "Fibre", anyOf("every fibre", drive.Fibres())),
		Shelf:  list.Choose("shelf", "Shelf", anyOf("every shelf", shelves)),
		Q:      list.Q, Sort: list.Sort, Desc: list.Desc,
	}}
	if len(donors) <= mostDonorsToChoose {
		options := []option{{"", "anybody"}}
		for _, d := range donors {
			options = append(options, option{strconv.FormatInt(d.Number, 10), d.Name})
		}
		look.query.Donor = typedNumber(list.Choose("donor", "Given by", options))
	} else {
		look.query.Donor = typedNumber(list.Filter("donor"))
	}
	if len(sizes) == 0 {
		return look, nil
	}
	options := make([]option, len(sizes))
	for i, z := range sizes {
		options[i] = option{z.ID, z.ID}
	}
	chosen := list.Choose("size", "Would make", options)
	at := slices.IndexFunc(sizes, func(z drive.PlanSize) bool { return z.ID == chosen })
	look.plan, look.size = &sizes[at], sizes[at].ID
	return look, nil
}

// makesOf says for each lot what it makes of a size in rows, and how long its free
// pieces are together.
func (s *Site) makesOf(c *gin.Context, lots []postgres.LotLine, size *drive.PlanSize) (map[int64]drive.InRows, map[int64]length.Length, error) {
	numbers := make([]int64, len(lots))
	for i, l := range lots {
		numbers[i] = l.Number
	}
	pieces, err := s.db.PiecesOf(c.Request.Context(), s.driveID(c), numbers)
	if err != nil {
		return nil, nil, err
	}
	makes, whole := map[int64]drive.InRows{}, map[int64]length.Length{}
	for _, p := range pieces {
		whole[p.Lot] += p.Length
		if size != nil {
			made, sum := p.InRows(*size), makes[p.Lot]
			makes[p.Lot] = drive.InRows{Cases: sum.Cases + made.Cases, Bodies: sum.Bodies + made.Bodies}
		}
	}
	return makes, whole, nil
}

// inRowsWords says what cloth makes; nothing where it makes nothing.
func inRowsWords(m drive.InRows) string {
	switch {
	case m.Cases > 0 && m.Bodies > 0:
		return fmt.Sprintf("%d and %s", m.Cases, counted(m.Bodies, "body", "bodies"))
	case m.Cases > 0:
		return strconv.Itoa(m.Cases)
	case m.Bodies > 0:
		return counted(m.Bodies, "body", "bodies")
	}
	return ""
}

// shelfFile handles GET /drives/:drive/fabric/shelf.csv: the list as it is looked
// at, all of its rows.
func (s *Site) shelfFile(c *gin.Context) error {
	list := s.listing(c, "number", "tag", "kind", "donor", "shelf", "width", "free", "received")
	look, err := s.shelfLook(c, &list)
	if err != nil {
		return err
	}
	found, err := s.db.Lots(c.Request.Context(), s.driveID(c), look.query)
	if err != nil {
		return err
	}
	makes, whole, err := s.makesOf(c, found.Lots, look.plan)
	if err != nil {
		return err
	}
	lines := make([]workbook.ShelfLine, len(found.Lots))
	for i, l := range found.Lots {
		lines[i] = workbook.ShelfLine{
			Lot: l.Lot, DonorName: l.DonorName, Pieces: l.Pieces, Width: l.Width, Length: l.Length, Whole: whole[l.Number],
			Free: l.Free, Promised: l.Promised, Makes: makes[l.Number],
		}
	}
	var file bytes.Buffer
	if err := workbook.WriteShelf(&file, s.drive(c), look.size, lines); err != nil {
		return err
	}
	return s.file(c, s.driveID(c)+"-shelf.csv", "text/csv; charset=utf-8", file.Bytes())
}

// shelfTotalsPage is the shelf by kind of cloth and by colour.
type shelfTotalsPage struct {
	List    listing
	All     shelfSumRow
	Kinds   []shelfSumRow
	Colours []shelfSumRow
	Aside   shelfSumRow
	Size    string
	Shelf   string // the list, looked at in the same way
	Plans   bool   // may look at plans
}

func (shelfTotalsPage) template() string { return "fabric-totals.html" }
func (shelfTotalsPage) title() string    { return "Fabric by kind and colour" }

// shelfSumRow is one sum in the drive's units.
type shelfSumRow struct {
	Name   string
	Lots   int
	Pieces int
	Length string
	Area   string
	Cases  int
	Bodies int
}

// shelfTotals handles GET /drives/:drive/fabric/totals.
func (s *Site) shelfTotals(c *gin.Context) error {
	list := s.listing(c, "number")
	look, err := s.shelfLook(c, &list)
	if err != nil {
		return err
	}
	cloth, err := s.db.OnShelf(c.Request.Context(), s.driveID(c), look.query)
	if err != nil {
		return err
	}
	d, sums := s.drive(c), drive.SumShelf(cloth, look.plan)
	return s.page(c, http.StatusOK, shelfTotalsPage{
		List: list, All: newShelfSum(sums.All, d), Kinds: shelfSums(sums.Kinds, d), Colours: shelfSums(sums.Colours, d), Aside: newShelfSum(sums.Aside, d),
		Size: look.size, Shelf: list.with(s.path(c, "fabric")), Plans: s.may(c, account.Plan, account.Read),
	})
}

func shelfSums(list []drive.ShelfSum, d drive.Drive) []shelfSumRow {
	rows := make([]shelfSumRow, len(list))
	for i, sum := range list {
		rows[i] = newShelfSum(sum, d)
	}
	return rows
}

func newShelfSum(s drive.ShelfSum, d drive.Drive) shelfSumRow {
	return shelfSumRow{
		Name: s.Name, Lots: s.Lots, Pieces: s.Pieces, Length: yardageText(s.Length, d), Area: s.Area.Format(d.Unit), Cases: s.Makes.Cases, Bodies: s.Makes.Bodies,
	}
}

// yardageText writes a sum of lengths in whole yards or metres and a tenth.
func yardageText(l length.Length, d drive.Drive) string {
	unit := d.Yardage()
	tenths := int64(l) * 10 / int64(unit.Size())
	return fmt.Sprintf("%s.%d %s", thousands(tenths/10), tenths%10, unit)
}
