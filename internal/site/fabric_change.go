package site

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// lotFormPage corrects what is written about a lot.
type lotFormPage struct {
	Form     lotForm
	Problems map[string]string
	Clash    clash
	Number   int64
	Measured bool
	Donors   []string
	Shelves  []string
	Picks    measurePicks
}

func (lotFormPage) template() string { return "fabric-change.html" }
func (p lotFormPage) title() string  { return fmt.Sprintf("Change lot %d", p.Number) }

// lotForm is as typed.
type lotForm struct {
	Version string `form:"version"`
	Donor   string `form:"donor"`
	Tag     string `form:"tag"`
	Kind    string `form:"kind"`
	Shelf   string `form:"shelf"`
	Note    string `form:"note"`
	Fibre   string `form:"fibre"`
	Weight  string `form:"weight"`
	Print   string `form:"print"`
	TrimOK  string `form:"trim_ok"`
	Turn    string `form:"turn"`
	Colours string `form:"colours"`
	Themes  string `form:"themes"`
}

// changeLot handles GET /drives/:drive/fabric/:lot/change.
func (s *Site) changeLot(c *gin.Context) error {
	form, page, err := s.lotStands(c)
	if err != nil {
		return err
	}
	page.Form = form
	return s.lotFormWith(c, http.StatusOK, page)
}

// changeLotNow handles POST /drives/:drive/fabric/:lot/change.
func (s *Site) changeLotNow(c *gin.Context) error {
	stands, page, err := s.lotStands(c)
	if err != nil {
		return err
	}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	page.Problems = map[string]string{}
	_, err = s.db.ChangeLot(c.Request.Context(), s.act(c), page.Number, typedCount(page.Problems, "version", page.Form.Version, 0), page.Form.change())
	switch {
	case err == nil:
		s.flash(c, "Changed.")
		return s.seeOther(c, s.path(c, "fabric", page.Number))
	case apperr.Is(err, apperr.KindConflict):
		page.Clash, page.Form.Version = newClash(stands, page.Form, lotFormFields()), stands.Version
		return s.lotFormWith(c, http.StatusConflict, page)
	case !adopt(page.Problems, err):
		return err
	}
	return s.lotFormWith(c, http.StatusUnprocessableEntity, page)
}

// lotFormFields names the fields where two edits may differ.
func lotFormFields() []clashField {
	return []clashField{
		{"donor", "Given by", nil},
		{"tag", "Tag", nil},
		{"kind", "What it is", nil},
		{"shelf", "Shelf", nil},
		{"note", "Note", nil},
		{"fibre", "Fibre", nil},
		{"weight", "Kind of cloth", nil},
		{"print", "Print", nil},
		{"trim_ok", "May be trim too", yesNo()},
		{"turn", "How it lies", turnOptions()},
		{"colours", "Colours", nil},
		{"themes", "Themes", nil},
	}
}

// lotStands is the form as the lot stands, and the page for it.
func (s *Site) lotStands(c *gin.Context) (lotForm, lotFormPage, error) {
	lot, err := s.lotOf(c)
	if err != nil {
		return lotForm{}, lotFormPage{}, err
	}
	form := lotForm{
		Version: strconv.Itoa(lot.Version), Donor: lot.DonorName, Kind: lot.Kind, Shelf: lot.Shelf, Note: lot.Note, Fibre: lot.Fibre,
		Weight: lot.Weight, Print: lot.Print, TrimOK: yes(lot.TrimOK), Turn: lot.Turn,
		Colours: strings.Join(lot.Colours, ", "), Themes: strings.Join(lot.Themes, ", "),
	}
	if lot.Tag != nil {
		form.Tag = *lot.Tag
	}
	return form, lotFormPage{Number: lot.Number, Measured: lot.Measured()}, nil
}

func (s *Site) lotFormWith(c *gin.Context, status int, page lotFormPage) error {
	var err error
	if page.Donors, err = s.offered(c.Request.Context(), s.driveID(c)); err != nil {
		return err
	}
	if page.Shelves, err = s.db.Shelves(c.Request.Context(), s.driveID(c)); err != nil {
		return err
	}
	page.Picks = newMeasurePicks(s.drive(c))
	return s.page(c, status, page)
}

// change reads the form.
func (f lotForm) change() drive.LotChange {
	return drive.LotChange{
		Donor: f.Donor, Tag: f.Tag, Kind: f.Kind, Shelf: f.Shelf, Note: f.Note, Fibre: f.Fibre, Weight: f.Weight, Print: f.Print,
		Turn: f.Turn, TrimOK: f.TrimOK == "yes", Colours: drive.Words(f.Colours), Themes: drive.Words(f.Themes),
	}
}
