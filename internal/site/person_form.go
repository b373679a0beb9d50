package site

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// personFormPage adds somebody or changes them.
type personFormPage struct {
	Form     personForm
	Problems map[string]string
	Clash    clash
	Number   int64 // 0: somebody new
	Kinds    []option
	Declared []option
	Contacts bool // whoever fills it may write contacts
}

func (personFormPage) template() string { return "person-form.html" }
func (p personFormPage) title() string {
	if p.Number == 0 {
		return "Somebody new"
	}
	return "Change " + p.Form.Name
}

// personForm is as typed.
type personForm struct {
	Version    string `form:"version"`
	Kind       string `form:"kind"`
	Name       string `form:"name"`
	Heads      string `form:"heads"`
	Pickup     string `form:"pickup"`
	FrenchSeam string `form:"french_seam"`
	Overlocker string `form:"overlocker"`
	Beginner   string `form:"beginner"`
	Pace       string `form:"pace"`
	Language   string `form:"language"`
	Smoke      string `form:"smoke"`
	Pets       string `form:"pets"`
	Note       string `form:"note"`
	Resting    string `form:"resting"`
	Contact    string `form:"contact"`
	Email      string `form:"email"`
	Phone      string `form:"phone"`
	Address    string `form:"address"`
	AgreedOn   string `form:"agreed_on"`
}

// personNew handles GET /drives/:drive/people/new.
func (s *Site) personNew(c *gin.Context) error {
	return s.personWith(c, http.StatusOK, personFormPage{Form: personForm{Kind: string(drive.PersonVolunteer)}})
}

