package site

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// fabricPage lists the lots: what lies on the shelf, where, and what waits.
type fabricPage struct {
	List     listing
	Lots     []lotRow
	Pieces   int
	Free     string
	Promised string
	Sized    int    // lots found that are measured, so that they have pieces
	Unsized  int    // lots found that are not
	Aside    int    // of those, set aside
	ToDo     int    // lots to be measured, of all lots
	Slivers  int    // pieces that no panel comes out of
	Least    string // what a panel takes at least
	Any      bool   // the drive has fabric at all
	Writes   bool
	Imports  bool
	Size     string // what Makes counts; empty where the drive has no size yet
	Totals   string
	File     string
}

func (fabricPage) template() string { return "fabric.html" }
func (fabricPage) title() string    { return "Fabric" }

// lotRow is one lot in the list.
type lotRow struct {
	Number int64
	Tag    string
	What   string // what it is, in words
	Look   string // colours and themes
	Donor  string
	Shelf  string
	Pieces int
	Size   string // of the largest free piece
	Free   string
	Makes  string
	State  string
	Class  string // of the state
}

// fabric handles GET /drives/:drive/fabric.
func (s *Site) fabric(c *gin.Context) error {
	list := s.listing(c, "number", "tag", "kind", "donor", "shelf", "width", "free", "received")
	look, err := s.shelfLook(c, &list)
	if err != nil {
		return err
	}
	ctx, id := c.Request.Context(), s.driveID(c)
	query := look.query
	query.Limit, query.Offset = list.Limit(), list.Offset()
	writes := s.may(c, account.Fabric, account.Write)
	var found postgres.LotsList
	var waiting int
	var slivers postgres.Slivers
	err = s.db.Together(ctx,
		func(ctx context.Context) (err error) { found, err = s.db.Lots(ctx, id, query); return err },
		func(ctx context.Context) (err error) { waiting, err = s.db.WaitingToMeasure(ctx, id); return err },
		func(ctx context.Context) (err error) {
			if writes {
				slivers, err = s.db.Slivers(ctx, id)
			}
			return err
		})
	if err != nil {
		return err
	}
	list.Total = found.Total
	if to := list.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	unit := s.drive(c).Unit
	page := fabricPage{
		List: list, Sized: found.Total - found.Waiting, Unsized: found.Waiting, Aside: found.Aside, Pieces: found.Pieces, Free: found.Free.Format(unit), Promised: areaOr(found.Promised, unit), ToDo: waiting,
		Any: found.Total > 0, Writes: writes, Imports: s.may(c, account.Import, account.Write), Size: look.size,
		Totals: list.with(s.path(c, "fabric", "totals")), File: list.with(s.path(c, "fabric", "shelf.csv")),
	}
	if writes {
		page.Slivers, page.Least = slivers.Pieces, length.Format(slivers.Least, unit)
	}
	if !page.Any {
		all, err := s.db.Lots(ctx, id, postgres.LotsQuery{State: postgres.LotsAll, Limit: 1})
		if err != nil {
			return err
		}
		page.Any = all.Total > 0
	}
	makes, _, err := s.makesOf(c, found.Lots, look.plan)
	if err != nil {
		return err
	}
	for _, l := range found.Lots {
		row := newLotRow(l, s.drive(c))
		row.Makes = inRowsWords(makes[l.Number])
		page.Lots = append(page.Lots, row)
	}
	return s.page(c, http.StatusOK, page)
}

func newLotRow(l postgres.LotLine, d drive.Drive) lotRow {
	row := lotRow{
		Number: l.Number, What: whatItIs(l.Lot), Look: look(l.Lot.Make), Donor: l.DonorName, Shelf: l.Shelf, Pieces: l.Pieces,
		Free: areaOr(l.Free, d.Unit),
	}
	if l.Length > 0 {
		row.Size = clothSize(l.Width, l.Length, d)
	}
	if l.Tag != nil {
		row.Tag = *l.Tag
	}
	row.State, row.Class = lotState(l.Lot, l.Free, l.Promised, d)
	return row
}

// lotState says how a lot stands, and the style of the words.
func lotState(l drive.Lot, free, promised length.Area, d drive.Drive) (state, class string) {
	switch {
	case l.UntaggedAt != nil:
		return l.SetAside + ", and taken back", "quiet"
	case l.SetAside != "":
		return "set aside: " + l.SetAside, "late"
	case !l.Measured():
		return "to measure", "wait"
	case free == 0 && promised > 0:
		return "promised", "wait"
	case free == 0:
		return "used up", "quiet"
	case d.Washing == drive.WashedFirst && !l.Washed:
		return "to be washed", "wait"
	}
	return "free", "done"
}

// whatItIs says in a few words what a lot is: what it was called at the door,
// else what was found when it was looked at.
func whatItIs(l drive.Lot) string {
	switch {
	case l.Kind != "":
		return l.Kind
	case l.Measured() || l.Weight != "" && l.Fibre != "": // a measuring that was undone, or somebody wrote it down
		return l.Weight + " " + l.Fibre
	}
	return "not looked at yet"
}

// look says what a lot looks like: print, colours and themes.
func look(m drive.Make) string {
	var words []string
	if m.Print != "" {
		words = append(words, m.Print)
	}
	if len(m.Colours) > 0 {
		words = append(words, strings.Join(m.Colours, ", "))
	}
	if len(m.Themes) > 0 {
		words = append(words, strings.Join(m.Themes, ", "))
	}
	return strings.Join(words, "; ")
}

// clothSize writes the size of a piece as people say it.
func clothSize(width, long length.Length, d drive.Drive) string {
	return drive.OnTape(width, d.Unit) + " × " + drive.OnTape(long, d.Yardage())
}

// areaOr writes an area, nothing where there is none.
func areaOr(a length.Area, u length.Unit) string {
	if a == 0 {
		return ""
	}
	return a.Format(u)
}

// anyOf gives words as options, with all of them first.
func anyOf(all string, words []string) []option {
	options := []option{{"", all}}
	for _, w := range words {
		options = append(options, option{w, w})
	}
	return options
}

// optionsOf gives words as options.
func optionsOf(words []string) []option {
	options := make([]option, len(words))
	for i, w := range words {
		options[i] = option{w, w}
	}
	return options
}
