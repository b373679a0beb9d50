package site

import (
	"cmp"
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// measuredLook is what the sizes typed so far come to.
type measuredLook struct {
	Shown    bool
	NoPrint  bool // what it makes depends on the print
	How      []string
	Usable   []string // each usable piece in words
	Makes    []string // what it makes alone, by size
	Brings   lotBrings
	Drawing  pieceDrawing
	Problems map[string]string
}

// turnPick is one way a print may lie, drawn, with what it would make.
type turnPick struct {
	Value, Label, Why string
	On                bool
	Cost              string
}

// lookAtMeasure handles POST /drives/:drive/fabric/:lot/measure/look: what the
// figures typed so far come to. Nothing is saved but that the lot lies on this table.
func (s *Site) lookAtMeasure(c *gin.Context) error {
	page, m, err := s.readMeasure(c)
	if err != nil {
		return err
	}
	if !page.Lot.Measured() {
		if _, err := s.db.TakeInHand(c.Request.Context(), s.driveID(c), page.Lot.Number, s.tablet(c), visitorOf(c).person.ID); err != nil {
			return err
		}
	}
	page.Look = measuredLook{Shown: true, Problems: page.Problems}
	page.Problems = nil
	if len(page.Look.Problems) > 0 {
		return s.measureWith(c, http.StatusOK, page)
	}
	out, err := s.tryMeasure(c, page.Lot, m)
	switch {
	case apperr.Fields(err) != nil:
		page.Look.Problems = apperr.Fields(err)
		if m.Print != "" {
			return s.measureWith(c, http.StatusOK, page)
		}
		// The size comes first and the print after it: what is usable shows at once.
		m.Print, page.Look.NoPrint = drive.PrintFeature, true
		if out, err = s.tryMeasure(c, page.Lot, m); err != nil {
			return s.measureWith(c, http.StatusOK, page)
		}
		page.Look.Problems = nil
	case err != nil:
		return err
	}
	page.Look.How = out.How
	cloths := out.Cloths()
	page.Look.Usable, page.Look.Drawing = clothWords(cloths, s.drive(c)), drawMeasured(out, s.drive(c))
	if page.Look.NoPrint {
		return s.measureWith(c, http.StatusOK, page)
	}
	if page.Look.Makes, err = s.makesAlone(c, cloths); err != nil {
		return err
	}
	if page.Look.Brings, err = s.brings(c, cloths); err != nil {
		return err
	}
	if page.Turns, err = s.turnPicks(c, page, m); err != nil {
		return err
	}
	return s.measureWith(c, http.StatusOK, page)
}

// tryMeasure measures without keeping anything; a lot that is measured already is
// tried as if it were not.
func (s *Site) tryMeasure(c *gin.Context, lot postgres.LotPage, m drive.Measured) (drive.MeasuredLot, error) {
	lot.MeasuredAt = nil
	return drive.Measure(s.drive(c), lot.Lot, m, 1)
}

// drawMeasured draws the pieces as they will lie on the shelf.
func drawMeasured(m drive.MeasuredLot, d drive.Drive) pieceDrawing {
	var pieces []drive.Piece
	for i, p := range m.Pieces {
		if long := m.Lengths[i]; long > 0 {
			pieces = append(pieces, drive.Piece{
				Piece: p.Piece, Kind: p.Kind, Origin: p.Origin, Width: p.Width, FreeLength: long, Free: length.Area(p.Width) * length.Area(long),
			})
		}
	}
	return drawPieces(pieces, d)
}

// plainTurnPicks are the ways a print may lie before anything is worked out.
func plainTurnPicks(on string) []turnPick {
	picks := []turnPick{
		{Value: drive.TurnEither, Label: "either way", Why: "no direction"},
		{Value: drive.TurnAlong, Label: "along, upright", Why: "stands upright on the bed; on a folded body the back is upside down"},
		{Value: drive.TurnAcross, Label: "across, sideways", Why: "lies sideways on the bed; takes the least cloth"},
	}
	for i := range picks {
		picks[i].On = picks[i].Value == on
	}
	return picks
}

// mostCosts is how many of the drive's sizes are worked out for each turn while
// somebody waits.
const mostCosts = 3

// turnPicks says for each way the print may lie what the lot would make, and how
// many pillowcases fewer than the best way that is.
func (s *Site) turnPicks(c *gin.Context, page measurePage, m drive.Measured) ([]turnPick, error) {
	sizes, err := s.planSizes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return nil, err
	}
	sizes = sizes[:min(len(sizes), mostCosts)]
	picks := plainTurnPicks(cmp.Or(page.Form.Turn, drive.TurnEither))
	makes := make([][]drive.Alone, len(picks))
	for i, p := range picks {
		m.Turn = p.Value
		out, err := s.tryMeasure(c, page.Lot, m)
		if err != nil {
			return picks, nil // said beside its field already
		}
		if makes[i], err = drive.MakesAlone(c.Request.Context(), out.Cloths(), sizes); err != nil {
			return nil, err
		}
	}
	for i := range picks {
		picks[i].Cost = costWords(makes, i)
	}
	return picks, nil
}

// costWords says what one way makes of each size and how many fewer that is than
// the best way.
func costWords(makes [][]drive.Alone, way int) string {
	var words []string
	for j, a := range makes[way] {
		best := 0
		for _, other := range makes {
			best = max(best, other[j].Cases)
		}
		text := fmt.Sprintf("%d %s", a.Cases, a.Size)
		if a.Bodies {
			text = fmt.Sprintf("bodies for %d %s", a.Cases, a.Size)
		}
		if a.Cases < best {
			text += fmt.Sprintf(", %d fewer", best-a.Cases)
		}
		words = append(words, text)
	}
	return strings.Join(words, "; ")
}
