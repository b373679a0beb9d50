package site

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// sendTo is the boxes that wait for one recipient, earliest due first.
type sendTo struct {
	Recipient int64
	Name      string
	Boxes     []boxLine
	Form      sendForm
	Problems  map[string]string
}

// boxLine is one box with what lies in it, in words, and when that is due.
type boxLine struct {
	drive.Box
	Holds string
	Due   *time.Time
	Late  bool
	On    bool
}

// sendForm is a delivery as typed.
type sendForm struct {
	Boxes     []string `form:"boxes"`
	SentOn    string   `form:"sent_on"`
	CarriedBy string   `form:"carried_by"`
	Note      string   `form:"note"`
}

// deliveryLine is one delivery with its recipient's name.
type deliveryLine struct {
	drive.Delivery
	Name string
}

// makeDelivery handles POST /drives/:drive/deliveries/send/:recipient.
func (s *Site) makeDelivery(c *gin.Context) error {
	recipient, err := s.number(c, "recipient")
	if err != nil {
		return err
	}
	typed := sendTo{Recipient: recipient, Problems: map[string]string{}}
	if err := s.read(c, &typed.Form); err != nil {
		return err
	}
	m := postgres.Sending{Recipient: recipient, CarriedBy: typed.Form.CarriedBy, Note: typed.Form.Note}
	m.SentOn = typedDay(typed.Problems, "sent_on", typed.Form.SentOn)
	for _, b := range typed.Form.Boxes {
		if n := typedNumber(b); n != 0 {
			m.Boxes = append(m.Boxes, n)
		}
	}
	if len(typed.Problems) == 0 {
		number, err := s.db.MakeDelivery(c.Request.Context(), s.act(c), m)
		if err == nil {
			s.flashUndo(c, s.path(c, "deliveries", number, "undo"), "Delivery %d is made. Print its note and let it go with the boxes.", number)
			return s.seeOther(c, s.path(c, "deliveries", number))
		}
		if !adopt(typed.Problems, err) {
			return err
		}
	}
	return s.deliveriesWith(c, http.StatusUnprocessableEntity, typed)
}

// fillSending fills what waits to be sent; a form that was refused stands as it was typed.
func (s *Site) fillSending(ctx context.Context, c *gin.Context, p *deliveriesPage, sent sendTo) (err error) {
	day := s.today(c)
	if p.Sending, err = s.sending(ctx, s.driveID(c), day); err != nil {
		return err
	}
	today := day.Format(time.DateOnly)
	for i := range p.Sending {
		to := &p.Sending[i]
		to.Form.SentOn = today
		typed := to.Recipient == sent.Recipient
		if typed {
			to.Form, to.Problems = sent.Form, sent.Problems
			p.Problems = sent.Problems
		}
		for j := range to.Boxes {
			b := &to.Boxes[j]
			p.Boxed += b.Cases()
			b.On = !typed || slices.ContainsFunc(sent.Form.Boxes, func(t string) bool { return typedNumber(t) == b.Number })
		}
	}
	return nil
}

// fillSent fills the deliveries there were, newest first, those before a number where
// the address says so.
func (s *Site) fillSent(ctx context.Context, c *gin.Context, p *deliveriesPage) error {
	driveID := s.driveID(c)
	before, _ := wholeNumber(c.Query("before"))
	var list, differ []drive.Delivery
	var names map[int64]string
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) {
			list, err = s.db.Deliveries(ctx, driveID, postgres.DeliveriesQuery{Before: before, Limit: rowsShown + 1})
			return err
		},
		func(ctx context.Context) (err error) {
			differ, err = s.db.Deliveries(ctx, driveID, postgres.DeliveriesQuery{State: drive.DeliveryDiffers})
			return err
		},
		func(ctx context.Context) (err error) { names, _, err = s.names(ctx, driveID); return err })
	if err != nil {
		return err
	}
	if len(list) > rowsShown {
		list = list[:rowsShown]
		p.Older = s.path(c, "deliveries") + filtered("before", fmt.Sprint(list[rowsShown-1].Number))
	}
	p.Differ = len(differ)
	for _, d := range list {
		p.Deliveries = append(p.Deliveries, deliveryLine{d, names[d.Recipient]})
	}
	return nil
}

// sending gives the boxes that wait, by recipient: whose boxes are due first comes
// first, and so among the boxes.
func (s *Site) sending(ctx context.Context, driveID string, today time.Time) ([]sendTo, error) {
	var boxes []drive.Box
	var names, sizes map[int64]string
	var lines []drive.AskedLine
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) { boxes, err = s.db.BoxesWaiting(ctx, driveID); return err },
		func(ctx context.Context) (err error) { names, sizes, err = s.names(ctx, driveID); return err },
		func(ctx context.Context) (err error) { lines, err = s.db.AskedLines(ctx, driveID); return err })
	if err != nil {
		return nil, err
	}
	due := map[int64]*time.Time{}
	for _, l := range lines {
		due[l.Number] = l.Due
	}
	var list []sendTo
	for _, b := range boxes {
		if len(list) == 0 || list[len(list)-1].Recipient != b.Recipient {
			list = append(list, sendTo{Recipient: b.Recipient, Name: names[b.Recipient]})
		}
		line := boxLine{Box: b, Holds: holds(b, sizes)}
		for _, l := range b.Lines {
			if day := due[l.Asked]; day != nil && (line.Due == nil || day.Before(*line.Due)) {
				line.Due = day
			}
		}
		line.Late = line.Due != nil && line.Due.Before(today)
		to := &list[len(list)-1]
		to.Boxes = append(to.Boxes, line)
	}
	for i := range list {
		slices.SortStableFunc(list[i].Boxes, func(a, b boxLine) int { return drive.CompareDays(a.Due, b.Due) })
	}
	slices.SortStableFunc(list, func(a, b sendTo) int {
		return cmp.Or(drive.CompareDays(a.Boxes[0].Due, b.Boxes[0].Due), cmp.Compare(a.Name, b.Name))
	})
	return list, nil
}
