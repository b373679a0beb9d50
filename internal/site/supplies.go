package site

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// suppliesPage lists what there is besides fabric, and for how many kits.
type suppliesPage struct {
	Rows     []supplyRow
	Kits     int // that are planned or cut and not made ready yet
	Problems map[string]string
	Moved    int64  // the supply whose count was refused
	Typed    string // for it
	Writes   bool
}

func (suppliesPage) template() string { return "supplies.html" }
func (suppliesPage) title() string    { return "Supplies" }

type supplyRow struct {
	drive.Supply
	Enough int
	Told   bool
	Short  bool
}

// supplyFormPage adds a supply or changes one.
type supplyFormPage struct {
	Form     supplyForm
	Problems map[string]string
	Clash    clash
	Number   int64 // 0: a new one
}

func (supplyFormPage) template() string { return "supply-form.html" }
func (p supplyFormPage) title() string {
	if p.Number == 0 {
		return "Add a supply"
	}
	return "Change a supply"
}

// supplyForm is as typed.
type supplyForm struct {
	Version string `form:"version"`
	Name    string `form:"name"`
	Unit    string `form:"unit"`
	Have    string `form:"have"`
	Used    string `form:"used"`
	PerKits string `form:"per_kits"`
	Note    string `form:"note"`
}

// supplies handles GET /drives/:drive/fabric/supplies.
func (s *Site) supplies(c *gin.Context) error {
	return s.suppliesWith(c, http.StatusOK, suppliesPage{})
}

func (s *Site) suppliesWith(c *gin.Context, status int, page suppliesPage) error {
	list, kits, err := s.db.Supplies(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, supply := range list {
		row := supplyRow{Supply: supply, Short: supply.ShortFor(kits)}
		row.Enough, row.Told = supply.EnoughFor()
		page.Rows = append(page.Rows, row)
	}
	page.Kits, page.Writes = kits, s.may(c, account.Fabric, account.Write)
	return s.page(c, status, page)
}

// moveSupply handles POST /drives/:drive/fabric/supplies/:supply/move: so many came,
// or went.
func (s *Site) moveSupply(c *gin.Context) error {
	number, err := s.number(c, "supply")
	if err != nil {
		return err
	}
	var form struct {
		N    string `form:"n"`
		Went string `form:"went"`
	}
	if err := s.read(c, &form); err != nil {
		return err
	}
	page := suppliesPage{Problems: map[string]string{}, Moved: number, Typed: form.N}
	n := typedCount(page.Problems, "n", form.N, 0)
	if form.Went == "yes" {
		n = -n
	}
	if len(page.Problems) == 0 {
		if _, err := s.db.MoveSupply(c.Request.Context(), s.act(c), number, n); err == nil {
			return s.seeOther(c, s.path(c, "fabric", "supplies"))
		} else if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.suppliesWith(c, http.StatusUnprocessableEntity, page)
}

// retireSupply handles POST /drives/:drive/fabric/supplies/:supply/retire.
func (s *Site) retireSupply(c *gin.Context) error {
	number, err := s.number(c, "supply")
	if err != nil {
		return err
	}
	if _, err := s.db.RetireSupply(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Taken off the list.")
	return s.seeOther(c, s.path(c, "fabric", "supplies"))
}

// addSupply handles GET /drives/:drive/fabric/supplies/new.
func (s *Site) addSupply(c *gin.Context) error {
	return s.page(c, http.StatusOK, supplyFormPage{Form: supplyForm{Used: "1", PerKits: "1"}})
}

// changeSupply handles GET /drives/:drive/fabric/supplies/:supply.
func (s *Site) changeSupply(c *gin.Context) error {
	supply, err := s.supply(c)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, supplyFormPage{Form: supplyFormOf(supply), Number: supply.Number})
}

// addSupplyNow handles POST /drives/:drive/fabric/supplies/new.
func (s *Site) addSupplyNow(c *gin.Context) error {
	return s.saveSupply(c, drive.Supply{})
}

// changeSupplyNow handles POST /drives/:drive/fabric/supplies/:supply.
func (s *Site) changeSupplyNow(c *gin.Context) error {
	supply, err := s.supply(c)
	if err != nil {
		return err
	}
	return s.saveSupply(c, supply)
}

func (s *Site) saveSupply(c *gin.Context, stands drive.Supply) error {
	page := supplyFormPage{Problems: map[string]string{}, Number: stands.Number}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	f := page.Form
	supply := drive.Supply{
		Number: stands.Number, Name: f.Name, Unit: f.Unit, Note: f.Note, Version: typedCount(page.Problems, "version", f.Version, 0),
		Have: typedCount(page.Problems, "have", f.Have, 0), Used: typedCount(page.Problems, "used", f.Used, 0), PerKits: typedCount(page.Problems, "per_kits", f.PerKits, 1),
	}
	if len(page.Problems) == 0 {
		_, err := s.db.SaveSupply(c.Request.Context(), s.act(c), supply)
		switch {
		case err == nil:
			s.flash(c, "Saved.")
			return s.seeOther(c, s.path(c, "fabric", "supplies"))
		case apperr.Is(err, apperr.KindConflict):
			page.Clash = newClash(supplyFormOf(stands), page.Form, []clashField{
				{"name", "What", nil}, {"have", "There are", nil}, {"unit", "Counted in", nil}, {"used", "Used", nil}, {"per_kits", "By so many kits", nil}, {"note", "Note", nil},
			})
			page.Form.Version = strconv.Itoa(stands.Version)
			return s.page(c, http.StatusConflict, page)
		case !adopt(page.Problems, err):
			return err
		}
	}
	return s.page(c, http.StatusUnprocessableEntity, page)
}

func (s *Site) supply(c *gin.Context) (drive.Supply, error) {
	number, err := s.number(c, "supply")
	if err != nil {
		return drive.Supply{}, err
	}
	return s.db.Supply(c.Request.Context(), s.driveID(c), number)
}

func supplyFormOf(s drive.Supply) supplyForm {
	return supplyForm{
		Version: strconv.Itoa(s.Version), Name: s.Name, Unit: s.Unit, Have: strconv.Itoa(s.Have), Used: strconv.Itoa(s.Used), PerKits: strconv.Itoa(s.PerKits), Note: s.Note,
	}
}
