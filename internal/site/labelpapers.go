package site

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/paper"
)

// labelPaperPage describes a sheet or roll of labels.
type labelPaperPage struct {
	Form     labelPaperForm
	Problems map[string]string
	Clash    clash
	Number   int64 // 0: a new one
	Ready    []labelPaperRow
	Drawing  labelDrawing
}

func (labelPaperPage) template() string { return "label-paper.html" }
func (p labelPaperPage) title() string {
	if p.Number == 0 {
		return "Describe a sheet or roll"
	}
	return "Change " + p.Form.Name
}

// labelPaperForm is as typed.
type labelPaperForm struct {
	Version     string `form:"version"`
	Name        string `form:"name"`
	PaperWidth  string `form:"paper_width"`
	PaperHeight string `form:"paper_height"`
	Left        string `form:"margin_left"`
	Top         string `form:"margin_top"`
	LabelWidth  string `form:"label_width"`
	LabelHeight string `form:"label_height"`
	Columns     string `form:"columns"`
	Rows        string `form:"rows"`
	GapAcross   string `form:"gap_across"`
	GapDown     string `form:"gap_down"`
	Lines       string `form:"lines"`
}

// labelDrawing is a sheet drawn to scale with its labels.
type labelDrawing struct {
	Words         string
	Width, Height string
	Labels        []drawnLabel
}

type drawnLabel struct{ X, Y, Width, Height string }

// newLabelPaper handles GET /drives/:drive/fabric/label-papers/new?from=…: from a
// ready one, or from nothing.
func (s *Site) newLabelPaper(c *gin.Context) error {
	form := labelPaperForm{Left: "0", Top: "0", Columns: "1", Rows: "1", GapAcross: "0", GapDown: "0"}
	for _, p := range drive.ReadyLabelPapers(s.drive(c).Unit) {
		if strconv.FormatInt(p.Number, 10) == c.Query("from") {
			form = labelPaperStands(p, s.drive(c).Unit)
			form.Name, form.Version = "", ""
		}
	}
	return s.labelPaperWith(c, http.StatusOK, labelPaperPage{Form: form})
}

