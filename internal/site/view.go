package site

import (
	"bytes"
	"crypto/rand"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/words"
)

// page is what a handler shows: a typed struct that knows its template.
type page interface {
	template() string
	title() string
}

// view is what a template sees: the page and what surrounds it.
type view struct {
	Page   page
	Title  string
	Drive  drive.Drive
	Person account.Person
	Role   account.Role
	Hands  *handsView // at a tablet
	Flash  *flash
	Places []place
	Now    time.Time
	Lang   string // BCP 47, of the page's words
	Around words.Around
	Both   bool // every length in the other unit too, as this browser wished last
	// Refresh is after how many seconds the page opens again by itself where no
	// scripts run, at the address Itself; 0: it does not.
	Refresh int
	Itself  string
}

// place is one page of the drive in the navigation.
type place struct {
	Label, Path string
	Current     bool
}

// template gives the template of this name.
func (s *Site) template(name string) (*template.Template, error) {
	parsed, ok := s.pages[name]
	if !ok {
		return nil, fmt.Errorf("there is no template %s", name)
	}
	return parsed()
}

// page writes p with this status: whole, or not at all.
func (s *Site) page(c *gin.Context, status int, p page) error {
	name := p.template()
	t, err := s.template(name)
	if err != nil {
		return err
	}
	v := visitorOf(c)
	refresh, again := 0, ""
	if r, ok := p.(interface{ refresh() int }); ok {
		if refresh = r.refresh(); refresh != 0 {
			again = byItself(byPerson(c.Request.URL))
		}
	}
	spoken, title := s.languageOf(c.Request), p.title()
	if status == http.StatusUnprocessableEntity || status == http.StatusConflict {
		title = spoken.Around.PutRight + ": " + title
	}
	size := s.bytes[name]
	out := bytes.NewBuffer(make([]byte, 0, size.Load()+size.Load()/8)) // the last one of its kind, and some room
	err = t.ExecuteTemplate(out, "layout", &view{
		Page:   p,
		Title:  title,
		Drive:  v.drive,
		Person: v.person,
		Role:   v.role,
		Hands:  handsOf(c),
		Flash:  s.takeFlash(c),
		Places: s.places(c),
		Now:    s.now(),
		Lang:   spoken.Tag,
		Around: spoken.Around,
		Both:   bothUnits(c.Request),

		Refresh: refresh,
		Itself:  again,
	})
	if err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	size.Store(int64(out.Len()))
	c.Header("Content-Length", strconv.Itoa(out.Len()))
	c.Header("Cache-Control", "no-store")
	c.Data(status, "text/html; charset=utf-8", out.Bytes())
	return nil
}

// bothUnits says whether the browser keeps the wish to see each length in both units. The script
// keeps it, in a cookie that says nothing else.
func bothUnits(r *http.Request) bool {
	kept, err := r.Cookie("both-units")
	return err == nil && kept.Value == "yes"
}

// seeOther sends the browser on after something was done.
func (s *Site) seeOther(c *gin.Context, path string) error {
	c.Header("Cache-Control", "no-store")
	c.Redirect(http.StatusSeeOther, path)
	return nil
}

// file sends contents as a download of this name.
func (s *Site) file(c *gin.Context, name, contentType string, contents []byte) error {
	s.attach(c, name)
	c.Data(http.StatusOK, contentType, contents)
	return nil
}

// attach says that the answer is a download of this name.
func (s *Site) attach(c *gin.Context, name string) {
	c.Header("Cache-Control", "no-store")
	c.Header("Content-Disposition", "attachment; filename*=UTF-8''"+url.PathEscape(name))
}

// path gives the address of something in the drive of this request.
func (s *Site) path(c *gin.Context, parts ...any) string { return drivePath(s.driveID(c), parts...) }

// today gives the day in the drive's time zone.
func (s *Site) today(c *gin.Context) time.Time { return drive.Day(s.now(), s.drive(c).Location()) }

// drivePath gives the address of something in a drive.
func drivePath(id string, parts ...any) string {
	path := "/drives/" + url.PathEscape(id)
	for _, part := range parts {
		switch part := part.(type) {
		case int64:
			path += "/" + strconv.FormatInt(part, 10)
		case *int64:
			path += "/" + strconv.FormatInt(*part, 10)
		case string:
			path += "/" + url.PathEscape(part)
		default:
			path += "/" + url.PathEscape(fmt.Sprint(part))
		}
	}
	return path
}

// Path gives the address of something in the drive.
func (v *view) Path(parts ...any) string { return drivePath(v.Drive.ID, parts...) }

