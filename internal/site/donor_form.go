package site

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// donorFormPage adds a donor or changes one.
type donorFormPage struct {
	Form     donorForm
	Problems map[string]string
	Clash    clash
	Number   int64 // 0: somebody new
	Contacts bool  // whoever fills it may write contacts
}

func (donorFormPage) template() string { return "donor-form.html" }
func (p donorFormPage) title() string {
	if p.Number == 0 {
		return "A new donor"
	}
	return "Change " + p.Form.Name
}

// donorForm is as typed.
type donorForm struct {
	Version   string `form:"version"`
	Name      string `form:"name"`
	Letter    string `form:"letter"`
	NoLetters string `form:"no_letters"`
	Note      string `form:"note"`
	Email     string `form:"email"`
	Phone     string `form:"phone"`
	Address   string `form:"address"`
}

// newDonor handles GET /drives/:drive/donors/new.
func (s *Site) newDonor(c *gin.Context) error {
	return s.donorFormWith(c, http.StatusOK, donorFormPage{})
}

// addDonor handles POST /drives/:drive/donors/new.
func (s *Site) addDonor(c *gin.Context) error {
	page := donorFormPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	saved, err := s.db.CreateDonor(c.Request.Context(), s.act(c), page.Form.donor(page.Problems), page.Form.contacts(s.may(c, account.Contacts, account.Write)))
	if err == nil {
		s.flash(c, "The donor is on the list.")
		return s.seeOther(c, s.path(c, "donors", saved.Number))
	}
	if !adopt(page.Problems, err) {
		return err
	}
	return s.donorFormWith(c, http.StatusUnprocessableEntity, page)
}

// changeDonor handles GET /drives/:drive/donors/:donor/change.
func (s *Site) changeDonor(c *gin.Context) error {
	number, err := s.number(c, "donor")
	if err != nil {
		return err
	}
	form, err := s.donorStands(c, number)
	if err != nil {
		return err
	}
	return s.donorFormWith(c, http.StatusOK, donorFormPage{Form: form, Number: number})
}

// saveDonor handles POST /drives/:drive/donors/:donor/change.
func (s *Site) saveDonor(c *gin.Context) error {
	number, err := s.number(c, "donor")
	if err != nil {
		return err
	}
	page := donorFormPage{Number: number, Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	d := page.Form.donor(page.Problems)
	d.Number = number
	_, err = s.db.UpdateDonor(c.Request.Context(), s.act(c), d, page.Form.contacts(s.may(c, account.Contacts, account.Write)))
	switch {
	case err == nil:
		s.flash(c, "Changed.")
		return s.seeOther(c, s.path(c, "donors", number))
	case apperr.Is(err, apperr.KindConflict):
		return s.donorClash(c, page, err)
	case !adopt(page.Problems, err):
		return err
	}
	return s.donorFormWith(c, http.StatusUnprocessableEntity, page)
}

// donorClash shows what somebody else saved beside what was typed.
func (s *Site) donorClash(c *gin.Context, page donorFormPage, conflict error) error {
	d, err := s.db.Donor(c.Request.Context(), s.driveID(c), page.Number)
	if err != nil {
		return err
	}
	if d.ErasedAt != nil {
		return conflict
	}
	stands, err := s.donorStands(c, page.Number)
	if err != nil {
		return err
	}
	fields := []clashField{{"name", "Name", nil}, {"letter", "Asked for a letter", yesNo()}, {"no_letters", "Not to be written to", yesNo()}, {"note", "Note", nil}}
	if s.may(c, account.Contacts, account.Write) {
		fields = append(fields, clashField{"email", "E-mail", nil}, clashField{"phone", "Phone", nil}, clashField{"address", "Address", nil})
	}
	page.Clash, page.Form.Version = newClash(stands, page.Form, fields), stands.Version
	return s.donorFormWith(c, http.StatusConflict, page)
}

// eraseDonor handles POST /drives/:drive/donors/:donor/erase. It cannot be undone,
// so it is yesNo() first; contacts are for those who may write them.
func (s *Site) eraseDonor(c *gin.Context) error {
	number, err := s.number(c, "donor")
	if err != nil {
		return err
	}
	if c.PostForm("sure") != "yes" {
		return apperr.Invalid("sure", "Tick that you are sure: who this is cannot be brought back.")
	}
	if _, err := s.db.EraseDonor(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.logErased(c, "donor", s.driveID(c), number)
	s.flash(c, "The donor is forgotten. What was given keeps its place in the books.")
	return s.seeOther(c, s.path(c, "donors", number))
}

func (s *Site) donorFormWith(c *gin.Context, status int, page donorFormPage) error {
	page.Contacts = s.may(c, account.Contacts, account.Write)
	return s.page(c, status, page)
}

// donorStands is the form as a donor stands.
func (s *Site) donorStands(c *gin.Context, number int64) (donorForm, error) {
	d, err := s.db.Donor(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return donorForm{}, err
	}
	form := donorForm{Version: strconv.Itoa(d.Version), Name: d.Name, Letter: yes(d.Letter), NoLetters: yes(d.NoLetters), Note: d.Note}
	if !s.may(c, account.Contacts, account.Write) {
		return form, nil
	}
	contacts, err := s.db.DonorContacts(c.Request.Context(), s.driveID(c), number)
	form.Email, form.Phone, form.Address = contacts.Email, contacts.Phone, contacts.Address
	return form, err
}

// donor reads the form.
func (f donorForm) donor(problems map[string]string) drive.Donor {
	return drive.Donor{
		Name: f.Name, Letter: f.Letter == "yes", NoLetters: f.NoLetters == "yes", Note: f.Note, Version: typedCount(problems, "version", f.Version, 0),
	}
}

// contacts reads how to reach them, nil for those who may not write it.
func (f donorForm) contacts(may bool) *drive.DonorContacts {
	if !may {
		return nil
	}
	return &drive.DonorContacts{Email: f.Email, Phone: f.Phone, Address: f.Address}
}
