package site

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/postgres"
	"boltward/internal/words"
)

// deliveryPage is one delivery: its note to print and sign, what was said of it and
// how counts that differ were settled.
type deliveryPage struct {
	Form      confirmForm
	Leaving   leavingForm
	Problems  map[string]string
	Delivery  drive.Delivery
	Recipient drive.Recipient
	Boxes     []noteBox
	Note      drive.DeliveryNote
	Words     words.Note
	Ways      []option
	Differs   []differsRow
	Answers   []answerShown
	Settled   []settledShown
	Unread    bool // the recipient wrote something that nobody has read
	Passes    bool // who looks may pass the recipient's link on
	Link      personLink
}

func (deliveryPage) template() string { return "delivery.html" }
func (p deliveryPage) title() string  { return fmt.Sprintf("Delivery %d", p.Delivery.Number) }

// State is how far it has come, as templates compare it.
func (p deliveryPage) State() string { return string(p.Delivery.State()) }

// noteBox is one box of the note, by size.
type noteBox struct {
	Number    int64
	PackedBy  string
	CheckedBy string
	Rows      []noteRow
}

// noteRow is one size in a box: as noted, confirmed, and what is typed as arrived.
type noteRow struct {
	Field     string
	Size      string
	Noted     int
	Confirmed int
	Typed     string
	arrived   drive.Arrived
}

// confirmForm is who said what arrived, as typed; the counts stand in the rows.
type confirmForm struct {
	By   string `form:"by"`
	How  string `form:"how"`
	On   string `form:"on"`
	Note string `form:"note"`
}

// leavingForm is when a delivery that was made left, as typed.
type leavingForm struct {
	SentOn    string `form:"sent_on"`
	CarriedBy string `form:"carried_by"`
}

// answerShown is what somebody said at one time, in words.
type answerShown struct {
	postgres.DeliveryAnswer
	Counts []string
}

// settledShown is how a count was settled, in words.
type settledShown struct {
	postgres.DeliverySettled
	What string
	Box  string
}

// delivery handles GET /drives/:drive/deliveries/:delivery.
func (s *Site) delivery(c *gin.Context) error {
	p, err := s.deliveryPage(c)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, p)
}

