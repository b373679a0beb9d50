package site

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/outlook"
	"boltward/internal/postgres"
	"boltward/internal/words"
)

// receiverPage is what a recipient's personal link opens: what is coming.
type receiverPage struct {
	words.Receive
	Token string
}

func (receiverPage) template() string { return "receiver.html" }
func (p receiverPage) title() string  { return p.Receive.Title }

// receiverDeliveryPage is one delivery, of which the recipient says what arrived.
type receiverDeliveryPage struct {
	words.Receive
	Token    string
	Shown    words.ReceiveShown
	Differs  bool
	Boxes    []receiverBox
	Ways     []option
	Form     receiverForm
	Problems map[string]string
}

func (receiverDeliveryPage) template() string { return "receiver-delivery.html" }
func (p receiverDeliveryPage) title() string  { return p.Shown.Title }

// receiverBox is one size in one box, with what is typed of it.
type receiverBox struct {
	Way, Count string // names of its fields
	Label      string
	Noted      int
	TypedWay   string
	TypedCount string
	arrived    drive.Arrived
}

// receiverForm is what stands under the boxes, as typed.
type receiverForm struct {
	All  string `form:"all"`
	Name string `form:"name"`
	Note string `form:"note"`
}

// What may be chosen of a box.
const (
	receivedAll   = "all"
	receivedOther = "other"
	receivedNone  = "none"
)

// shownToReceiver is how many deliveries a recipient's page lists, beside older ones that are open.
const shownToReceiver = 20

// receiver handles GET /r/:token.
func (s *Site) receiver(c *gin.Context) error {
	of, err := s.openReceiverLink(c)
	if err != nil {
		return err
	}
	said, err := s.receive(c, of)
	if err != nil {
		return err
	}
	return s.page(c, http.StatusOK, receiverPage{Receive: said, Token: c.Param("token")})
}

// receiverDelivery handles GET /r/:token/deliveries/:delivery.
func (s *Site) receiverDelivery(c *gin.Context) error {
	of, err := s.openReceiverLink(c)
	if err != nil {
		return err
	}
	d, err := s.deliveryOfReceiver(c, of)
	if err != nil {
		return err
	}
	return s.receiverDeliveryWith(c, http.StatusOK, of, d, receiverForm{}, nil, map[string]string{})
}

// receiverSays handles POST /r/:token/deliveries/:delivery. What cannot be stands beside
// its box, in the recipient's language.
func (s *Site) receiverSays(c *gin.Context) error {
	of, err := s.openReceiverLink(c)
	if err != nil {
		return err
	}
	if err := needKey(c); err != nil {
		return err
	}
	d, err := s.deliveryOfReceiver(c, of)
	if err != nil {
		return err
	}
	var form receiverForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	w, problems := s.guests.Receive(words.ReceiveFacts{}).Words, map[string]string{}
	boxes, err := s.receiverBoxes(c, of, d)
	if err != nil {
		return err
	}
	said := drive.Confirmation{By: form.Name, How: drive.OwnPage, On: s.today(c), Note: form.Note}
	if said.By == "" {
		said.By = of.Recipient.Name
	}
	for i := range boxes {
		boxes[i].read(c, form.All != "", s.guests, problems)
		said.Arrived = append(said.Arrived, boxes[i].arrived)
	}
	for name, typed := range map[string]string{"name": form.Name, "note": form.Note} {
		if most := map[string]int{"name": 120, "note": 1000}[name]; len([]rune(typed)) > most {
			problem(problems, name, "%s", w.TooLong)
		}
	}
	if len(problems) > 0 {
		return s.receiverDeliveryWith(c, http.StatusUnprocessableEntity, of, d, form, boxes, problems)
	}
	_, err = s.db.ConfirmDelivery(c.Request.Context(), s.receiverAct(c, of), d.Number, said)
	switch {
	case apperr.Is(err, apperr.KindDenied):
		problem(problems, "", "%s", w.Often)
		return s.receiverDeliveryWith(c, http.StatusTooManyRequests, of, d, form, boxes, problems)
	case apperr.Is(err, apperr.KindConflict), apperr.Is(err, apperr.KindInvalid):
		problem(problems, "", "%s", w.Changed)
		return s.receiverDeliveryWith(c, http.StatusConflict, of, d, form, boxes, problems)
	case err != nil:
		return err
	}
	return s.seeOther(c, receiverPath(c.Param("token"), d.Number))
}

