package site

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
)

// settingsPage holds the rules that a drive decides for itself.
type settingsPage struct {
	Form     settingsForm
	Problems map[string]string
	Clash    clash
	Units    []option
	Washings []option
	Zones    []string
	People   int          // who sign in
	Invited  int          // invitations that are open
	Passes   int          // of tablets, open now
	SignIns  []lastSignIn // of whoever looks, where they have an account
	NoCode   *withoutCode // the last that nobody has dealt with
	Backups  *backupsPart // for whoever may make them
}

func (settingsPage) template() string { return "settings.html" }
func (settingsPage) title() string    { return "Settings" }

// settingsForm is as typed.
type settingsForm struct {
	Name       string `form:"name"`
	Zone       string `form:"zone"`
	Unit       string `form:"unit"`
	Washing    string `form:"washing"`
	KitCases   string `form:"kit_cases"`
	SpareShare string `form:"spare_share"`
	KeepWidth  string `form:"keep_width"`
	KeepLength string `form:"keep_length"`
	Ask        string `form:"ask"`
	SecondStep string `form:"second_step"`
	Version    string `form:"version"`
	Typed      string `form:"typed"` // the unit that stood beside the lengths
}

// settings handles GET /drives/:drive/settings.
func (s *Site) settings(c *gin.Context) error {
	return s.settingsWith(c, http.StatusOK, settingsPage{Form: settingsOf(s.drive(c))})
}

