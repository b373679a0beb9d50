package site

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// lotPage is one lot: its pieces drawn, what it makes, where it went, its history.
type lotPage struct {
	Lot     postgres.LotPage
	What    string
	State   string
	Class   string
	Facts   []lotFact
	Drawing pieceDrawing
	Usable  []string
	Makes   []string
	Brings  lotBrings
	Past    clothPast
	Family  []familyRow // where there is more than one piece
	MayWash bool
	Writes  bool
	Reasons []string
	Aside   lotAsideForm

	Problems map[string]string
}

func (lotPage) template() string { return "fabric-lot.html" }
func (p lotPage) title() string  { return fmt.Sprintf("Lot %d", p.Lot.Number) }

type lotFact struct{ Name, Value string }

// lotAsideForm is why a lot is set aside, as typed.
type lotAsideForm struct {
	Why string `form:"set_aside"`
}

// lot handles GET /drives/:drive/fabric/:lot.
func (s *Site) lot(c *gin.Context) error {
	return s.lotWith(c, http.StatusOK, lotPage{})
}

func (s *Site) lotWith(c *gin.Context, status int, page lotPage) error {
	lot, err := s.lotOf(c)
	if err != nil {
		return err
	}
	ctx, d := c.Request.Context(), s.drive(c)
	history, err := s.db.LotHistory(ctx, d.ID, lot.Number)
	if err != nil {
		return err
	}
	var free, promised length.Area
	for _, p := range lot.Pieces {
		free, promised = free+p.Free, promised+p.Promised
	}
	page.Lot, page.What, page.Facts = lot, whatItIs(lot.Lot), lotFacts(lot, d)
	if l := look(lot.Make); l != "" {
		page.What += ", " + l
	}
	page.State, page.Class = lotState(lot.Lot, free, promised, d)
	page.Writes, page.Reasons = s.may(c, account.Fabric, account.Write) && lot.UntaggedAt == nil, asideReasons()
	page.Drawing = drawPieces(lot.Pieces, d)
	cloths := lot.Cloths(lot.Pieces)
	page.Usable = clothWords(cloths, d)
	if page.Makes, err = s.makesAlone(c, cloths); err != nil {
		return err
	}
	if page.Brings, err = s.brings(c, cloths); err != nil {
		return err
	}
	page.Past = clothPast{Lot: lot.Number, Reach: reachRows(history.Reach), History: historySteps(history, page.Writes, d)}
	page.Family = family(lot.Pieces, d)
	page.MayWash = page.Writes && lot.Measured() && !lot.Washed && free > 0
	_, _, err = drive.UndoMeasure(lot.Lot, lot.Pieces, history.Entries)
	page.Past.MayUndo = page.Writes && err == nil
	_, _, err = drive.Untag(lot.Lot, history.Entries, s.now())
	page.Past.MayUntag = page.Writes && err == nil
	return s.page(c, status, page)
}

// undoMeasure handles POST /drives/:drive/fabric/:lot/undo: the measuring is taken back.
func (s *Site) undoMeasure(c *gin.Context) error {
	number, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	if _, err := s.db.UndoMeasure(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "The measuring of lot %d is undone.", number)
	return s.seeOther(c, s.path(c, "fabric", number, "measure"))
}

// setAside handles POST /drives/:drive/fabric/:lot/aside.
func (s *Site) setAside(c *gin.Context) error {
	number, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	page := lotPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Aside); err != nil {
		return err
	}
	if _, err := s.db.SetAside(c.Request.Context(), s.act(c), number, page.Aside.Why); err != nil {
		if !adopt(page.Problems, err) {
			return err
		}
		return s.lotWith(c, http.StatusUnprocessableEntity, page)
	}
	s.flashUndo(c, s.path(c, "fabric", number, "back"), "Lot %d is set aside: no plan draws on it.", number)
	return s.seeOther(c, s.path(c, "fabric", number))
}

// takeBackAside handles POST /drives/:drive/fabric/:lot/back.
func (s *Site) takeBackAside(c *gin.Context) error {
	number, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	if _, err := s.db.TakeBackAside(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Plans may draw on lot %d again.", number)
	return s.seeOther(c, s.path(c, "fabric", number))
}

// makesAlone says for each of the drive's sizes what the cloths make by themselves.
func (s *Site) makesAlone(c *gin.Context, cloths []drive.Cloth) ([]string, error) {
	if len(cloths) == 0 {
		return nil, nil
	}
	sizes, err := s.planSizes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return nil, err
	}
	makes, err := drive.MakesAlone(c.Request.Context(), cloths, sizes)
	if err != nil {
		return nil, err
	}
	return makesWords(makes), nil
}

// planSizes gives the drive's sizes that are not retired, with their panels.
func (s *Site) planSizes(ctx context.Context, driveID string) ([]drive.PlanSize, error) {
	all, err := s.db.Sizes(ctx, driveID)
	if err != nil {
		return nil, err
	}
	return drive.CutSizes(all)
}

// makesWords says what cloth makes alone, a line a size; what it does not make at
// all is left out unless it makes nothing.
func makesWords(makes []drive.Alone) []string {
	var words []string
	for _, m := range makes {
		switch {
		case m.Cases == 0 && m.Most > 0:
			words = append(words, m.Size+": not worked out")
		case m.Cases == 0:
		case m.Bodies:
			words = append(words, fmt.Sprintf("bodies for %d %s", m.Cases, m.Size))
		default:
			words = append(words, fmt.Sprintf("%d %s", m.Cases, m.Size))
		}
	}
	if len(words) == 0 && len(makes) > 0 {
		return []string{"no pillowcase of your sizes"}
	}
	return words
}

// clothWords says what is usable, a line for pieces that are alike.
func clothWords(cloths []drive.Cloth, d drive.Drive) []string {
	var words []string
	for _, c := range cloths {
		text := clothSize(c.Width, c.Length, d)
		if c.Pieces > 1 {
			text = fmt.Sprintf("%d pieces of %s", c.Pieces, text)
		}
		if c.Strip {
			text += ", border strip"
		}
		words = append(words, text)
	}
	return words
}

func lotFacts(l postgres.LotPage, d drive.Drive) []lotFact {
	var facts []lotFact
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, lotFact{name, value})
		}
	}
	if l.Tag != nil {
		add("Tag", *l.Tag)
	}
	giver := l.DonorName
	if giver == "" {
		giver = "not known"
	}
	add("Given by", giver)
	add("Came in", l.ReceivedOn.Format("2 Jan 2006"))
	add("Shelf", l.Shelf)
	if l.Measured() {
		add("Measured", drive.AsMeasured(*l.RawLength, d.Yardage())+" long, "+drive.AsMeasured(*l.RawWidth, d.Unit)+" wide, "+counted(l.PiecesCounted(), "piece", "pieces")+", ends "+l.Ends)
		washed := "not washed"
		if l.Washed {
			washed = "washed"
		}
		add("Cloth", strings.Join([]string{l.Fibre, l.Weight, washed}, ", "))
		print := l.Print
		if l.TrimOK && l.Print == drive.PrintFeature {
			print += ", may be trim too"
		}
		if l.Border != "" {
			print += ", border along " + l.Border
		}
		add("Print", print+"; "+labelOf(turnOptions(), l.Turn))
	} else {
		add("Counted at the door", counted(l.PiecesTold, "piece", "pieces"))
	}
	add("Colours", strings.Join(l.Colours, ", "))
	add("Themes", strings.Join(l.Themes, ", "))
	add("Set aside", l.SetAside)
	add("Note", l.Note)
	return facts
}