// read reads what was chosen of a box: everything where all is said of the whole delivery.
func (b *receiverBox) read(c *gin.Context, all bool, l words.Language, problems map[string]string) {
	w := l.Receive(words.ReceiveFacts{}).Words
	b.TypedWay, b.TypedCount = clean(c.Request.PostForm.Get(b.Way)), clean(c.Request.PostForm.Get(b.Count))
	if all {
		b.TypedWay = receivedAll
	}
	if b.TypedWay == "" && b.TypedCount != "" {
		b.TypedWay = receivedOther // a count typed without choosing it is chosen
	}
	switch b.TypedWay {
	case receivedAll:
		b.arrived.N = b.Noted
	case receivedNone:
		b.arrived.N = 0
	case receivedOther:
		n, err := strconv.Atoi(b.TypedCount)
		switch {
		case b.TypedCount == "" || err == nil && n < 0:
			problem(problems, b.Count, "%s", w.Negative)
		case err != nil:
			problem(problems, b.Count, "%s", w.Unreadable)
		case n > drive.MostArrived(b.Noted):
			problem(problems, b.Count, "%s", l.Slip(b.Noted, n))
		}
		b.arrived.N = n
	default:
		problem(problems, b.Way, "%s", w.Choose)
	}
}

func (s *Site) receiverDeliveryWith(c *gin.Context, status int, of postgres.Receiver, d drive.Delivery, form receiverForm, boxes []receiverBox, problems map[string]string) error {
	var err error
	if boxes == nil {
		if boxes, err = s.receiverBoxes(c, of, d); err != nil {
			return err
		}
	}
	facts := words.ReceiveFacts{Name: of.Recipient.Name, Drive: of.Drive.Name, Ask: of.Drive.Ask, Deliveries: []words.ReceiveDelivery{receiveDelivery(d, s.guests.Date)}}
	said := s.guests.Receive(facts)
	w := said.Words
	return s.page(c, status, receiverDeliveryPage{
		Receive: said, Token: c.Param("token"), Shown: said.Deliveries[0], Differs: d.State() == drive.DeliveryDiffers, Boxes: boxes, Form: form, Problems: problems,
		Ways: []option{{receivedAll, w.AsNote}, {receivedOther, w.Other}, {receivedNone, w.Nothing}},
	})
}

// receiverBoxes gives every size in every box of a delivery, with what was said of it.
func (s *Site) receiverBoxes(c *gin.Context, of postgres.Receiver, d drive.Delivery) ([]receiverBox, error) {
	_, sizes, err := s.names(c.Request.Context(), of.Drive.ID)
	if err != nil {
		return nil, err
	}
	var list []receiverBox
	for _, box := range noteBoxes(d, sizes) {
		for _, row := range box.Rows {
			if row.Noted == 0 {
				continue // it came to light later, and is on no note
			}
			b := receiverBox{
				Way: "w" + row.Field[1:], Count: row.Field, Noted: row.Noted, arrived: row.arrived,
				Label: s.guests.BoxOf(box.Number, row.Size, row.Noted),
			}
			if d.ConfirmedOn != nil {
				b.TypedWay, b.TypedCount = receivedOther, row.Typed
				switch row.Typed {
				case strconv.Itoa(row.Noted):
					b.TypedWay, b.TypedCount = receivedAll, ""
				case "0":
					b.TypedWay, b.TypedCount = receivedNone, ""
				}
			}
			list = append(list, b)
		}
	}
	return list, nil
}