// SignedIn says whether somebody is, with an account or at a tablet.
func (v *view) SignedIn() bool { return v.Person.ID != 0 }

// Once gives a new key for one form of the page.
func (v *view) Once() string { return rand.Text() }

// Nav is the navigation as a list.
func (v *view) Nav() template.HTML {
	var m markup
	for _, p := range v.Places {
		m.put("\n<li><a href=\"").text(p.Path).put(`"`).when(p.Current, ` aria-current="page"`).put(">").text(p.Label).put("</a></li>")
	}
	return m.html()
}

// Here gives the label of the page that is open, or of the navigation.
func (v *view) Here() string {
	for _, p := range v.Places {
		if p.Current {
			return p.Label
		}
	}
	return "Pages"
}

// TakesMore says whether the drive still hands out and is asked for more: what a closed one would
// refuse is not offered.
func (v *view) TakesMore() bool { return v.Drive.TakesMore() == nil }

// ToldClosed says that the page itself tells that the drive is closed.
func (v *view) ToldClosed() bool {
	_, tells := v.Page.(interface{ tellsClosed() })
	return tells
}

// Reads says whether this visitor may read the area; an unknown area is an error.
func (v *view) Reads(area string) (bool, error) { return v.may(area, account.Read) }

// Writes says whether this visitor may change things in the area.
func (v *view) Writes(area string) (bool, error) { return v.may(area, account.Write) }

func (v *view) may(area string, access account.Access) (bool, error) {
	for _, a := range account.Areas() {
		if string(a) == area {
			return v.Role.Allows(a) >= access, nil
		}
	}
	return false, fmt.Errorf("there is no area %q", area)
}

// Today gives the day in the drive's time zone.
func (v *view) Today() time.Time { return drive.Day(v.Now, v.Drive.Location()) }

// Moment writes a moment in the drive's time zone.
func (v *view) Moment(at time.Time) template.HTML { return moment(at, v.Drive.Location()) }

// Length writes a length in the drive's unit, the other unit beside it.
func (v *view) Length(l length.Length) template.HTML { return lengthIn(l, v.Drive.Unit) }

// Cloth is Length for how much cloth there is, as read off a tape.
func (v *view) Cloth(l length.Length) template.HTML {
	return besides(drive.OnTape(l, v.Drive.Unit), length.Other(l, v.Drive.Unit))
}

// navigation is every page of a drive in the order of its people's work.
func navigation() []struct{ stem, label string } {
	return []struct{ stem, label string }{
		{"needs", "Needs you"},
		{"asked", "Asked for"},
		{"fabric", "Fabric"},
		{"plan", "Plan"},
		{"cutting", "Cutting"},
		{"kits", "Kits"},
		{"people", "People"},
		{"back", "Pillowcases back"},
		{"deliveries", "Deliveries"},
		{"books", "The books"},
		{"sizes", "Sizes"},
		{"settings", "Settings"},
	}
}

// listed is a page of the navigation with the right that opening it needs.
type listed struct {
	stem, label string
	need        need
}

// navigate finds the rights of the navigation's pages among the routes.
func (s *Site) navigate() {
	for _, n := range navigation() {
		if need, ok := s.needOf("/drives/:drive/" + n.stem); ok {
			s.listed = append(s.listed, listed{n.stem, n.label, need})
		}
	}
}

// places gives the pages this visitor may open in the drive of the request.
func (s *Site) places(c *gin.Context) []place {
	v := visitorOf(c)
	if v.role == "" {
		return nil
	}
	here, _, _ := strings.Cut(strings.TrimPrefix(c.Request.URL.Path, drivePath(v.drive.ID)+"/"), "/")
	if here == "recipients" {
		here = "asked" // where they are listed
	}
	if here == "donors" {
		here = "fabric"
	}
	if here == "trail" {
		here = "settings"
	}
	var places []place
	for _, n := range s.listed {
		if v.role.Allows(n.need.area) >= n.need.access {
			places = append(places, place{Label: n.label, Path: drivePath(v.drive.ID, n.stem), Current: n.stem == here})
		}
	}
	return places
}

// needOf gives the right that opening an address needs, if there is such a page.
func (s *Site) needOf(path string) (need, bool) {
	for _, r := range s.routes {
		if r.method == http.MethodGet && r.path == path {
			return r.need, true
		}
	}
	return need{}, false
}

// number gives a number in the address, such as a lot's; anything else there is
// not found.
func (s *Site) number(c *gin.Context, name string) (int64, error) {
	n, ok := wholeNumber(c.Param(name))
	if !ok {
		return 0, apperr.NotFound("%s", aroundOf(c).NoThing)
	}
	return n, nil
}
