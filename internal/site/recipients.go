package site

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/outlook"
)

// recipientPage is one recipient: how far what it asked for has come, and its rules.
type recipientPage struct {
	Recipient drive.Recipient
	Lines     []askedRow
	Together  drive.Standing // of every line
	Open      drive.Standing // of those that are open; of every line where none is
	Closed    drive.Standing // of those that are closed beside open ones
	Tape      tape
	Foretold  *foretold // nil where nothing is left to do
	Spares    []lineSpares
	Refused   giveForm // what was typed of a giving that cannot be
	Problems  map[string]string
	History   []askedPast
	Next      *step
	Link      personLink // its own page
	Passes    bool       // who looks may pass that on
}

func (recipientPage) template() string { return "recipient.html" }
func (p recipientPage) title() string  { return p.Recipient.Name }

// recipient handles GET /drives/:drive/recipients/:recipient.
func (s *Site) recipient(c *gin.Context) error {
	number, err := s.number(c, "recipient")
	if err != nil {
		return err
	}
	return s.recipientShown(c, http.StatusOK, number, recipientPage{})
}

// recipientShown shows one recipient, with what p says of a giving that was refused.
func (s *Site) recipientShown(c *gin.Context, status int, number int64, p recipientPage) error {
	ctx, id := c.Request.Context(), s.driveID(c)
	var r drive.Recipient
	var lines []drive.AskedLine
	var kept *drive.KeptForecast
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) { r, err = s.db.Recipient(ctx, id, number); return err },
		func(ctx context.Context) (err error) { lines, err = s.db.AskedLines(ctx, id); return err },
		func(ctx context.Context) (err error) {
			kept, err = s.db.KeptForecast(ctx, id, outlook.Form)
			return err
		})
	if err != nil {
		return err
	}
	ahead, err := s.outlooks(ctx, s.drive(c), kept, lines, &number)
	if err != nil {
		return err
	}
	p.Recipient, p.Passes = r, s.passesOn(c)
	if p.Link, err = s.receiverLink(c, r); err != nil {
		return err
	}
	for _, line := range lines {
		if line.Recipient == number {
			row := newAskedRow(line, s.today(c))
			row.Likely = ahead.line(line)
			p.Lines = append(p.Lines, row)
			p.Together = p.Together.Plus(row.Standing)
			if line.Closed {
				p.Closed = p.Closed.Plus(row.Standing)
			} else {
				p.Open = p.Open.Plus(row.Standing)
			}
		}
	}
	if p.Open.Asked == 0 {
		p.Open, p.Closed = p.Together, drive.Standing{}
	}
	p.Tape = standingTape(p.Open)
	p.Foretold = ahead.foretold(number)
	if err := s.elsewhere(c, &p, lines); err != nil {
		return err
	}
	if p.Next, err = s.nextStep(c); err != nil {
		return err
	}
	return s.page(c, status, p)
}

// recipientFormPage adds a recipient or changes one.
type recipientFormPage struct {
	Form     recipientForm
	Problems map[string]string
	Clash    clash
	Kinds    []option
	Fibres   []option
	Homes    []option
	Number   int64 // 0 for a new one
	Action   string
	Back     string
}

func (recipientFormPage) template() string { return "recipient-form.html" }
func (p recipientFormPage) title() string {
	if p.Number == 0 {
		return "Add a recipient"
	}
	return "Change a recipient"
}

// recipientForm is as typed.
type recipientForm struct {
	Kind    string   `form:"kind"`
	Name    string   `form:"name"`
	Ages    string   `form:"ages"`
	Fibres  []string `form:"fibres"`
	Rules   string   `form:"rules"`
	Homes   []string `form:"homes"`
	Contact string   `form:"contact"`
	Email   string   `form:"email"`
	Phone   string   `form:"phone"`
	Address string   `form:"address"`
	Note    string   `form:"note"`
	Version string   `form:"version"`
}

// addRecipient handles GET /drives/:drive/recipients/new.
func (s *Site) addRecipient(c *gin.Context) error {
	return s.recipientWith(c, http.StatusOK, recipientFormPage{Form: recipientForm{Kind: string(drive.RecipientWard)}})
}

