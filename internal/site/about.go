package site

import (
	"io"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// aboutPerson handles GET /drives/:drive/people/:person/about.json and about.txt: all
// that is kept about somebody who sews, for them to have.
func (s *Site) aboutPerson(c *gin.Context) error {
	number, err := s.number(c, "person")
	if err != nil {
		return err
	}
	about, err := s.db.AboutPerson(c.Request.Context(), s.driveID(c), number)
	return s.about(c, "person-"+c.Param("person"), about, err)
}

// aboutDonor handles GET /drives/:drive/donors/:donor/about.json and about.txt.
func (s *Site) aboutDonor(c *gin.Context) error {
	number, err := s.number(c, "donor")
	if err != nil {
		return err
	}
	about, err := s.db.AboutDonor(c.Request.Context(), s.driveID(c), number)
	return s.about(c, "donor-"+c.Param("donor"), about, err)
}

// aboutMe handles GET /account/about.json and about.txt: all that is kept about who asks.
func (s *Site) aboutMe(c *gin.Context) error {
	about, err := s.db.AboutAccount(c.Request.Context(), s.person(c).ID)
	return s.about(c, "about-me", about, err)
}

// about answers what is kept about somebody as a file of the address's kind.
func (s *Site) about(c *gin.Context, name string, about drive.About, err error) error {
	if err != nil {
		return err
	}
	write, ending, contentType := about.WriteText, ".txt", "text/plain; charset=utf-8"
	if strings.HasSuffix(c.Request.URL.Path, ".json") {
		write, ending, contentType = about.WriteJSON, ".json", "application/json; charset=utf-8"
	}
	return s.written(c, name+ending, contentType, func(w io.Writer) error { return write(w) })
}

// erasePerson handles POST /drives/:drive/people/:person/erase.
func (s *Site) erasePerson(c *gin.Context) error {
	number, err := s.number(c, "person")
	if err != nil {
		return err
	}
	if c.PostForm("sure") != "yes" {
		return apperr.Invalid("sure", "Tick that you are sure: who this is cannot be brought back.")
	}
	if _, err := s.db.ErasePerson(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.logErased(c, "person", s.driveID(c), number)
	s.flash(c, "They are forgotten. What they sewed keeps its place in the books.")
	return s.seeOther(c, s.path(c, "people", number))
}