// sendDelivery handles POST /drives/:drive/deliveries/:delivery/send: it has left.
func (s *Site) sendDelivery(c *gin.Context) error {
	p, err := s.deliveryPage(c)
	if err != nil {
		return err
	}
	if err := s.read(c, &p.Leaving); err != nil {
		return err
	}
	on := s.today(c)
	if typed := typedDay(p.Problems, "sent_on", p.Leaving.SentOn); typed != nil {
		on = *typed
	}
	if len(p.Problems) == 0 {
		n, err := s.db.SendDelivery(c.Request.Context(), s.act(c), p.Delivery.Number, on, p.Leaving.CarriedBy)
		if err == nil {
			s.flashUndo(c, s.path(c, "deliveries", p.Delivery.Number, "undo"), "%s on the way.", counted(n, "pillowcase is", "pillowcases are"))
			return s.seeOther(c, s.path(c, "deliveries", p.Delivery.Number))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.page(c, http.StatusUnprocessableEntity, p)
}

// undoDelivery handles POST /drives/:drive/deliveries/:delivery/undo.
func (s *Site) undoDelivery(c *gin.Context) error {
	number, err := s.number(c, "delivery")
	if err != nil {
		return err
	}
	boxes, err := s.db.UndoDelivery(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	s.flash(c, "Delivery %d is undone: %s to be sent again.", number, counted(boxes, "box waits", "boxes wait"))
	return s.seeOther(c, s.path(c, "deliveries"))
}

// deliveryNote handles GET /drives/:drive/deliveries/:delivery/note.pdf.
func (s *Site) deliveryNote(c *gin.Context) error {
	number, err := s.number(c, "delivery")
	if err != nil {
		return err
	}
	note, err := s.db.DeliveryNote(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	var pdf bytes.Buffer
	own := ""
	if note.Link != "" && s.passesOn(c) { // whoever has that address speaks for the ward
		own = s.receiverAddress(note.Link)
	}
	if err := paper.DeliveryNote(&pdf, s.drive(c), s.url.String(), own, paper.UsualSheet(s.drive(c)), note.Note, s.now()); err != nil {
		return err
	}
	return s.file(c, fmt.Sprintf("delivery-%d.pdf", number), "application/pdf", pdf.Bytes())
}

// confirmDelivery handles POST /drives/:drive/deliveries/:delivery/confirm.
func (s *Site) confirmDelivery(c *gin.Context) error {
	p, err := s.deliveryPage(c)
	if err != nil {
		return err
	}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	said := drive.Confirmation{By: p.Form.By, How: p.Form.How, On: s.today(c), Note: p.Form.Note}
	if on := typedDay(p.Problems, "on", p.Form.On); on != nil {
		said.On = *on
	}
	for i := range p.Boxes {
		for j := range p.Boxes[i].Rows {
			row := &p.Boxes[i].Rows[j]
			row.Typed = clean(c.Request.PostForm.Get(row.Field))
			row.arrived.N = typedCount(p.Problems, row.Field, row.Typed, 0)
			said.Arrived = append(said.Arrived, row.arrived)
		}
	}
	if len(p.Problems) == 0 {
		d, err := s.db.ConfirmDelivery(c.Request.Context(), s.act(c), p.Delivery.Number, said)
		if err == nil {
			s.flash(c, "%s", saidWords(d))
			return s.seeOther(c, s.path(c, "deliveries", p.Delivery.Number))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.page(c, http.StatusUnprocessableEntity, p)
}

// saidWords says how a delivery stands after somebody said what arrived.
func saidWords(d postgres.Settled) string {
	switch {
	case d.Open == 0 && d.More == 0:
		return fmt.Sprintf("All %d are confirmed.", d.Confirmed)
	case d.More == 0:
		return fmt.Sprintf("Noted. %d of %d did not arrive: the counts differ until somebody settles them.", d.Open, d.Cases)
	case d.Open == 0:
		return fmt.Sprintf("Noted. %d more arrived than the note says: the counts differ until somebody settles them.", d.More)
	}
	return fmt.Sprintf("Noted. %d of %d did not arrive and %d are more than the note says: the counts differ until somebody settles them.", d.Open, d.Cases, d.More)
}

// readDelivery handles POST /drives/:drive/deliveries/:delivery/read: what the
// recipient wrote was read.
func (s *Site) readDelivery(c *gin.Context) error {
	number, err := s.number(c, "delivery")
	if err != nil {
		return err
	}
	if _, err := s.db.ReadDelivery(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Noted as read.")
	return s.seeOther(c, s.path(c, "deliveries", number))
}

// forgetDelivery handles POST /drives/:drive/deliveries/:delivery/forget: what people
// wrote of it is emptied.
func (s *Site) forgetDelivery(c *gin.Context) error {
	number, err := s.number(c, "delivery")
	if err != nil {
		return err
	}
	if _, err := s.db.ForgetWritten(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Forgotten: names and notes of delivery %d. Its counts stay.", number)
	return s.seeOther(c, s.path(c, "deliveries", number))
}

func (s *Site) deliveryPage(c *gin.Context) (deliveryPage, error) {
	today := s.today(c).Format(time.DateOnly)
	p := deliveryPage{
		Problems: map[string]string{}, Form: confirmForm{How: drive.ByPhone, On: today},
		Ways: []option{{drive.ByPhone, "by phone"}, {drive.ByNote, "signed note came back"}, {drive.InHand, "in person"}},
	}
	ctx, driveID := c.Request.Context(), s.driveID(c)
	number, err := s.number(c, "delivery")
	if err != nil {
		return p, err
	}
	if p.Delivery, err = s.db.Delivery(ctx, driveID, number); err != nil {
		return p, err
	}
	p.Leaving = leavingForm{SentOn: today, CarriedBy: p.Delivery.CarriedBy}
	if p.Recipient, err = s.db.Recipient(ctx, driveID, p.Delivery.Recipient); err != nil {
		return p, err
	}
	if p.State() != string(drive.DeliveryUndone) {
		printed, err := s.db.DeliveryNote(ctx, driveID, number)
		if err != nil {
			return p, err
		}
		p.Note, p.Words = printed.Note, s.guests.DeliveryNote(paper.NoteFacts(s.drive(c), printed.Note, s.guests))
	}
	_, sizes, err := s.names(ctx, driveID)
	if err != nil {
		return p, err
	}
	p.Boxes = noteBoxes(p.Delivery, sizes)
	p.Differs = differsRows(p.Delivery, p.Recipient.Name, sizes)
	p.Passes = s.passesOn(c)
	if p.Link, err = s.receiverLink(c, p.Recipient); err != nil {
		return p, err
	}
	return p, s.fillHeard(c, &p, sizes)
}

// fillHeard fills what was said of the delivery and how counts were settled.
func (s *Site) fillHeard(c *gin.Context, p *deliveryPage, sizes map[int64]string) error {
	answers, settled, err := s.db.DeliveryHistory(c.Request.Context(), s.driveID(c), p.Delivery.Number)
	if err != nil {
		return err
	}
	for _, a := range answers {
		shown := answerShown{DeliveryAnswer: a}
		for _, said := range a.Counts {
			if said.Arrived != said.Sent {
				shown.Counts = append(shown.Counts, fmt.Sprintf("box %d, %s: %d arrived, %d were sent", said.Box, sizes[said.Size], said.Arrived, said.Sent))
			}
		}
		if len(shown.Counts) == 0 {
			shown.Counts = []string{"everything as sent"}
		}
		p.Unread = p.Unread || a.Unread()
		p.Answers = append(p.Answers, shown)
	}
	for _, done := range settled {
		p.Settled = append(p.Settled, settledShown{done, settledWords(done.Way), fmt.Sprintf("%d, %s", done.Box, sizes[done.Size])})
	}
	return nil
}

// noteBoxes gives what stands on the note of a delivery, by box and size, with what
// was said of it last.
func noteBoxes(d drive.Delivery, sizes map[int64]string) []noteBox {
	var boxes []noteBox
	for _, b := range d.Boxes {
		box := noteBox{Number: b.Number, PackedBy: b.PackedBy, CheckedBy: b.CheckedBy}
		for _, n := range b.BySize() {
			row := noteRow{
				Field: fmt.Sprintf("n.%d.%d", b.Number, n.Size), Size: sizes[n.Size], Noted: n.Noted, Confirmed: n.Confirmed,
				Typed: strconv.Itoa(n.Noted), arrived: drive.Arrived{Box: b.Number, Size: n.Size},
			}
			for _, said := range d.Said {
				if said.Box == b.Number && said.Size == n.Size {
					row.Typed = strconv.Itoa(said.Arrived)
				}
			}
			box.Rows = append(box.Rows, row)
		}
		boxes = append(boxes, box)
	}
	return boxes
}