// addLabelPaper handles POST /drives/:drive/fabric/label-papers/new.
func (s *Site) addLabelPaper(c *gin.Context) error {
	page := labelPaperPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	unit := s.drive(c).Unit
	if p := page.Form.paper(unit, page.Problems); len(page.Problems) == 0 {
		kept, err := s.db.CreateLabelPaper(c.Request.Context(), s.act(c), p, unit)
		if err == nil {
			s.flash(c, "%s is kept. Print its trial on plain paper and hold it against the sheet before you use one up.", kept.Name)
			return s.seeOther(c, s.path(c, "fabric", "label-papers", kept.Number))
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.labelPaperWith(c, http.StatusUnprocessableEntity, page)
}

// labelPaper handles GET /drives/:drive/fabric/label-papers/:paper.
func (s *Site) labelPaper(c *gin.Context) error {
	p, err := s.labelPaperInPath(c)
	if err != nil {
		return err
	}
	return s.labelPaperWith(c, http.StatusOK, labelPaperPage{Form: labelPaperStands(p, s.drive(c).Unit), Number: p.Number})
}

// changeLabelPaper handles POST /drives/:drive/fabric/label-papers/:paper.
func (s *Site) changeLabelPaper(c *gin.Context) error {
	old, err := s.labelPaperInPath(c)
	if err != nil {
		return err
	}
	page := labelPaperPage{Problems: map[string]string{}, Number: old.Number}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	unit := s.drive(c).Unit
	if p := page.Form.paper(unit, page.Problems); len(page.Problems) == 0 {
		p.Number = old.Number
		_, err := s.db.UpdateLabelPaper(c.Request.Context(), s.act(c), p, unit)
		switch {
		case err == nil:
			s.flash(c, "Changed.")
			return s.seeOther(c, s.path(c, "fabric", "label-papers", p.Number))
		case apperr.Is(err, apperr.KindConflict):
			return s.labelPaperClash(c, page)
		case !adopt(page.Problems, err):
			return err
		}
	}
	return s.labelPaperWith(c, http.StatusUnprocessableEntity, page)
}

// labelPaperClash shows what somebody else saved beside what was typed.
func (s *Site) labelPaperClash(c *gin.Context, page labelPaperPage) error {
	p, err := s.labelPaperInPath(c)
	if err != nil {
		return err
	}
	stands := labelPaperStands(p, s.drive(c).Unit)
	page.Clash = newClash(stands, page.Form, []clashField{
		{"name", "Name", nil},
		{"paper_width", "Paper, width", nil},
		{"paper_height", "Paper, height", nil},
		{"label_width", "Label, width", nil},
		{"label_height", "Label, height", nil},
		{"columns", "Side by side", nil},
		{"rows", "Rows", nil},
		{"margin_left", "From the left edge", nil},
		{"margin_top", "From the top edge", nil},
		{"gap_across", "Gap side by side", nil},
		{"gap_down", "Gap between rows", nil},
		{"lines", "Lines to cut along", yesNo()},
	}, lengthsIn(s.drive(c).Unit, "paper_width", "paper_height", "label_width", "label_height", "margin_left", "margin_top", "gap_across", "gap_down"))
	page.Form.Version = stands.Version
	return s.labelPaperWith(c, http.StatusConflict, page)
}

// labelTrial handles GET /drives/:drive/fabric/label-papers/:paper/trial.pdf.
func (s *Site) labelTrial(c *gin.Context) error {
	p, err := s.labelPaperInPath(c)
	if err != nil {
		return err
	}
	var pdf bytes.Buffer
	if err := paper.Trial(&pdf, p, s.drive(c).Unit, s.now()); err != nil {
		return err
	}
	return s.file(c, fmt.Sprintf("trial-%d.pdf", p.Number), "application/pdf", pdf.Bytes())
}

// putAwayLabelPaper handles POST /drives/:drive/fabric/label-papers/:paper/away.
func (s *Site) putAwayLabelPaper(c *gin.Context) error {
	p, err := s.labelPaperInPath(c)
	if err != nil {
		return err
	}
	if _, err := s.db.RetireLabelPaper(c.Request.Context(), s.act(c), p.Number); err != nil {
		return err
	}
	s.flashUndo(c, s.path(c, "fabric", "label-papers", p.Number, "back"), "%s is no longer offered.", p.Name)
	return s.seeOther(c, s.path(c, "fabric", "labels"))
}

// offerLabelPaper handles POST /drives/:drive/fabric/label-papers/:paper/back.
func (s *Site) offerLabelPaper(c *gin.Context) error {
	p, err := s.labelPaperInPath(c)
	if err != nil {
		return err
	}
	if _, err := s.db.RestoreLabelPaper(c.Request.Context(), s.act(c), p.Number); err != nil {
		return err
	}
	s.flash(c, "%s is offered again.", p.Name)
	return s.seeOther(c, s.path(c, "fabric", "labels"))
}

func (s *Site) labelPaperInPath(c *gin.Context) (drive.LabelPaper, error) {
	number, err := s.number(c, "paper")
	if err != nil {
		return drive.LabelPaper{}, err
	}
	return s.db.LabelPaper(c.Request.Context(), s.driveID(c), number)
}

func (s *Site) labelPaperWith(c *gin.Context, status int, page labelPaperPage) error {
	d := s.drive(c)
	if page.Number == 0 {
		for _, p := range drive.ReadyLabelPapers(d.Unit) {
			page.Ready = append(page.Ready, labelPaperRow{p.Number, p.Name, labelPaperWords(p, d)})
		}
	}
	p := page.Form.paper(d.Unit, map[string]string{})
	p.Name = cmp.Or(p.Name, "The sheet")
	if p.Check(d.Unit) == nil {
		page.Drawing = drawLabelPaper(p, d)
	}
	return s.page(c, status, page)
}

// paper reads the form; what cannot be read is a problem at its field.
func (f labelPaperForm) paper(u length.Unit, problems map[string]string) drive.LabelPaper {
	return drive.LabelPaper{
		Name: f.Name, PaperWidth: typedSize(problems, "paper_width", f.PaperWidth, u), PaperHeight: typedSize(problems, "paper_height", f.PaperHeight, u),
		Left: typedSize(problems, "margin_left", f.Left, u), Top: typedSize(problems, "margin_top", f.Top, u),
		LabelWidth: typedSize(problems, "label_width", f.LabelWidth, u), LabelHeight: typedSize(problems, "label_height", f.LabelHeight, u),
		Columns: typedCount(problems, "columns", f.Columns, 0), Rows: typedCount(problems, "rows", f.Rows, 0),
		GapAcross: typedSize(problems, "gap_across", f.GapAcross, u), GapDown: typedSize(problems, "gap_down", f.GapDown, u),
		Lines: f.Lines == "yes", Version: typedCount(problems, "version", f.Version, 0),
	}
}

func labelPaperStands(p drive.LabelPaper, u length.Unit) labelPaperForm {
	orZero := func(l length.Length) string {
		if l == 0 {
			return "0"
		}
		return sizeText(l, u)
	}
	return labelPaperForm{
		Version: strconv.Itoa(p.Version), Name: p.Name, PaperWidth: orZero(p.PaperWidth), PaperHeight: orZero(p.PaperHeight),
		Left: orZero(p.Left), Top: orZero(p.Top), LabelWidth: orZero(p.LabelWidth), LabelHeight: orZero(p.LabelHeight),
		Columns: strconv.Itoa(p.Columns), Rows: strconv.Itoa(p.Rows), GapAcross: orZero(p.GapAcross), GapDown: orZero(p.GapDown), Lines: yes(p.Lines),
	}
}

func labelPaperWords(p drive.LabelPaper, d drive.Drive) string {
	size := drive.AsMeasured(p.LabelWidth, d.Unit) + " × " + drive.AsMeasured(p.LabelHeight, d.Unit)
	on := drive.AsMeasured(p.PaperWidth, d.Unit) + " × " + drive.AsMeasured(p.PaperHeight, d.Unit)
	return fmt.Sprintf("%s of %s on %s", counted(p.PerSheet(), "label", "labels"), size, on)
}

// drawLabelPaper draws the sheet 240 units wide or high.
func drawLabelPaper(p drive.LabelPaper, d drive.Drive) labelDrawing {
	scale := 240 / float64(max(p.PaperWidth, p.PaperHeight))
	at := func(l length.Length) string { return strconv.FormatFloat(float64(l)*scale, 'f', 1, 64) }
	drawing := labelDrawing{Words: p.Name + ": " + labelPaperWords(p, d), Width: at(p.PaperWidth), Height: at(p.PaperHeight)}
	for i := range p.PerSheet() {
		x, y := p.At(i)
		drawing.Labels = append(drawing.Labels, drawnLabel{at(x), at(y), at(p.LabelWidth), at(p.LabelHeight)})
	}
	return drawing
}
