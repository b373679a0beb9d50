package site

import (
	"html/template"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// personLink is somebody's personal link as the drive passes it on: by one's
// own program for mail or for messages, or as text to copy.
type personLink struct {
	Address string       // empty: none has been made
	Path    string       // the same on this site
	Text    string       // a message with it
	Mail    string       // mailto:
	Message template.URL // sms:, which templates do not know as harmless
}

// linkOf gives somebody's personal link. Who may not read contacts gets it
// without them.
func (s *Site) linkOf(c *gin.Context, who drive.Person, contacts *drive.Contacts) (personLink, error) {
	ids, err := s.db.PersonLinks(c.Request.Context(), s.driveID(c), []int64{who.Number})
	if err != nil || ids[who.Number] == "" {
		return personLink{}, err
	}
	var to drive.Contacts
	if contacts != nil {
		to = *contacts
	}
	address := s.personalAddress(ids[who.Number])
	m := s.guests.LinkMessage(who.Name, s.drive(c).Name, address)
	return personLink{Address: address, Path: s.key.PersonalPath(ids[who.Number]), Text: m.Text, Mail: draft(to.Email, m.Subject, m.Text), Message: messageTo(to.Phone, m.Text)}, nil
}

// personalAddress gives the address that the personal link of this id opens;
// empty where there is no link.
func (s *Site) personalAddress(id string) string {
	if id == "" {
		return ""
	}
	return strings.TrimSuffix(s.url.String(), "/") + s.key.PersonalPath(id)
}

// messageTo gives the address that opens a phone's messages (RFC 5724).
func messageTo(to, text string) template.URL {
	return template.URL("sms:" + digitsOf(to) + "?body=" + escapeText(text)) // digits and escaped text alone
}

// digitsOf gives what is dialled of a number as somebody wrote it.
func digitsOf(number string) string {
	return strings.Map(func(r rune) rune {
		if r == '+' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, number)
}

// makePersonLink handles POST /drives/:drive/people/:person/link.
func (s *Site) makePersonLink(c *gin.Context) error {
	return s.onPersonLink(c, "The link is made. Send it from here.", func(who int64) error {
		_, err := s.db.PersonLink(c.Request.Context(), s.act(c), who, false)
		return err
	})
}

// renewPersonLink handles POST …/link/renew: the old one stops working.
func (s *Site) renewPersonLink(c *gin.Context) error {
	return s.onPersonLink(c, "There is a new link; the old one does not work any more.", func(who int64) error {
		_, err := s.db.PersonLink(c.Request.Context(), s.act(c), who, true)
		return err
	})
}

// endPersonLink handles POST …/link/end.
func (s *Site) endPersonLink(c *gin.Context) error {
	return s.onPersonLink(c, "The link does not work any more.", func(who int64) error {
		_, err := s.db.EndPersonLink(c.Request.Context(), s.act(c), who)
		return err
	})
}

func (s *Site) onPersonLink(c *gin.Context, said string, do func(int64) error) error {
	who, err := s.number(c, "person")
	if err != nil {
		return err
	}
	if err := do(who); err != nil {
		return err
	}
	s.flash(c, "%s", said)
	return s.seeOther(c, s.path(c, "people", who)+"#link")
}

// showsLink says whether who looks may pass a personal link on. A tablet may not: its pass
// is for a day, a link for more than a year.
func (s *Site) showsLink(c *gin.Context) bool {
	return visitorOf(c).pass == nil && s.may(c, account.Kits, account.Write)
}

// saidReports is what holders said, with the page it stands on.
type saidReports struct {
	View *view
	Said []drive.StandingReport
}
