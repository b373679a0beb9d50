package site

import (
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
)

// deliveryPage is one delivery: its note to print and sign, and what arrived.
type deliveryPage struct {
	Form      confirmForm
	Problems  map[string]string
	Delivery  drive.Delivery
	Recipient drive.Recipient
	Boxes     []noteBox
	Total     int
	Ways      []option
	Settle    string // the reason typed for what was not received
}

func (deliveryPage) template() string { return "delivery.html" }
func (p deliveryPage) title() string  { return fmt.Sprintf("Delivery %d", p.Delivery.Number) }

// noteBox is one box of the note, by size.
type noteBox struct {
	Number    int64
	PackedBy  string
	CheckedBy string
	Rows      []noteRow
}

// noteRow is one size in a box: sent, confirmed, and what is typed as arrived.
type noteRow struct {
	Field     string
	Size      string
	N         int
	Confirmed int
	Open      int
	Typed     string
	arrived   drive.Arrived
}

// confirmForm is who said what arrived, as typed; the counts stand in the rows.
type confirmForm struct {
	By  string `form:"by"`
	How string `form:"how"`
	On  string `form:"on"`
}

// delivery handles GET /drives/:drive/deliveries/:delivery.
func (s *Site) delivery(c *gin.Context) error {
	p, err := s.deliveryPage(c)
	if err != nil {
		return err
	}
	p.Form = confirmForm{How: drive.ByPhone, On: s.today(c).Format(time.DateOnly)}
	return s.page(c, http.StatusOK, p)
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
	said := drive.Confirmation{By: p.Form.By, How: p.Form.How, On: s.today(c)}
	if on := typedDay(p.Problems, "on", p.Form.On); on != nil {
		said.On = *on
	}
	for i := range p.Boxes {
		for j := range p.Boxes[i].Rows {
			row := &p.Boxes[i].Rows[j]
			if row.Open == 0 {
				continue
			}
			row.Typed = clean(c.Request.PostForm.Get(row.Field))
			row.arrived.N = typedCount(p.Problems, row.Field, row.Typed, 0)
			said.Arrived = append(said.Arrived, row.arrived)
		}
	}
	if len(p.Problems) == 0 {
		d, err := s.db.ConfirmDelivery(c.Request.Context(), s.act(c), p.Delivery.Number, said)
		if err == nil {
			if d.Open > 0 {
				s.flash(c, "Noted. %d of %d are still open: the counts differ until somebody settles them.", d.Open, d.Cases)
			} else {
				s.flash(c, "All %d are confirmed.", d.Confirmed)
			}
			return s.seeOther(c, s.path(c, "deliveries", p.Delivery.Number))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.page(c, http.StatusUnprocessableEntity, p)
}

// notReceived handles POST /drives/:drive/deliveries/:delivery/not-received.
func (s *Site) notReceived(c *gin.Context) error {
	p, err := s.deliveryPage(c)
	if err != nil {
		return err
	}
	var form struct {
		Reason string `form:"reason"`
	}
	if err := s.read(c, &form); err != nil {
		return err
	}
	n, err := s.db.NotReceived(c.Request.Context(), s.act(c), p.Delivery.Number, form.Reason)
	if err == nil {
		s.flash(c, "%d are settled as not received.", n)
		return s.seeOther(c, s.path(c, "deliveries", p.Delivery.Number))
	}
	if !adopt(p.Problems, err) {
		return err
	}
	p.Settle = form.Reason
	p.Form = confirmForm{How: drive.ByPhone, On: s.today(c).Format(time.DateOnly)}
	return s.page(c, http.StatusUnprocessableEntity, p)
}

func (s *Site) deliveryPage(c *gin.Context) (deliveryPage, error) {
	p := deliveryPage{Problems: map[string]string{}, Ways: []option{
		{drive.ByPhone, "by phone"}, {drive.ByNote, "signed note came back"}, {drive.InHand, "in person"},
	}}
	ctx, driveID := c.Request.Context(), s.driveID(c)
	number, err := s.number(c, "delivery")
	if err != nil {
		return p, err
	}
	if p.Delivery, err = s.db.Delivery(ctx, driveID, number); err != nil {
		return p, err
	}
	if p.Recipient, err = s.db.Recipient(ctx, driveID, p.Delivery.Recipient); err != nil {
		return p, err
	}
	_, sizes, err := s.names(ctx, driveID)
	if err != nil {
		return p, err
	}
	for _, b := range p.Delivery.Boxes {
		box := noteBox{Number: b.Number, PackedBy: b.PackedBy, CheckedBy: b.CheckedBy}
		order, n, confirmed, open := bySize(b)
		for _, size := range order {
			box.Rows = append(box.Rows, noteRow{
				Field: fmt.Sprintf("n.%d.%d", b.Number, size), Size: sizes[size], N: n[size], Confirmed: confirmed[size], Open: open[size],
				Typed: strconv.Itoa(open[size]), arrived: drive.Arrived{Box: b.Number, Size: size},
			})
			p.Total += n[size]
		}
		p.Boxes = append(p.Boxes, box)
	}
	return p, nil
}
