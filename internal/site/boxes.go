package site

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// packFor is the good pillowcases of one recipient, by line and size.
type packFor struct {
	Recipient int64
	Name      string
	Rules     []string
	Rows      []packRow
}

// packRow is one size of one line: how many are good, how many of those laundered or in
// the wash now, and how many go in the box.
type packRow struct {
	Field     string
	Label     string
	Due       *time.Time
	Good      int
	Laundered int
	InWash    int
	Typed     string
	pack      drive.Pack
}

// Good is how many wait for a box.
func (p packFor) Good() int {
	n := 0
	for _, row := range p.Rows {
		n += row.Good
	}
	return n
}

// What says what waits: 6 standard, 2 queen.
func (p packFor) What() string {
	words := make([]string, len(p.Rows))
	for i, row := range p.Rows {
		words[i] = fmt.Sprintf("%d %s", row.Good, row.Label)
	}
	return strings.Join(words, ", ")
}

// Due is the first day on which any of it is due.
func (p packFor) Due() *time.Time {
	var first *time.Time
	for _, row := range p.Rows {
		if row.Due != nil && (first == nil || row.Due.Before(*first)) {
			first = row.Due
		}
	}
	return first
}

// packPage fills one box for one recipient.
type packPage struct {
	packFor
	Form     packForm
	Problems map[string]string
	Ticks    []option // their rules
	Singly   bool     // they ask for a bag to each
	Launders bool
	Action   string
}

func (packPage) template() string { return "pack.html" }
func (p packPage) title() string  { return "Pack a box for " + p.Name }

// packForm is how a box was closed, as typed.
type packForm struct {
	Rules     []string `form:"rules"` // those that are kept
	Why       string   `form:"why"`   // the others are not
	PackedBy  string   `form:"packed_by"`
	CheckedBy string   `form:"checked_by"`
}

// pack handles GET /drives/:drive/deliveries/pack/:recipient.
func (s *Site) pack(c *gin.Context) error {
	waiting, err := s.packingFor(c)
	if err != nil {
		return err
	}
	if len(waiting.Rows) == 0 {
		return s.packedBefore(c, waiting)
	}
	return s.packWith(c, http.StatusOK, packPage{packFor: waiting, Problems: map[string]string{}})
}

// packBox handles POST on the same address.
func (s *Site) packBox(c *gin.Context) error {
	p := packPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	recipient, err := s.number(c, "recipient")
	if err != nil {
		return err
	}
	box := postgres.PackedBox{Recipient: recipient, PackedBy: p.Form.PackedBy, CheckedBy: p.Form.CheckedBy}
	// The same form sent again finds nothing left to pack, and yet went well.
	switch number, err := s.db.BoxOfForm(c.Request.Context(), s.act(c)); {
	case err != nil:
		return err
	case number > 0:
		return s.seeOther(c, s.path(c, "deliveries", "box", number))
	}
	if p.packFor, err = s.packingFor(c); err != nil {
		return err
	}
	if len(p.Rows) == 0 {
		return s.packedBefore(c, p.packFor)
	}
	for i := range p.Rows {
		row := &p.Rows[i]
		row.Typed = clean(c.Request.PostForm.Get(row.Field))
		row.pack.N = typedCount(p.Problems, row.Field, row.Typed, 0)
		box.Cases = append(box.Cases, row.pack)
	}
	list, err := s.db.CheckList(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, rule := range drive.PackRules(p.Rules, list.Launders) {
		box.Rules = append(box.Rules, drive.RuleKept{Rule: rule, Kept: slices.Contains(p.Form.Rules, rule), Why: p.Form.Why})
	}
	status := http.StatusUnprocessableEntity
	if len(p.Problems) == 0 {
		number, err := s.db.PackBox(c.Request.Context(), s.act(c), box)
		if err == nil {
			s.flashUndo(c, s.path(c, "deliveries", "box", number, "unpack"), "Box %d is packed. Write its number on it, or print its label.", number)
			return s.seeOther(c, s.path(c, "deliveries", "box", number))
		}
		var ok bool
		if status, ok = s.refused(p.Problems, err); !ok {
			return err
		}
	}
	return s.packWith(c, status, p)
}

func (s *Site) packWith(c *gin.Context, status int, p packPage) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	list, err := s.db.CheckList(ctx, driveID)
	if err != nil {
		return err
	}
	for _, rule := range drive.PackRules(p.Rules, list.Launders) {
		p.Ticks = append(p.Ticks, option{rule, rule})
	}
	p.Singly, p.Launders, p.Action = drive.BagsSingly(p.Rules), list.Launders, c.Request.URL.Path
	here, err := s.db.Washables(ctx, driveID)
	if err != nil {
		return err
	}
	for i := range p.packFor.Rows {
		row := &p.packFor.Rows[i]
		for _, w := range here {
			if w.Asked == row.pack.Asked && w.Size == row.pack.Size {
				row.Laundered += min(w.Clean(), w.Good)
				row.InWash += w.GoodInWash()
			}
		}
	}
	return s.page(c, status, p)
}

// packedBefore leads on where nothing waits for a box any more.
func (s *Site) packedBefore(c *gin.Context, p packFor) error {
	s.flash(c, "Nothing was packed: no good pillowcase for %s waits for a box any more. Somebody may have packed the last.", p.Name)
	return s.seeOther(c, s.path(c, "deliveries"))
}

// packingFor gives what is good for the recipient of the address; nothing but who it is
// where none is left.
func (s *Site) packingFor(c *gin.Context) (packFor, error) {
	recipient, err := s.number(c, "recipient")
	if err != nil {
		return packFor{}, err
	}
	who, err := s.db.Recipient(c.Request.Context(), s.driveID(c), recipient)
	if err != nil {
		return packFor{}, err
	}
	packing, err := s.packing(c.Request.Context(), s.driveID(c))
	if err != nil {
		return packFor{}, err
	}
	for _, p := range packing {
		if p.Recipient == recipient {
			return p, nil
		}
	}
	return packFor{Recipient: recipient, Name: who.Name}, nil
}

// packing gives what is good and not packed yet, by recipient.
func (s *Site) packing(ctx context.Context, driveID string) ([]packFor, error) {
	var stacks []postgres.StackLine
	var recipients []drive.Recipient
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) {
			stacks, err = s.db.Stacks(ctx, driveID, drive.CaseGood)
			return err
		},
		func(ctx context.Context) (err error) { recipients, err = s.db.Recipients(ctx, driveID); return err })
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