// personAdd handles POST /drives/:drive/people/new.
func (s *Site) personAdd(c *gin.Context) error {
	page := personFormPage{}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	var p drive.Person
	if p, page.Problems = page.Form.person(); len(page.Problems) == 0 {
		contacts := page.Form.contacts(s.may(c, account.Contacts, account.Write), page.Problems)
		if len(page.Problems) > 0 {
			return s.personWith(c, http.StatusUnprocessableEntity, page)
		}
		saved, err := s.db.CreatePerson(c.Request.Context(), s.act(c), p, contacts)
		if err == nil {
			s.flash(c, "%s is on the list.", p.Tidy().Name)
			return s.seeOther(c, s.path(c, "people", saved.Number))
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.personWith(c, http.StatusUnprocessableEntity, page)
}

// personChange handles GET /drives/:drive/people/:person/change.
func (s *Site) personChange(c *gin.Context) error {
	number, err := s.number(c, "person")
	if err != nil {
		return err
	}
	form, err := s.personStands(c, number)
	if err != nil {
		return err
	}
	return s.personWith(c, http.StatusOK, personFormPage{Form: form, Number: number})
}

// personSave handles POST /drives/:drive/people/:person/change.
func (s *Site) personSave(c *gin.Context) error {
	number, err := s.number(c, "person")
	if err != nil {
		return err
	}
	page := personFormPage{Number: number}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	var p drive.Person
	p, page.Problems = page.Form.person()
	contacts := page.Form.contacts(s.may(c, account.Contacts, account.Write), page.Problems)
	if len(page.Problems) > 0 {
		return s.personWith(c, http.StatusUnprocessableEntity, page)
	}
	p.Number = number
	_, err = s.db.UpdatePerson(c.Request.Context(), s.act(c), p, contacts)
	switch {
	case err == nil:
		s.flash(c, "Changed.")
		return s.seeOther(c, s.path(c, "people", number))
	case apperr.Is(err, apperr.KindConflict):
		stands, err := s.personStands(c, number)
		if err != nil {
			return err
		}
		page.Clash, page.Form.Version = newClash(stands, page.Form, personFields()), stands.Version
		return s.personWith(c, http.StatusConflict, page)
	case !adopt(page.Problems, err):
		return err
	}
	return s.personWith(c, http.StatusUnprocessableEntity, page)
}

// personFields names the fields of the form where two edits may differ.
func personFields() []clashField {
	return []clashField{
		{"name", "Name", nil},
		{"kind", "Kind", nil},
		{"heads", "How many sew", nil},
		{"pickup", "Pickup place", nil},
		{"french_seam", "Sews French seams", yesNo()},
		{"overlocker", "Has an overlocker", yesNo()},
		{"beginner", "Begins", yesNo()},
		{"pace", "Pillowcases a week", nil},
		{"language", "Reads best", nil},
		{"smoke", "Smoke where it is sewn", declaredOptions()},
		{"pets", "Pets where it is sewn", declaredOptions()},
		{"note", "Note", nil},
		{"resting", "Rests for now", yesNo()},
		{"contact", "Ask for", nil},
		{"email", "E-mail", nil},
		{"phone", "Phone", nil},
		{"address", "Address", nil},
		{"agreed_on", "Agreed on", nil},
	}
}

func (s *Site) personWith(c *gin.Context, status int, page personFormPage) error {
	page.Contacts = s.may(c, account.Contacts, account.Write)
	for _, kind := range drive.PersonKinds() {
		page.Kinds = append(page.Kinds, option{string(kind), string(kind)})
	}
	page.Declared = declaredOptions()
	return s.page(c, status, page)
}

func declaredOptions() []option {
	return []option{{string(drive.NotDeclared), "not asked yet"}, {string(drive.DeclaredNo), "no"}, {string(drive.DeclaredYes), "yes"}}
}

// personStands is the form as somebody stands.
func (s *Site) personStands(c *gin.Context, number int64) (personForm, error) {
	p, err := s.db.Person(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return personForm{}, err
	}
	form := personForm{
		Version: strconv.Itoa(p.Version), Kind: string(p.Kind), Name: p.Name, Heads: strconv.Itoa(p.Heads), Pickup: p.Pickup,
		FrenchSeam: yes(p.FrenchSeam), Overlocker: yes(p.Overlocker), Beginner: yes(p.Beginner), Language: p.Language, Smoke: string(p.Smoke), Pets: string(p.Pets), Note: p.Note, Resting: yes(!p.Active),
	}
	if p.Pace != nil {
		form.Pace = strconv.Itoa(*p.Pace)
	}
	if !s.may(c, account.Contacts, account.Write) {
		return form, nil
	}
	contacts, err := s.db.Contacts(c.Request.Context(), s.driveID(c), number)
	form.Contact, form.Email, form.Phone, form.Address = contacts.Contact, contacts.Email, contacts.Phone, contacts.Address
	if contacts.AgreedOn != nil {
		form.AgreedOn = contacts.AgreedOn.Format(time.DateOnly)
	}
	return form, err
}

// person reads the form, with what is wrong with it.
func (f personForm) person() (drive.Person, map[string]string) {
	problems := map[string]string{}
	p := drive.Person{
		Kind: drive.PersonKind(f.Kind), Name: f.Name, Pickup: f.Pickup, Heads: typedCount(problems, "heads", f.Heads, 1),
		FrenchSeam: f.FrenchSeam == "yes", Overlocker: f.Overlocker == "yes", Beginner: f.Beginner == "yes",
		Language: f.Language, Smoke: drive.Declared(f.Smoke), Pets: drive.Declared(f.Pets), Note: f.Note, Active: f.Resting != "yes",
		Version: typedCount(problems, "version", f.Version, 0),
	}
	if f.Pace != "" {
		pace := typedCount(problems, "pace", f.Pace, 0)
		p.Pace = &pace
	}
	return p, problems
}

// contacts reads how to reach them, nil for those who may not write it.
func (f personForm) contacts(may bool, problems map[string]string) *drive.Contacts {
	if !may {
		return nil
	}
	return &drive.Contacts{Contact: f.Contact, Email: f.Email, Phone: f.Phone, Address: f.Address, AgreedOn: typedDay(problems, "agreed_on", f.AgreedOn)}
}

// yesNo says a tick in words.
func yesNo() []option { return []option{{"yes", "yes"}, {"", "no"}} }

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}
