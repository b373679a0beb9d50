package site

import (
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/postgres"
)

// bookSlivers handles POST /drives/:drive/fabric/slivers: what can make nothing
// leaves the shelf, and the books say so.
func (s *Site) bookSlivers(c *gin.Context) error {
	booked, err := s.db.BookSlivers(c.Request.Context(), s.act(c))
	if err != nil {
		return err
	}
	undo := s.path(c, "fabric", "slivers", "undo") + "?first=" + strconv.FormatInt(booked.First, 10) + "&n=" + strconv.Itoa(booked.N)
	s.flashUndo(c, undo, "%s booked as offcuts.", counted(booked.N, "sliver is", "slivers are"))
	return s.seeOther(c, s.path(c, "fabric"))
}

// undoSlivers handles POST /drives/:drive/fabric/slivers/undo?first=7&n=3.
func (s *Site) undoSlivers(c *gin.Context) error {
	first, _ := wholeNumber(c.Query("first"))
	n, _ := wholeNumber(c.Query("n"))
	back, err := s.db.UndoSlivers(c.Request.Context(), s.act(c), postgres.SliversBooked{First: first, N: int(n)})
	if err != nil {
		return err
	}
	s.flash(c, "%s on the shelf again.", counted(back, "sliver is", "slivers are"))
	return s.seeOther(c, s.path(c, "fabric"))
}
