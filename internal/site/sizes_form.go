package site

import (
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// sizeFormPage adds a size or changes one. What is typed can be shown as cut
// sizes before it is saved.
type sizeFormPage struct {
	Form     sizeForm
	Problems map[string]string
	Clash    clash
	Size     drive.Size // as it stands; number 0 for a new one
	Shown    *caseShown // of what was typed, where it can be sewn
	Seams    []option
	Bodies   []option
	Pillows  []string
	Shrinks  bool   // the drive cuts larger, or the size does
	Shrunk   string // what washing taught, as an offer
	Learned  []string
	ByCuts   string // where the other way of typing is
	BySize   string
	Action   string
}

func (sizeFormPage) template() string { return "size-form.html" }
func (p sizeFormPage) title() string {
	if p.Size.Number == 0 {
		return "Add a size"
	}
	return "Change the size " + p.Size.Name
}

// addSize handles GET /drives/:drive/sizes/new. by=cuts types cut sizes instead
// of finished ones, copy is a size to begin from.
func (s *Site) addSize(c *gin.Context) error {
	name := "standard"
	if s.drive(c).Unit.Metric() {
		name = "UK standard"
	}
	built, ok := sizing.CaseNamed(name)
	if !ok {
		return apperr.NotFound("There is no ready-made size %q.", name)
	}
	begin := built.Spec
	if number := typedNumber(c.Query("copy")); number != 0 {
		z, err := s.db.Size(c.Request.Context(), s.driveID(c), number)
		if err != nil {
			return err
		}
		begin = z.Spec
	}
	p := sizeFormPage{Problems: map[string]string{}, Form: sizeAsTyped(drive.Size{Spec: begin}, c.Query("by") == byCuts)}
	p.Form.Version = ""
	return s.sizeWith(c, http.StatusOK, p, begin)
}

// addSizeNow handles POST /drives/:drive/sizes/new: shows what is typed, or saves it.
func (s *Site) addSizeNow(c *gin.Context) error {
	return s.keepSize(c, drive.Size{})
}

// changeSize handles GET /drives/:drive/sizes/:size.
func (s *Site) changeSize(c *gin.Context) error {
	z, err := s.size(c)
	if err != nil {
		return err
	}
	p := sizeFormPage{Problems: map[string]string{}, Form: sizeAsTyped(z, c.Query("by") == byCuts), Size: z}
	return s.sizeWith(c, http.StatusOK, p, z.Spec)
}

// changeSizeNow handles POST /drives/:drive/sizes/:size.
func (s *Site) changeSizeNow(c *gin.Context) error {
	z, err := s.size(c)
	if err != nil {
		return err
	}
	return s.keepSize(c, z)
}

// keepSize shows or saves what was typed for a size; stands is number 0 for a new one.
func (s *Site) keepSize(c *gin.Context, stands drive.Size) error {
	p := sizeFormPage{Problems: map[string]string{}, Size: stands}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	spec := stands.Spec
	if !stands.Used {
		spec = p.Form.spec(p.Problems)
	}
	if len(p.Problems) == 0 {
		adopt(p.Problems, spec.Check())
		moveSeam(p.Problems, spec)
	}
	if p.Form.Do != doSave {
		status := http.StatusOK
		if len(p.Problems) > 0 {
			status = http.StatusUnprocessableEntity
		}
		return s.sizeWith(c, status, p, spec)
	}
	z := drive.Size{Number: stands.Number, Name: p.Form.Name, Spec: spec, Version: typedCount(p.Problems, "version", p.Form.Version, 0)}
	adopt(p.Problems, z.Tidy().CheckName())
	if len(p.Problems) == 0 {
		kept, err := s.writeSize(c, z)
		if err == nil {
			s.flash(c, "The size %s is saved.", kept.Name)
			return s.seeOther(c, s.path(c, "sizes"))
		}
		if apperr.Is(err, apperr.KindConflict) {
			p.Clash = newClash(sizeAsTyped(stands, p.Form.By == byCuts), p.Form, sizeClashFields(), sizeLengths(stands.Spec.Unit, p.Form.Unit))
			p.Form.Version = strconv.Itoa(stands.Version)
			return s.sizeWith(c, http.StatusConflict, p, spec)
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.sizeWith(c, http.StatusUnprocessableEntity, p, spec)
}

func (s *Site) writeSize(c *gin.Context, z drive.Size) (drive.Size, error) {
	if z.Number == 0 {
		return s.db.CreateSize(c.Request.Context(), s.act(c), z)
	}
	return s.db.UpdateSize(c.Request.Context(), s.act(c), z)
}

func (s *Site) size(c *gin.Context) (drive.Size, error) {
	number, err := s.number(c, "size")
	if err != nil {
		return drive.Size{}, err
	}
	return s.db.Size(c.Request.Context(), s.driveID(c), number)
}

// sizeWith shows the form with the cut sizes of spec, where it can be sewn.
func (s *Site) sizeWith(c *gin.Context, status int, p sizeFormPage, spec sizing.Spec) error {
	p.Seams, p.Bodies = seamOptions(), bodyOptions()
	for _, pillow := range sizing.Pillows() {
		p.Pillows = append(p.Pillows, pillow.Name)
	}
	p.Shrinks = s.drive(c).Washing == drive.CutLarger || p.Form.Shrink != ""
	if err := p.offerShrinkage(s, c); err != nil {
		return err
	}
	p.Action = s.path(c, "sizes", "new")
	if p.Size.Number != 0 {
		p.Action = s.path(c, "sizes", p.Size.Number)
	}
	if p.Form.By == byCuts {
		p.BySize = p.Action
	} else {
		p.ByCuts = p.Action + "?by=" + byCuts
	}
	if spec.Check() == nil {
		stock, err := s.db.Stock(c.Request.Context(), s.driveID(c))
		if err != nil {
			return err
		}
		shown, err := newCaseShown(spec, stock, s.drive(c).Washing)
		if err != nil {
			return err
		}
		p.Shown = &shown
	}
	return s.page(c, status, p)
}

func seamOptions() []option {
	return []option{{string(sizing.French), "French: sewn twice, no raw edge inside"}, {string(sizing.Plain), "plain: sewn once"}}
}

func bodyOptions() []option {
	return []option{
		{strconv.Itoa(sizing.Folded), "one piece, folded: one side seam"},
		{strconv.Itoa(sizing.FrontAndBack), "front and back: two side seams, for narrower cloth"},
	}
}

// unitOf gives the unit a size is typed in; the drive's own form never sends another.
func unitOf(typed string) length.Unit {
	if unit := length.Unit(typed); unit == length.CM {
		return unit
	}
	return length.In
}

// offerShrinkage says what washing of the drive's own cloth taught, so that
// nobody has to guess.
func (p *sizeFormPage) offerShrinkage(s *Site, c *gin.Context) error {
	if !p.Shrinks {
		return nil
	}
	learned, err := s.learned(c)
	if err != nil {
		return err
	}
	p.Shrunk = "Along the cloth, then across: 5, 3. Empty: cut as if washed."
	for _, l := range learned {
		if l.Offer == "" {
			continue
		}
		p.Learned = append(p.Learned, l.Offer)
		p.Shrunk += fmt.Sprintf(" Your own %s shrank by %s (%s).", l.Cloth, l.Offer, counted(l.Lots, "lot", "lots"))
	}
	return nil
}
