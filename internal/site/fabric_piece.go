package site

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// piecePage is one piece of a lot: how it stands, where it came from and went,
// and what may be booked of it.
type piecePage struct {
	Lot     int64
	Piece   int
	Words   string
	Drawing pieceDrawing
	Facts   []lotFact
	Origin  int // 0: it came in so
	Parts   []familyRow
	Past    clothPast
	Acts    []pieceAct
}

func (piecePage) template() string { return "fabric-piece.html" }
func (p piecePage) title() string  { return fmt.Sprintf("Piece %d/%d", p.Lot, p.Piece) }

// pieceAct is something that may be booked of a piece.
type pieceAct struct{ Link, Label, What string }

// piece handles GET /drives/:drive/fabric/:lot/pieces/:piece.
func (s *Site) piece(c *gin.Context) error {
	lot, p, err := s.pieceOf(c)
	if err != nil {
		return err
	}
	d := s.drive(c)
	history, err := s.db.LotHistory(c.Request.Context(), d.ID, lot.Number)
	if err != nil {
		return err
	}
	page := piecePage{Lot: lot.Number, Piece: p.Piece, Words: pieceStands(p, d), Drawing: drawPieces([]drive.Piece{p}, d)}
	page.Past.Lot = lot.Number
	if p.Origin != nil {
		page.Origin = *p.Origin
	}
	for _, row := range family(lot.Pieces, d) {
		if row.Origin == p.Piece {
			page.Parts = append(page.Parts, row)
		}
	}
	page.Facts = []lotFact{
		{"Came in, or parted in", p.Received.Format(d.Unit)},
		{"Free", p.Free.Format(d.Unit)},
		{"Promised to plans", p.Promised.Format(d.Unit)},
		{"Cut for kits", p.Cut.Format(d.Unit)},
		{"Parted off", p.Parted.Format(d.Unit)},
		{"Gone otherwise", p.Out.Format(d.Unit)},
	}
	for _, r := range history.Reach {
		if r.Piece == p.Piece {
			page.Past.Reach = append(page.Past.Reach, reachRows([]postgres.LotReach{r})...)
		}
	}
	writes := s.may(c, account.Fabric, account.Write)
	for _, step := range historySteps(history, writes, d) {
		if step.concerns(p.Piece) {
			page.Past.History = append(page.Past.History, step)
		}
	}
	if writes && p.Received > 0 {
		page.Acts = pieceActs(p)
	}
	return s.page(c, http.StatusOK, page)
}

// concerns says whether a step moved cloth of a piece.
func (h historyStep) concerns(piece int) bool {
	for _, line := range h.Lines {
		if line.Piece == piece || line.Into == piece {
			return true
		}
	}
	return false
}

// pieceActs are what may be booked of a piece, as it stands.
func pieceActs(p drive.Piece) []pieceAct {
	var acts []pieceAct
	for _, a := range clothActs() {
		if a.Free && p.FreeLength == 0 || a.Out && p.Out == 0 {
			continue
		}
		acts = append(acts, pieceAct{a.Slug, a.Label, a.What})
	}
	return acts
}

// pieceOf gives the lot and the piece that the address names.
func (s *Site) pieceOf(c *gin.Context) (postgres.LotPage, drive.Piece, error) {
	lot, err := s.lotOf(c)
	if err != nil {
		return lot, drive.Piece{}, err
	}
	number, err := s.number(c, "piece")
	if err != nil {
		return lot, drive.Piece{}, err
	}
	for _, p := range lot.Pieces {
		if int64(p.Piece) == number {
			return lot, p, nil
		}
	}
	return lot, drive.Piece{}, apperr.NotFound("Lot %d has no piece %d.", lot.Number, number)
}
