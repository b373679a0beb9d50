package site

import (
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
)

// receiverLink gives a recipient's personal link as the drive passes it on; empty where
// there is none, or who looks may not pass it on.
func (s *Site) receiverLink(c *gin.Context, r drive.Recipient) (personLink, error) {
	if !s.passesOn(c) {
		return personLink{}, nil
	}
	id, err := s.db.LinkOfRecipient(c.Request.Context(), s.driveID(c), r.Number)
	if err != nil || id == "" {
		return personLink{}, err
	}
	address := s.receiverAddress(id)
	m := s.guests.ReceiveMessage(r.Name, s.drive(c).Name, address)
	return personLink{Address: address, Path: s.key.ReceiverPath(id), Text: m.Text, Mail: draft(r.Email, m.Subject, m.Text), Message: messageTo(r.Phone, m.Text)}, nil
}

// receiverAddress gives the address that the recipient's link of this id opens.
func (s *Site) receiverAddress(id string) string {
	return strings.TrimSuffix(s.url.String(), "/") + s.key.ReceiverPath(id)
}

// passesOn says whether who looks may pass a recipient's link on: who has it may say
// what arrived. A tablet may not, since its pass is for a day.
func (s *Site) passesOn(c *gin.Context) bool {
	return visitorOf(c).pass == nil && s.may(c, account.Packing, account.Write)
}

// makeReceiverLink handles POST /drives/:drive/recipients/:recipient/link.
func (s *Site) makeReceiverLink(c *gin.Context) error {
	return s.onReceiverLink(c, "The link is made. Send it from here; it is printed on every delivery note too.", func(number int64) error {
		_, err := s.db.RecipientLink(c.Request.Context(), s.act(c), number, false)
		return err
	})
}

// renewReceiverLink handles POST …/link/renew: the old one stops working.
func (s *Site) renewReceiverLink(c *gin.Context) error {
	return s.onReceiverLink(c, "There is a new link; the old one does not work any more, and notes printed before open nothing.", func(number int64) error {
		_, err := s.db.RecipientLink(c.Request.Context(), s.act(c), number, true)
		return err
	})
}

// endReceiverLink handles POST …/link/end.
func (s *Site) endReceiverLink(c *gin.Context) error {
	return s.onReceiverLink(c, "The link does not work any more.", func(number int64) error {
		_, err := s.db.EndRecipientLink(c.Request.Context(), s.act(c), number)
		return err
	})
}

func (s *Site) onReceiverLink(c *gin.Context, said string, do func(int64) error) error {
	number, err := s.number(c, "recipient")
	if err != nil {
		return err
	}
	if err := do(number); err != nil {
		return err
	}
	s.flash(c, "%s", said)
	return s.seeOther(c, s.path(c, "recipients", number)+"#link")
}
