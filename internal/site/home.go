package site

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// drivesPage lets somebody choose among the drives they have a role in.
type drivesPage struct {
	Drives []driveLine
	New    string // where a drive is started, for those who may
}

func (drivesPage) template() string { return "drives.html" }
func (drivesPage) title() string    { return "Your drives" }

type driveLine struct {
	postgres.Member
	Path string
}

// home handles GET /: to the one drive somebody works for, or to all of them.
func (s *Site) home(c *gin.Context) error {
	v, err := s.visit(c, "")
	if err != nil {
		return err
	}
	if v == nil {
		return s.seeOther(c, "/sign-in")
	}
	if v.pass != nil {
		return s.seeOther(c, drivePath(v.pass.Drive))
	}
	members, err := s.db.MemberOf(c.Request.Context(), v.person.ID)
	if err != nil {
		return err
	}
	switch {
	case len(members) == 1:
		return s.seeOther(c, drivePath(members[0].DriveID))
	case len(members) == 0 && v.person.Opens && s.newDrive() != "":
		return s.seeOther(c, s.newDrive())
	}
	return s.seeOther(c, "/drives")
}

// drives handles GET /drives.
func (s *Site) drives(c *gin.Context) error {
	if pass := visitorOf(c).pass; pass != nil {
		return s.seeOther(c, drivePath(pass.Drive))
	}
	members, err := s.db.MemberOf(c.Request.Context(), s.person(c).ID)
	if err != nil {
		return err
	}
	page := drivesPage{Drives: make([]driveLine, len(members))}
	for i, m := range members {
		page.Drives[i] = driveLine{m, drivePath(m.DriveID)}
	}
	if s.person(c).Opens {
		page.New = s.newDrive()
	}
	return s.page(c, http.StatusOK, page)
}

// driveHome handles GET /drives/:drive: to the first page this role may open.
func (s *Site) driveHome(c *gin.Context) error {
	places := s.places(c)
	if len(places) == 0 {
		return apperr.NotFound("There is no page in this drive for your role yet.")
	}
	return s.seeOther(c, places[0].Path)
}

// newDrive gives the address where a drive is started.
func (s *Site) newDrive() string {
	const path = "/drives/new"
	if _, listed := s.needOf(path); listed {
		return path
	}
	return ""
}

// healthz handles GET /healthz: the process answers.
func (s *Site) healthz(c *gin.Context) error {
	c.Header("Cache-Control", "no-store")
	c.Data(http.StatusOK, "text/plain; charset=utf-8", []byte("ok\n"))
	return nil
}

// readyWithin is how long the database may take to say that it is well.
const readyWithin = 5 * time.Second

// readyz handles GET /readyz: the program is not ending, and the database answers, with
// a schema known here, and no restore in it that goes on or was cut off. Which of them it is that
// fails is said; more is for the log alone.
func (s *Site) readyz(c *gin.Context) error {
	c.Header("Cache-Control", "no-store")
	ctx, cancel := context.WithTimeout(c.Request.Context(), readyWithin)
	defer cancel()
	why := ""
	select {
	case <-s.ending:
		why = "the program is stopping"
	default:
		why = s.notReady(ctx, c)
	}
	if why != "" {
		c.Data(http.StatusServiceUnavailable, "text/plain; charset=utf-8", []byte("not ready: "+why+"\n"))
		return nil
	}
	c.Data(http.StatusOK, "text/plain; charset=utf-8", []byte("ready\n"))
	return nil
}

// notReady says why the database cannot be used, in few words; nothing where it can.
func (s *Site) notReady(ctx context.Context, c *gin.Context) string {
	erased := s.db.NobodyToErase(ctx)
	_, cutOff := errors.AsType[*postgres.CutOff](erased)
	if cutOff || apperr.As(erased) != nil {
		s.logFailure(c, erased)
		return "a restore was cut off before it had erased again who was erased since: boltward restore --finish"
	}
	err := cmp.Or(s.ready(ctx), erased)
	if err == nil {
		return ""
	}
	s.logFailure(c, err)
	switch {
	case errors.Is(err, postgres.ErrRestoring):
		return "a backup is being restored into the database"
	case apperr.As(err) != nil:
		return "the database is not prepared for this version of the program"
	}
	return "the database does not answer"
}
