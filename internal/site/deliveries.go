package site

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// deliveriesPage is what can be packed, what waits in boxes and what was sent,
// by recipient.
type deliveriesPage struct {
	Problems   map[string]string
	Packing    []packFor
	Sending    []sendTo
	Deliveries []deliveryLine
	Good       int
	Boxed      int
	Open       int
}

func (deliveriesPage) template() string { return "deliveries.html" }
func (deliveriesPage) title() string    { return "Deliveries" }

// packFor is the good pillowcases of one recipient, by line and size.
type packFor struct {
	Recipient int64
	Name      string
	Rules     []string
	Rows      []packRow
	Form      packForm
	Problems  map[string]string
}

// packRow is one size of one line: how many are good, and how many go in the box.
type packRow struct {
	Field string
	Label string
	Due   *time.Time
	Good  int
	Typed string
	pack  drive.Pack
}

// packForm is who packed and who counted again, as typed.
type packForm struct {
	PackedBy  string `form:"packed_by"`
	CheckedBy string `form:"checked_by"`
}

// sendTo is the boxes that wait for one recipient.
type sendTo struct {
	Recipient int64
	Name      string
	Boxes     []boxLine
	Form      sendForm
	Problems  map[string]string
}

// boxLine is one box with what lies in it, in words.
type boxLine struct {
	drive.Box
	Holds string
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

// deliveries handles GET /drives/:drive/deliveries.
func (s *Site) deliveries(c *gin.Context) error {
	return s.deliveriesWith(c, http.StatusOK, packFor{}, sendTo{})
}

// packBox handles POST /drives/:drive/deliveries/pack/:recipient.
func (s *Site) packBox(c *gin.Context) error {
	recipient, err := s.number(c, "recipient")
	if err != nil {
		return err
	}
	typed := packFor{Recipient: recipient, Problems: map[string]string{}}
	if err := s.read(c, &typed.Form); err != nil {
		return err
	}
	packing, err := s.packing(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	box := postgres.PackedBox{Recipient: recipient, PackedBy: typed.Form.PackedBy, CheckedBy: typed.Form.CheckedBy}
	for _, p := range packing {
		if p.Recipient != recipient {
			continue
		}
		for _, row := range p.Rows {
			row.Typed = clean(c.Request.PostForm.Get(row.Field))
			row.pack.N = typedCount(typed.Problems, row.Field, row.Typed, 0)
			box.Cases = append(box.Cases, row.pack)
			typed.Rows = append(typed.Rows, row)
		}
	}
	if len(typed.Problems) == 0 {
		number, err := s.db.PackBox(c.Request.Context(), s.act(c), box)
		if err == nil {
			s.flashUndo(c, s.path(c, "deliveries", "box", number, "unpack"), "Box %d is packed. Write its number on it.", number)
			return s.seeOther(c, s.path(c, "deliveries"))
		}
		if !adopt(typed.Problems, err) {
			return err
		}
	}
	return s.deliveriesWith(c, http.StatusUnprocessableEntity, typed, sendTo{})
}

// unpackBox handles POST /drives/:drive/deliveries/box/:box/unpack.
func (s *Site) unpackBox(c *gin.Context) error {
	box, err := s.number(c, "box")
	if err != nil {
		return err
	}
	n, err := s.db.UnpackBox(c.Request.Context(), s.act(c), box)
	if err != nil {
		return err
	}
	s.flash(c, "Box %d is unpacked: %d are good and waiting again.", box, n)
	return s.seeOther(c, s.path(c, "deliveries"))
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
	m := postgres.Sending{Recipient: recipient, CarriedBy: typed.Form.CarriedBy, Note: typed.Form.Note, SentOn: s.today(c)}
	if on := typedDay(typed.Problems, "sent_on", typed.Form.SentOn); on != nil {
		m.SentOn = *on
	}
	for _, b := range typed.Form.Boxes {
		if n := typedNumber(b); n != 0 {
			m.Boxes = append(m.Boxes, n)
		}
	}
	if len(typed.Problems) == 0 {
		number, err := s.db.MakeDelivery(c.Request.Context(), s.act(c), m)
		if err == nil {
			s.flash(c, "Delivery %d is noted. Print its note and let it go with the boxes.", number)
			return s.seeOther(c, s.path(c, "deliveries", number))
		}
		if !adopt(typed.Problems, err) {
			return err
		}
	}
	return s.deliveriesWith(c, http.StatusUnprocessableEntity, packFor{}, typed)
}

// deliveriesWith shows the page; a form that was refused stands as it was typed.
func (s *Site) deliveriesWith(c *gin.Context, status int, packed packFor, sent sendTo) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	p := deliveriesPage{Problems: map[string]string{}}
	var err error
	if p.Packing, err = s.packing(ctx, driveID); err != nil {
		return err
	}
	for i := range p.Packing {
		if p.Packing[i].Recipient == packed.Recipient {
			p.Packing[i].Form, p.Packing[i].Problems, p.Packing[i].Rows = packed.Form, packed.Problems, packed.Rows
			p.Problems = packed.Problems
		}
		for _, row := range p.Packing[i].Rows {
			p.Good += row.Good
		}
	}
	if p.Sending, err = s.sending(ctx, driveID); err != nil {
		return err
	}
	today := s.today(c).Format(time.DateOnly)
	for i := range p.Sending {
		to := &p.Sending[i]
		to.Form.SentOn = today
		if to.Recipient == sent.Recipient {
			to.Form, to.Problems = sent.Form, sent.Problems
			p.Problems = sent.Problems
		}
		for j := range to.Boxes {
			p.Boxed += to.Boxes[j].Cases()
			to.Boxes[j].On = to.Recipient != sent.Recipient || contains(sent.Form.Boxes, to.Boxes[j].Number)
		}
	}
	if p.Deliveries, err = s.deliveryLines(ctx, driveID); err != nil {
		return err
	}
	for _, d := range p.Deliveries {
		p.Open += d.Open()
	}
	return s.page(c, status, p)
}

func contains(typed []string, number int64) bool {
	for _, t := range typed {
		if typedNumber(t) == number {
			return true
		}
	}
	return false
}

// packing gives what is good and not packed yet, by recipient.
func (s *Site) packing(ctx context.Context, driveID string) ([]packFor, error) {
	stacks, err := s.db.Stacks(ctx, driveID, drive.CaseGood)
	if err != nil {
		return nil, err
	}
	recipients, err := s.db.Recipients(ctx, driveID)
	if err != nil {
		return nil, err
	}
	var list []packFor
	for _, r := range recipients {
		p := packFor{Recipient: r.Number, Name: r.Name, Rules: r.Rules}
		at := map[string]int{}
		for _, l := range stacks {
			if l.Recipient == nil || *l.Recipient != r.Number {
				continue
			}
			field := fmt.Sprintf("n.%d.%d", l.Asked, l.Size)
			i, seen := at[field]
			if !seen {
				i = len(p.Rows)
				at[field] = i
				p.Rows = append(p.Rows, packRow{Field: field, Label: l.SizeName, Due: l.Due, pack: drive.Pack{Asked: l.Asked, Size: l.Size}})
			}
			p.Rows[i].Good += l.N
			p.Rows[i].Typed = strconv.Itoa(p.Rows[i].Good)
		}
		if len(p.Rows) > 0 {
			list = append(list, p)
		}
	}
	return list, nil
}

// sending gives the boxes that wait, by recipient.
func (s *Site) sending(ctx context.Context, driveID string) ([]sendTo, error) {
	boxes, err := s.db.BoxesWaiting(ctx, driveID)
	if err != nil {
		return nil, err
	}
	names, sizes, err := s.names(ctx, driveID)
	if err != nil {
		return nil, err
	}
	var list []sendTo
	for _, b := range boxes {
		if len(list) == 0 || list[len(list)-1].Recipient != b.Recipient {
			list = append(list, sendTo{Recipient: b.Recipient, Name: names[b.Recipient]})
		}
		to := &list[len(list)-1]
		to.Boxes = append(to.Boxes, boxLine{Box: b, Holds: holds(b, sizes)})
	}
	return list, nil
}

func (s *Site) deliveryLines(ctx context.Context, driveID string) ([]deliveryLine, error) {
	all, err := s.db.Deliveries(ctx, driveID)
	if err != nil {
		return nil, err
	}
	names, _, err := s.names(ctx, driveID)
	if err != nil {
		return nil, err
	}
	lines := make([]deliveryLine, len(all))
	for i, d := range all {
		lines[i] = deliveryLine{d, names[d.Recipient]}
	}
	return lines, nil
}

// names gives the names of recipients and of sizes by their numbers.
func (s *Site) names(ctx context.Context, driveID string) (recipients, sizes map[int64]string, err error) {
	who, err := s.db.Recipients(ctx, driveID)
	if err != nil {
		return nil, nil, err
	}
	what, err := s.db.Sizes(ctx, driveID)
	if err != nil {
		return nil, nil, err
	}
	recipients, sizes = map[int64]string{}, map[int64]string{}
	for _, r := range who {
		recipients[r.Number] = r.Name
	}
	for _, z := range what {
		sizes[z.Number] = z.Name
	}
	return recipients, sizes, nil
}

// bySize adds up what lies in a box, in the order the sizes first appear.
func bySize(b drive.Box) (order []int64, n, confirmed, open map[int64]int) {
	n, confirmed, open = map[int64]int{}, map[int64]int{}, map[int64]int{}
	for _, l := range b.Lines {
		if _, seen := n[l.Size]; !seen {
			order = append(order, l.Size)
		}
		n[l.Size] += l.N
		confirmed[l.Size] += l.Confirmed
		open[l.Size] += l.Open()
	}
	return order, n, confirmed, open
}

// holds says in words what lies in a box: 6 standard, 2 queen.
func holds(b drive.Box, sizes map[int64]string) string {
	order, n, _, _ := bySize(b)
	words := make([]string, len(order))
	for i, size := range order {
		words[i] = fmt.Sprintf("%d %s", n[size], sizes[size])
	}
	return strings.Join(words, ", ")
}
