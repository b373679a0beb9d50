package site

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
)

// closingPage is where an organiser says that the drive is over, with what of it is still open.
type closingPage struct {
	Open    drive.StillOpen
	Lines   int // open ones that are asked for
	Missing int // of those, what is not delivered
	Free    string
	Kept    string // for plans
	Action  string
}

func (closingPage) template() string { return "closing.html" }
func (closingPage) title() string    { return "Close the drive" }
func (closingPage) tellsClosed()     {}

// closing handles GET /drives/:drive/settings/closing.
func (s *Site) closing(c *gin.Context) error {
	p := closingPage{Action: s.path(c, "settings", "closing")}
	var lines []drive.AskedLine
	id := s.driveID(c)
	err := s.db.Together(c.Request.Context(),
		func(ctx context.Context) (err error) { p.Open, err = s.db.StillOpen(ctx, id); return err },
		func(ctx context.Context) (err error) { lines, err = s.db.AskedLines(ctx, id); return err })
	if err != nil {
		return err
	}
	unit := s.drive(c).Unit
	p.Free, p.Kept = areaOr(p.Open.Free, unit), areaOr(p.Open.Promised, unit)
	for _, l := range lines {
		if lacks := l.Wanted - l.Standing().Delivered; !l.Closed && lacks > 0 {
			p.Lines++
			p.Missing += lacks
		}
	}
	return s.page(c, http.StatusOK, p)
}

// closeDrive handles POST /drives/:drive/settings/closing/close.
func (s *Site) closeDrive(c *gin.Context) error {
	if err := needKey(c); err != nil {
		return err
	}
	if _, err := s.db.CloseDrive(c.Request.Context(), s.act(c)); err != nil {
		return err
	}
	return s.seeOther(c, s.path(c, "settings", "closing"))
}

// openDriveAgain handles POST /drives/:drive/settings/closing/open.
func (s *Site) openDriveAgain(c *gin.Context) error {
	if err := needKey(c); err != nil {
		return err
	}
	if _, err := s.db.OpenDriveAgain(c.Request.Context(), s.act(c)); err != nil {
		return err
	}
	s.flash(c, "The drive is open again.")
	return s.seeOther(c, s.path(c, "settings", "closing"))
}
