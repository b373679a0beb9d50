package site

import (
	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
)

// lotBrings is what a lot brings with what is on the shelf, as the measure page and the lot's
// own page show it.
type lotBrings struct {
	Shown bool
	After string // what it waits for first
	Cases int
	For   []askFor
}

// brings works out what cloth brings while somebody waits.
func (s *Site) brings(c *gin.Context, cloths []drive.Cloth) (lotBrings, error) {
	if len(cloths) == 0 {
		return lotBrings{}, nil
	}
	ctx, id := c.Request.Context(), s.driveID(c)
	b, err := s.db.LotBrings(ctx, id, cloths)
	if err != nil || !b.Asked {
		return lotBrings{}, err
	}
	out := lotBrings{Shown: true, Cases: b.Cases}
	switch b.After {
	case drive.WaitsSetAside:
		out.After = "taken back from what is set aside"
	case drive.WaitsWashing:
		out.After = "washed"
	}
	if len(b.Lines) == 0 {
		return out, nil
	}
	lines, err := s.db.AskedLines(ctx, id)
	if err != nil {
		return lotBrings{}, err
	}
	out.For = movedFor(b.Lines, lines)
	return out, nil
}
