package site

import (
	"bytes"
	"cmp"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
)

// boxPage is one box: what lies in it, how it was closed, where it is.
type boxPage struct {
	Box      drive.Box
	Delivery int64 // it goes with, 0: none yet
	Name     string
	Rows     []drive.NoteRow // by size and theme
	Rules    []drive.RuleKept
	Papers   []option
	Form     boxLabelForm
	Problems map[string]string
}

func (boxPage) template() string { return "box.html" }
func (p boxPage) title() string  { return "Box " + strconv.FormatInt(p.Box.Number, 10) }

// boxLabelForm is on what its label is printed.
type boxLabelForm struct {
	Paper string
	Start string
}

// box handles GET /drives/:drive/deliveries/box/:box.
func (s *Site) box(c *gin.Context) error {
	return s.boxWith(c, http.StatusOK, map[string]string{})
}

func (s *Site) boxWith(c *gin.Context, status int, problems map[string]string) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	p := boxPage{Problems: problems, Form: boxLabelForm{clean(c.Query("paper")), cmp.Or(clean(c.Query("start")), "1")}}
	number, err := s.number(c, "box")
	if err != nil {
		return err
	}
	if p.Box, err = s.db.Box(ctx, driveID, number); err != nil {
		return err
	}
	p.Delivery = numberOr0(p.Box.Delivery)
	to, err := s.db.Recipient(ctx, driveID, p.Box.Recipient)
	if err != nil {
		return err
	}
	p.Name = to.Name
	if p.Rows, err = s.db.BoxRows(ctx, driveID, number); err != nil {
		return err
	}
	if p.Rules, err = s.db.BoxRules(ctx, driveID, number); err != nil {
		return err
	}
	if p.Papers, err = s.labelPaperOptions(c); err != nil {
		return err
	}
	return s.page(c, status, p)
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

// boxLabel handles GET /drives/:drive/deliveries/box/:box/label.pdf?paper=…&start=….
func (s *Site) boxLabel(c *gin.Context) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	number, err := s.number(c, "box")
	if err != nil {
		return err
	}
	b, err := s.db.Box(ctx, driveID, number)
	if err != nil {
		return err
	}
	if b.Emptied {
		return apperr.Conflict("Box %d was unpacked: it has no label.", number)
	}
	problems := map[string]string{}
	on, start, err := s.labelsFrom(c, problems)
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return s.boxWith(c, http.StatusUnprocessableEntity, problems)
	}
	to, err := s.db.Recipient(ctx, driveID, b.Recipient)
	if err != nil {
		return err
	}
	rows, err := s.db.BoxRows(ctx, driveID, number)
	if err != nil {
		return err
	}
	label := paper.NewBoxLabel(s.drive(c), s.url.String(), "en", number, to.Name, rows)
	var pdf bytes.Buffer
	err = paper.KitLabels(&pdf, s.drive(c).Name+": label of a box", on, start, []paper.KitLabel{label}, s.now())
	if adopt(problems, err) {
		return s.boxWith(c, http.StatusUnprocessableEntity, problems)
	}
	if err != nil {
		return err
	}
	return s.file(c, "box-label.pdf", "application/pdf", pdf.Bytes())
}
