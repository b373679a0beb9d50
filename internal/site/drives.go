package site

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
)

// startPage is where a drive is started: its name, where it is, how it measures.
type startPage struct {
	Form     startForm
	Problems map[string]string
	Units    []option
	Zones    []string
	First    bool // nobody has started one here yet
}

func (startPage) template() string { return "start.html" }
func (startPage) title() string    { return "Start a drive" }

// startForm is as typed.
type startForm struct {
	Name string `form:"name"`
	ID   string `form:"id"`
	Zone string `form:"zone"`
	Unit string `form:"unit"`
}

// start handles GET /drives/new.
func (s *Site) start(c *gin.Context) error {
	return s.startWith(c, http.StatusOK, startForm{}, nil)
}

// startNow handles POST /drives/new: whoever starts a drive organises it.
func (s *Site) startNow(c *gin.Context) error {
	var form startForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	if onceKey(c) == "" {
		return apperr.Invalid("", "This form came without the key that keeps it from being booked twice. Open the page again and send it from there.")
	}
	problems := map[string]string{}
	d := drive.NewDrive(form.ID, form.Name, zoneTyped(form.Zone), length.Unit(form.Unit))
	if d.ID == "" {
		d.ID = drive.Address(form.Name)
	}
	switch d.ID {
	case "":
		if form.Name != "" {
			problem(problems, "id", "Give an address of small letters and digits: the name has none to make one from.")
		}
	case "new":
		problem(problems, "id", "The address cannot be “new”. Choose another.")
	}
	if !adopt(problems, d.Check()) && len(problems) == 0 {
		d, err := s.db.CreateDrive(c.Request.Context(), s.act(c), d)
		if err == nil {
			s.flash(c, "%s is started, and you organise it.", d.Name)
			return s.seeOther(c, drivePath(d.ID, "needs"))
		}
		if !adopt(problems, err) {
			return err
		}
	}
	return s.startWith(c, http.StatusUnprocessableEntity, form, problems)
}

func (s *Site) startWith(c *gin.Context, status int, form startForm, problems map[string]string) error {
	drives, err := s.db.Drives(c.Request.Context())
	if err != nil {
		return err
	}
	return s.page(c, status, startPage{Form: form, Problems: problems, Units: unitOptions(), Zones: commonZones(), First: len(drives) == 0})
}

// unitOptions are how a drive's people measure.
func unitOptions() []option {
	return []option{{string(length.In), "inches and yards"}, {string(length.CM), "centimetres and metres"}}
}

// zoneTyped reads a time zone as people type it: a city of those that are suggested does, and so
// do small letters. What is none of these is left for the zone database to know.
func zoneTyped(typed string) string {
	plain := func(s string) string { return strings.ToLower(strings.ReplaceAll(s, "_", " ")) }
	for _, zone := range commonZones() {
		city := zone[strings.LastIndexByte(zone, '/')+1:]
		if said := plain(typed); said == plain(zone) || said == plain(city) {
			return zone
		}
	}
	return typed
}

// commonZones are suggested; any zone of the IANA database may be typed.
func commonZones() []string {
	return []string{
		"Africa/Cairo", "Africa/Johannesburg", "Africa/Lagos", "Africa/Nairobi", "America/Anchorage", "America/Argentina/Buenos_Aires",
		"America/Chicago", "America/Denver", "America/Halifax", "America/Los_Angeles", "America/Mexico_City", "America/New_York",
		"America/Phoenix", "America/Sao_Paulo", "America/St_Johns", "America/Toronto", "America/Vancouver", "Asia/Dubai", "Asia/Kolkata",
		"Asia/Manila", "Asia/Seoul", "Asia/Shanghai", "Asia/Singapore", "Asia/Tokyo", "Australia/Adelaide", "Australia/Brisbane",
		"Australia/Melbourne", "Australia/Perth", "Australia/Sydney", "Europe/Amsterdam", "Europe/Athens", "Europe/Berlin", "Europe/Brussels",
		"Europe/Copenhagen", "Europe/Dublin", "Europe/Helsinki", "Europe/Istanbul", "Europe/Lisbon", "Europe/London", "Europe/Madrid",
		"Europe/Oslo", "Europe/Paris", "Europe/Prague", "Europe/Rome", "Europe/Stockholm", "Europe/Vienna", "Europe/Warsaw", "Europe/Zurich",
		"Pacific/Auckland", "Pacific/Honolulu",
	}
}
