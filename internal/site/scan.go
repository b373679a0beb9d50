package site

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// scanPage answers a code that does not lead to one thing: what is wrong with it,
// or what it may mean.
type scanPage struct {
	Form     scanForm
	Problems map[string]string
	Choices  []scanChoice
	Foreign  string // the address a label of another installation begins with
}

func (scanPage) template() string { return "scan.html" }
func (scanPage) title() string    { return "Open by label" }

type scanForm struct {
	Code string `form:"code"`
}

// scanBox is the field of every page that a scanner types into.
type scanBox struct{ Path, ID string }

// scanChoice is one thing that a code may mean.
type scanChoice struct{ Words, Path string }

// label handles GET /l/:in/:kind/:number: what the code on a label opens. A drive
// that is not open to somebody and one that is not there are answered alike.
func (s *Site) label(c *gin.Context) error {
	code, err := drive.ReadCode("/l/" + c.Param("in") + "/" + c.Param("kind") + "/" + c.Param("number"))
	if err != nil {
		return apperr.NotFound("This address is no whole label's code. Type the number on the label into the drive's own page.")
	}
	v, err := s.visit(c, code.Drive)
	if err != nil {
		return err
	}
	if v == nil {
		return errNobody{next: nextAfter(c.Request)}
	}
	if v.role == "" {
		return foreignLabel()
	}
	if err := v.first(c.Request); err != nil {
		return err
	}
	c.Set(visitorKey, v)
	return s.open(c, code, scanForm{Code: string(code.Kind) + " " + code.Number})
}

func foreignLabel() error {
	return apperr.NotFound("This label is of another drive, one that is not open to you here. Ask whoever organises it.")
}

// scan handles GET /drives/:drive/scan?code=…: what was scanned or typed, from any page.
func (s *Site) scan(c *gin.Context) error {
	page := scanPage{Form: scanForm{Code: clean(c.Query("code"))}, Problems: map[string]string{}}
	if !c.Request.URL.Query().Has("code") {
		return s.page(c, http.StatusOK, page)
	}
	code, err := drive.ReadCode(page.Form.Code)
	switch {
	case adopt(page.Problems, err):
		return s.page(c, http.StatusUnprocessableEntity, page)
	case err != nil:
		return err
	case code.Base != "" && code.Base != s.url.String():
		// Another installation may have a drive of the same name: a person decides.
		page.Foreign = code.Base
		page.Choices = []scanChoice{{string(code.Kind) + " " + shownNumber(code), "/l/" + code.Drive + "/" + string(code.Kind) + "/" + code.Number}}
		return s.page(c, http.StatusOK, page)
	case code.Drive != "" && code.Drive != s.driveID(c):
		v, err := s.visit(c, code.Drive)
		if err != nil {
			return err
		}
		if v == nil || v.role == "" {
			problem(page.Problems, "code", "This label is of another drive, not of %s.", s.drive(c).Name)
			return s.page(c, http.StatusUnprocessableEntity, page)
		}
		return s.seeOther(c, "/l/"+code.Drive+"/"+string(code.Kind)+"/"+code.Number)
	}
	return s.open(c, code, page.Form)
}

// open sends the browser to what bears the code in the drive of the visitor; where
// nothing does, or several do, it says so.
func (s *Site) open(c *gin.Context, code drive.Code, form scanForm) error {
	found, err := s.db.Labelled(c.Request.Context(), s.driveID(c), code)
	if err != nil {
		return err
	}
	page := scanPage{Form: form, Problems: map[string]string{}}
	closed := false
	for _, l := range found {
		path, may := s.labelled(c, l)
		if print := code.PrintOf(); l.Kind == drive.CodeSheet && print.Revision > 0 {
			path += fmt.Sprintf("?print=%d", print.Revision)
		}
		if !may {
			closed = true
			continue
		}
		page.Choices = append(page.Choices, scanChoice{labelledWords(l), path})
	}
	switch {
	case len(page.Choices) == 1:
		return s.seeOther(c, page.Choices[0].Path)
	case len(page.Choices) > 1:
		return s.page(c, http.StatusOK, page)
	case closed:
		return noSuchPage()
	case code.Kind == drive.CodeTag && s.may(c, account.Fabric, account.Write):
		page.Choices = []scanChoice{{"Hang tag " + code.Number + " on a new lot", s.path(c, "fabric", "tag") + "?tag=" + url.QueryEscape(code.Number)}}
		problem(page.Problems, "code", "Tag %s hangs on nothing yet.", code.Number)
	case code.Kind == drive.CodeBare:
		problem(page.Problems, "code", "Nothing in %s has the number %s.", s.drive(c).Name, code.Number)
	default:
		problem(page.Problems, "code", "There is no %s %s in %s. The label may be of another drive, or of one that was started anew.", code.Kind, shownNumber(code), s.drive(c).Name)
	}
	return s.page(c, http.StatusNotFound, page)
}

// labelled gives the page of what bears a code, and whether it is open to this visitor.
func (s *Site) labelled(c *gin.Context, l postgres.Labelled) (path string, may bool) {
	switch l.Kind {
	case drive.CodeLot, drive.CodeTag:
		return s.path(c, "fabric", l.Lot), s.may(c, account.Fabric, account.Read)
	case drive.CodePiece:
		return s.path(c, "fabric", l.Lot, "pieces", l.Piece), s.may(c, account.Fabric, account.Read)
	case drive.CodeSheet:
		return s.path(c, "cutting", l.Number), s.may(c, account.Cutting, account.Read)
	case drive.CodeKit:
		return s.path(c, "kits", l.Number), s.may(c, account.Kits, account.Read)
	case drive.CodeDelivery:
		return s.path(c, "deliveries", l.Number), s.may(c, account.Packing, account.Read)
	}
	return s.path(c, "deliveries", "box", l.Number), s.may(c, account.Packing, account.Read)
}

func labelledWords(l postgres.Labelled) string {
	switch l.Kind {
	case drive.CodeTag:
		return fmt.Sprintf("tag %s, on lot %d", l.Number, l.Lot)
	case drive.CodePiece:
		return fmt.Sprintf("piece %d/%d", l.Lot, l.Piece)
	}
	return string(l.Kind) + " " + l.Number
}

// shownNumber writes the number of a code as its label has it in large type.
func shownNumber(code drive.Code) string {
	if code.Kind == drive.CodePiece {
		return strings.Replace(code.Number, "-", "/", 1)
	}
	return code.Number
}