// receive writes the page of a recipient: what it asked for and what was sent.
func (s *Site) receive(c *gin.Context, of postgres.Receiver) (words.Receive, error) {
	ctx, driveID, date := c.Request.Context(), of.Drive.ID, s.guests.Date
	facts := words.ReceiveFacts{Name: of.Recipient.Name, Drive: of.Drive.Name, Ask: of.Drive.Ask}
	if over := of.Drive.ClosedAt; over != nil {
		facts.Closed = date(drive.Day(*over, of.Drive.Location()))
	}
	sent, err := s.db.Deliveries(ctx, driveID, postgres.DeliveriesQuery{Recipient: of.Recipient.Number, Sent: true, Limit: shownToReceiver})
	if err != nil {
		return words.Receive{}, err
	}
	if len(sent) == shownToReceiver { // older ones stand there too while something of them is open
		before := sent[len(sent)-1].Number
		for _, state := range []drive.DeliveryState{drive.DeliveryDiffers, drive.DeliveryOnWay} {
			open, err := s.db.Deliveries(ctx, driveID, postgres.DeliveriesQuery{Recipient: of.Recipient.Number, State: state, Before: before})
			if err != nil {
				return words.Receive{}, err
			}
			sent = append(sent, open...)
		}
	}
	doubt := map[int64]int{} // by line asked for
	for _, d := range sent {
		facts.Deliveries = append(facts.Deliveries, receiveDelivery(d, date))
		for _, b := range d.Boxes {
			for _, l := range b.Lines {
				if d.ConfirmedOn != nil {
					doubt[l.Asked] += l.Open()
				}
			}
		}
	}
	var lines []drive.AskedLine
	var kept *drive.KeptForecast
	err = s.db.Together(ctx,
		func(ctx context.Context) (err error) { lines, err = s.db.AskedLines(ctx, driveID); return err },
		func(ctx context.Context) (err error) {
			kept, err = s.db.KeptForecast(ctx, driveID, outlook.Form)
			return err
		})
	if err != nil {
		return words.Receive{}, err
	}
	ahead, err := s.outlooks(ctx, of.Drive, kept, lines, nil)
	if err != nil {
		return words.Receive{}, err
	}
	for _, l := range lines {
		if l.Recipient != of.Recipient.Number || l.Closed {
			continue
		}
		f := words.ReceiveLine{
			Sizes: l.SizeNames, Themes: l.ThemesWanted, Avoid: l.ThemesAvoid, Asked: l.Wanted,
			With: l.Counts[drive.CaseConfirmed], Doubt: doubt[l.Number], OnWay: l.Counts[drive.CaseDelivered] - doubt[l.Number], Ready: l.Counts.Sum(drive.CaseGood, drive.CasePacked),
		}
		if l.Due != nil {
			f.Due, f.Late = date(*l.Due), l.Due.Before(s.today(c))
		}
		if o := ahead.line(l); o.Said && of.Drive.ClosedAt == nil {
			f.Likely, f.LikelyFrom, f.LikelyTo = date(o.Likely), date(o.From), date(o.To)
		}
		facts.Lines = append(facts.Lines, f)
	}
	return s.guests.Receive(facts), nil
}

func receiveDelivery(d drive.Delivery, date func(time.Time) string) words.ReceiveDelivery {
	return words.ReceiveDelivery{
		Number: d.Number, Sent: date(*d.SentOn), CarriedBy: d.CarriedBy, Cases: d.Noted(), Boxes: len(d.Boxes),
		Said: d.ConfirmedOn != nil, Arrived: min(d.Confirmed(), d.Noted()), Above: max(d.Confirmed()-d.Noted(), 0) + d.More(), Short: d.Open(), More: d.More(),
	}
}

// openReceiverLink gives whose link is in the address, and makes their drive the one
// that the page is of.
func (s *Site) openReceiverLink(c *gin.Context) (postgres.Receiver, error) {
	w := s.guests.Receive(words.ReceiveFacts{}).Words
	gone := apperr.NotFound("%s. %s", w.LinkGone, w.LinkGoneLong)
	id, ok := s.key.Open(c.Param("token"))
	if !ok {
		return postgres.Receiver{}, gone
	}
	of, err := s.db.RecipientByLink(c.Request.Context(), id)
	if apperr.Is(err, apperr.KindNotFound) {
		return of, gone
	}
	if err != nil {
		return of, err
	}
	c.Set(visitorKey, &visitor{drive: of.Drive})
	return of, nil
}

// deliveryOfReceiver gives the delivery in the address; one that did not go to whose
// link it is, or has not left, is not found.
func (s *Site) deliveryOfReceiver(c *gin.Context, of postgres.Receiver) (drive.Delivery, error) {
	none := apperr.NotFound("%s", s.guests.Receive(words.ReceiveFacts{}).Words.NotYours)
	number, ok := wholeNumber(c.Param("delivery"))
	if !ok {
		return drive.Delivery{}, none
	}
	d, err := s.db.Delivery(c.Request.Context(), of.Drive.ID, number)
	if apperr.Is(err, apperr.KindNotFound) || err == nil && (d.Recipient != of.Recipient.Number || d.SentOn == nil) {
		return d, none
	}
	return d, err
}

// receiverAct is act for a recipient, who has not signed in: the link says who it is.
func (s *Site) receiverAct(c *gin.Context, of postgres.Receiver) drive.Act {
	act := s.act(c)
	act.Link = fmt.Sprintf("recipient %d", of.Recipient.Number)
	return act
}

// receiverPath gives the address of a delivery's page of a personal link.
func receiverPath(token string, delivery int64) string {
	return fmt.Sprintf("/r/%s/deliveries/%d", url.PathEscape(token), delivery)
}
