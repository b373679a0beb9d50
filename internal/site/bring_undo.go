package site

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// staysShown is how many of the things that stay are named on the page.
const staysShown = 200

// broughtBackPage is a spreadsheet that was brought in, to be taken back.
type broughtBackPage struct {
	Import postgres.ImportLine
	Of     string // what it was a list of
	Going  string // what would be taken back, counted by kind; empty where nothing can be
	Stays  []broughtStays
	More   int // that stay and are not named here
	Action string
	See    string
}

func (broughtBackPage) template() string { return "brought-back.html" }
func (p broughtBackPage) title() string  { return "Take back " + p.Of }

// broughtStays is a thing that stays, and why.
type broughtStays struct {
	What, Path, Why string
}

// broughtThing is what a spreadsheet makes, in words: before a number, one, several, and where its page is.
type broughtThing struct {
	kind                     drive.BroughtKind
	label, one, several, way string
}

// broughtThings gives them in the order in which they are told.
func broughtThings() []broughtThing {
	return []broughtThing{
		{drive.BroughtLot, "Lot", "lot", "lots", "fabric"},
		{drive.BroughtSize, "Size of lot", "size of a lot", "sizes of lots", "fabric"},
		{drive.BroughtDonor, "Donor", "donor", "donors", "donors"},
		{drive.BroughtPerson, "Person", "person", "people", "people"},
		{drive.BroughtAsked, "Line", "line", "lines", "asked"},
		{drive.BroughtRecipient, "Recipient", "recipient", "recipients", "recipients"},
	}
}

// importBack handles GET /drives/:drive/books/brought/:import.
func (s *Site) importBack(c *gin.Context) error {
	number, err := s.number(c, "import")
	if err != nil {
		return err
	}
	line, all, err := s.db.ImportMade(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	p := broughtBackPage{Import: line, Of: labelOf(bringKinds(), string(line.Kind)), See: broughtTo(line.Kind), Action: s.path(c, "books", "brought", number, "undo")}
	var going []string
	for _, of := range broughtThings() {
		n := 0
		for _, b := range all {
			switch {
			case b.Kind != of.kind:
			case b.Why == "":
				n++
			case len(p.Stays) == staysShown:
				p.More++
			default:
				what := fmt.Sprintf("%s %d", of.label, b.Number)
				if b.Name != "" {
					what += ", " + b.Name
				}
				p.Stays = append(p.Stays, broughtStays{what, s.path(c, of.way, b.Number), b.Why})
			}
		}
		if n > 0 {
			going = append(going, counted(n, of.one, of.several))
		}
	}
	p.Going = strings.Join(going, ", ")
	return s.page(c, http.StatusOK, p)
}

// undoImport handles POST /drives/:drive/books/brought/:import/undo.
func (s *Site) undoImport(c *gin.Context) error {
	number, err := s.number(c, "import")
	if err != nil {
		return err
	}
	if err := needKey(c); err != nil {
		return err
	}
	undone, err := s.db.UndoImport(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	if undone.Left > 0 { // else the page itself says that all of it is
		s.flash(c, "Taken back, but for %s used or changed since.", counted(undone.Left, "thing", "things"))
	}
	return s.seeOther(c, s.path(c, "books", "brought", number))
}

// bringLine says of a spreadsheet that was brought in how it stands.
func bringLine(l postgres.ImportLine) string {
	words := []string{counted(l.Taken, "row", "rows")}
	switch {
	case l.Left == 0:
		words = append(words, "taken back")
	case l.Undone > 0:
		words = append(words, "taken back in part")
	}
	return strings.Join(words, ", ")
}