// settingsNow handles POST /drives/:drive/settings.
func (s *Site) settingsNow(c *gin.Context) error {
	p := settingsPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	d := p.Form.drive(s.drive(c), p.Problems)
	if !adopt(p.Problems, d.Check()) && len(p.Problems) == 0 {
		_, err := s.db.UpdateDrive(c.Request.Context(), s.act(c), d)
		if err == nil {
			s.flash(c, "The settings are saved.")
			return s.seeOther(c, s.path(c, "settings"))
		}
		if apperr.Is(err, apperr.KindConflict) {
			return s.settingsClash(c, p)
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	p.Form = p.Form.beside(s.drive(c).Unit)
	return s.settingsWith(c, http.StatusUnprocessableEntity, p)
}

// settingsClash shows what somebody else saved beside what was typed.
func (s *Site) settingsClash(c *gin.Context, p settingsPage) error {
	d, err := s.db.Drive(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	stands := settingsOf(d)
	p.Form = p.Form.beside(d.Unit)
	p.Clash = newClash(stands, p.Form, []clashField{
		{"name", "Name", nil},
		{"zone", "Time zone", nil},
		{"unit", "People measure in", unitOptions()},
		{"washing", "Washing", washingOptions()},
		{"kit_cases", "Pillowcases in a kit", nil},
		{"spare_share", "Spares", nil},
		{"keep_width", "Remnants kept, width", nil},
		{"keep_length", "Remnants kept, length", nil},
		{"ask", "Whom volunteers ask", nil},
		{"second_step", "Organisers must have a second step", nil},
	}, lengthsIn(d.Unit, "keep_width", "keep_length"))
	p.Form.Version = stands.Version
	return s.settingsWith(c, http.StatusConflict, p)
}

func (s *Site) settingsWith(c *gin.Context, status int, p settingsPage) error {
	ctx := c.Request.Context()
	p.Units, p.Washings, p.Zones = unitOptions(), washingOptions(), commonZones()
	members, err := s.db.Members(ctx, s.driveID(c))
	if err != nil {
		return err
	}
	p.People = len(members)
	if visitorOf(c).pass == nil {
		if p.SignIns, err = s.lastSignIns(c, s.drive(c).Location(), 3); err != nil {
			return err
		}
		without, err := s.withoutCode(c, s.drive(c).Location(), lastShown)
		if err != nil {
			return err
		}
		p.NoCode = lastOpen(without)
	}
	if s.may(c, account.Drive, account.Write) {
		invites, err := s.db.Invites(ctx, s.driveID(c))
		if err != nil {
			return err
		}
		passes, err := s.db.Passes(ctx, s.driveID(c), s.now())
		if err != nil {
			return err
		}
		p.Invited = len(invites)
		for _, pass := range passes {
			if pass.Ended == nil && pass.Opened != nil {
				p.Passes++
			}
		}
	}
	if s.may(c, account.Import, account.Write) {
		if p.Backups, err = s.backupsPart(c.Request.Context()); err != nil {
			return err
		}
	}
	return s.page(c, status, p)
}

// drive gives the drive as the form has it; what cannot be read is a problem at its field.
// Bare lengths are in the unit that stood beside their fields, whichever is the drive's by now;
// d's where the form does not say.
func (f settingsForm) drive(d drive.Drive, problems map[string]string) drive.Drive {
	beside := length.Unit(f.Typed)
	if !slices.ContainsFunc(unitOptions(), func(o option) bool { return o.Value == f.Typed }) {
		beside = d.Unit
	}
	d.KeepWidth = typedSize(problems, "keep_width", f.KeepWidth, beside)
	d.KeepLength = typedSize(problems, "keep_length", f.KeepLength, beside)
	d.Name, d.Zone, d.Unit, d.Washing = f.Name, zoneTyped(f.Zone), length.Unit(f.Unit), f.Washing
	d.KitCases = typedCount(problems, "kit_cases", f.KitCases, 0)
	d.SpareShare = typedCount(problems, "spare_share", strings.TrimSuffix(f.SpareShare, "%"), 0)
	d.Ask = strings.Join(strings.Fields(f.Ask), " ")
	d.SecondStep = f.SecondStep == "yes"
	d.Version = typedCount(problems, "version", f.Version, 0)
	return d
}

// beside gives the form to be shown with another unit beside its lengths: what was typed
// bare stays what it was.
func (f settingsForm) beside(unit length.Unit) settingsForm {
	if f.Typed != "" && f.Typed != string(unit) {
		f.KeepWidth, f.KeepLength = withUnit(f.KeepWidth, f.Typed), withUnit(f.KeepLength, f.Typed)
	}
	f.Typed = string(unit)
	return f
}

// withUnit writes the unit behind a length that was typed without one.
func withUnit(typed, unit string) string {
	in, bad := length.Parse(typed, length.In, length.Up)
	cm, worse := length.Parse(typed, length.CM, length.Up)
	if bad != nil || worse != nil || in == cm {
		return typed
	}
	return typed + " " + unit
}

func settingsOf(d drive.Drive) settingsForm {
	second := ""
	if d.SecondStep {
		second = "yes"
	}
	return settingsForm{
		SecondStep: second,
		Name:       d.Name, Zone: d.Zone, Unit: string(d.Unit), Washing: d.Washing,
		KitCases: strconv.Itoa(d.KitCases), SpareShare: strconv.Itoa(d.SpareShare),
		KeepWidth: sizeText(d.KeepWidth, d.Unit), KeepLength: sizeText(d.KeepLength, d.Unit), Ask: d.Ask, Version: strconv.Itoa(d.Version), Typed: string(d.Unit),
	}
}

func washingOptions() []option {
	return []option{
		{drive.WashedFirst, "all fabric is washed before it is cut"},
		{drive.CutLarger, "fabric is cut larger, by what it will shrink"},
	}
}

// typedSize reads a length that will be cut, so one between two marks is rounded
// up; 0 where nothing stands, and a message on the field for what cannot be read.
func typedSize(problems map[string]string, name, typed string, unit length.Unit) length.Length {
	if typed == "" {
		return 0
	}
	l, err := length.Parse(typed, unit, length.Up)
	if err != nil {
		problem(problems, name, "%s", err.Error())
	}
	return l
}

// sizeText writes a length as it is typed into a field whose unit stands beside
// it; in millimetres where the unit cannot give it exactly. Nothing for 0.
func sizeText(l length.Length, unit length.Unit) string {
	if l == 0 {
		return ""
	}
	text := length.Format(l, unit)
	if strings.HasPrefix(text, "about ") {
		decimal, _ := length.Decimal(l, length.MM)
		return decimal + " mm"
	}
	return strings.TrimSuffix(text, " "+string(unit))
}