// addRecipientNow handles POST /drives/:drive/recipients/new.
func (s *Site) addRecipientNow(c *gin.Context) error {
	p := recipientFormPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	r, err := s.db.CreateRecipient(c.Request.Context(), s.act(c), p.Form.recipient(0, p.Problems))
	if err == nil {
		s.flash(c, "%s is added.", r.Name)
		return s.seeOther(c, s.path(c, "recipients", r.Number))
	}
	if !adopt(p.Problems, err) {
		return err
	}
	return s.recipientWith(c, http.StatusUnprocessableEntity, p)
}

// changeRecipient handles GET /drives/:drive/recipients/:recipient/change.
func (s *Site) changeRecipient(c *gin.Context) error {
	number, err := s.number(c, "recipient")
	if err != nil {
		return err
	}
	r, err := s.db.Recipient(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	return s.recipientWith(c, http.StatusOK, recipientFormPage{Form: recipientAsTyped(r), Number: number})
}

// changeRecipientNow handles POST /drives/:drive/recipients/:recipient/change.
func (s *Site) changeRecipientNow(c *gin.Context) error {
	number, err := s.number(c, "recipient")
	if err != nil {
		return err
	}
	p := recipientFormPage{Problems: map[string]string{}, Number: number}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	r, err := s.db.UpdateRecipient(c.Request.Context(), s.act(c), p.Form.recipient(number, p.Problems))
	if err == nil {
		s.flash(c, "%s is changed.", r.Name)
		return s.seeOther(c, s.path(c, "recipients", number))
	}
	if apperr.Is(err, apperr.KindConflict) {
		stands, err := s.db.Recipient(c.Request.Context(), s.driveID(c), number)
		if err != nil {
			return err
		}
		p.Clash = newClash(recipientAsTyped(stands), p.Form, []clashField{
			{"kind", "Kind", recipientKindOptions()},
			{"name", "Name", nil},
			{"ages", "Ages", nil},
			{"fibres", "Fibres it takes", nil},
			{"rules", "Rules", nil},
			{"homes", "Homes that sew for it", nil},
			{"contact", "Contact", nil},
			{"email", "E-mail", nil},
			{"phone", "Phone", nil},
			{"address", "Address", nil},
			{"note", "Note", nil},
		})
		p.Form.Version = strconv.Itoa(stands.Version)
		return s.recipientWith(c, http.StatusConflict, p)
	}
	if !adopt(p.Problems, err) {
		return err
	}
	return s.recipientWith(c, http.StatusUnprocessableEntity, p)
}

func (s *Site) recipientWith(c *gin.Context, status int, p recipientFormPage) error {
	p.Kinds, p.Action, p.Back = recipientKindOptions(), s.path(c, "recipients", "new"), s.path(c, "asked")
	for _, fibre := range drive.RecipientFibres() {
		p.Fibres = append(p.Fibres, option{fibre, fibre})
	}
	for _, home := range drive.RecipientHomes() {
		p.Homes = append(p.Homes, option{home, home})
	}
	if p.Number != 0 {
		p.Action, p.Back = s.path(c, "recipients", p.Number, "change"), s.path(c, "recipients", p.Number)
	}
	return s.page(c, status, p)
}

// recipient gives the recipient as the form has it.
func (f recipientForm) recipient(number int64, problems map[string]string) drive.Recipient {
	return drive.Recipient{
		Number: number, Kind: drive.RecipientKind(f.Kind), Name: f.Name, Ages: f.Ages, Contact: f.Contact, Email: f.Email, Phone: f.Phone,
		Address: f.Address, Fibres: f.Fibres, Rules: strings.Split(f.Rules, "\n"), Homes: f.Homes, Note: f.Note, Version: typedCount(problems, "version", f.Version, 0),
	}
}

func recipientAsTyped(r drive.Recipient) recipientForm {
	return recipientForm{
		Kind: string(r.Kind), Name: r.Name, Ages: r.Ages, Fibres: r.Fibres, Rules: strings.Join(r.Rules, "\n"), Homes: r.Homes, Contact: r.Contact, Email: r.Email,
		Phone: r.Phone, Address: r.Address, Note: r.Note, Version: fmt.Sprint(r.Version),
	}
}

func recipientKindOptions() []option {
	var options []option
	for _, kind := range drive.RecipientKinds() {
		options = append(options, option{string(kind), string(kind)})
	}
	return options
}
