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
	Older      string // the address of those before the last
	Good       int
	Boxed      int
	Differ     int // deliveries whose counts differ
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
	if err := s.fillSending(c, &p, sent); err != nil {
		return err
	}
	return s.page(c, status, p)
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

// holds says in words what lies in a box: 6 standard, 2 queen.
func holds(b drive.Box, sizes map[int64]string) string {
	var words []string
	for _, z := range b.BySize() {
		words = append(words, fmt.Sprintf("%d %s", z.N, sizes[z.Size]))
	}
	return strings.Join(words, ", ")
}
