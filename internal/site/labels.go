package site

import (
	"bytes"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/postgres"
)

// labelsPage is where labels are printed: which, on what, from which label on.
type labelsPage struct {
	Form     labelsForm
	Problems map[string]string
	Which    []option
	Days     []option
	Papers   []option
	Own      []labelPaperRow
	Prints   []labelPrintRow
	Due      postgres.LabelCounts
	Base     string // what every code begins with
	OnlyHere bool   // no phone opens that address
}

func (labelsPage) template() string { return "labels.html" }
func (labelsPage) title() string    { return "Labels" }

// labelsForm is as typed.
type labelsForm struct {
	Which string `form:"which"`
	Day   string `form:"day"`
	Lots  string `form:"lots"`
	Each  string `form:"each"`
	Paper string `form:"paper"`
	Start string `form:"start"`
}

// labelPaperRow is a sheet or roll that the drive described.
type labelPaperRow struct {
	Number int64
	Name   string
	Words  string
}

// labelPrintRow is one printing.
type labelPrintRow struct {
	Number int64
	At     time.Time
	Who    string
	Labels int
	On     string
	Undone bool
}

// labels handles GET /drives/:drive/fabric/labels.
func (s *Site) labels(c *gin.Context) error {
	form := labelsForm{Which: string(drive.LabelsMissing), Lots: clean(c.Query("lots")), Day: clean(c.Query("day"))}
	switch {
	case form.Lots != "":
		form.Which = string(drive.LabelsNamed)
	case form.Day != "":
		form.Which = string(drive.LabelsOfDay)
	}
	return s.labelsWith(c, http.StatusOK, labelsPage{Form: form})
}

// printLabels handles POST /drives/:drive/fabric/labels: what is printed is noted,
// and the page after it has the PDF.
func (s *Site) printLabels(c *gin.Context) error {
	page := labelsPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	wish, err := s.labelWish(c, page.Form, page.Problems)
	if err != nil {
		return err
	}
	if len(page.Problems) == 0 && !adopt(page.Problems, wish.Check()) {
		number, err := s.db.PrintLabels(c.Request.Context(), s.act(c), wish)
		if err == nil {
			return s.seeOther(c, s.path(c, "fabric", "labels", number))
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.labelsWith(c, http.StatusUnprocessableEntity, page)
}

func (s *Site) labelsWith(c *gin.Context, status int, page labelsPage) error {
	ctx, d := c.Request.Context(), s.drive(c)
	own, err := s.db.LabelPapers(ctx, d.ID)
	if err != nil {
		return err
	}
	prints, err := s.db.LabelPrints(ctx, d.ID, 8)
	if err != nil {
		return err
	}
	days, err := s.db.DropOffs(ctx, d.ID, 12)
	if err != nil {
		return err
	}
	if page.Due, err = s.db.LabelsDue(ctx, d.ID); err != nil {
		return err
	}
	page.Which = []option{
		{string(drive.LabelsMissing), fmt.Sprintf("all without a label: %d", page.Due.Missing)},
		{string(drive.LabelsSince), fmt.Sprintf("lots measured since their label was printed: %d", page.Due.Since)},
		{string(drive.LabelsOfDay), "a drop-off day, whole"},
		{string(drive.LabelsNamed), "lots by number"},
	}
	for _, day := range days {
		page.Days = append(page.Days, option{day.Day.Format(time.DateOnly), day.Day.Format("Mon 2 Jan 2006") + ": " + counted(day.Lots, "lot", "lots")})
	}
	for _, p := range append(own, drive.ReadyLabelPapers(d.Unit)...) {
		page.Papers = append(page.Papers, option{strconv.FormatInt(p.Number, 10), p.Name})
	}
	for _, p := range own {
		page.Own = append(page.Own, labelPaperRow{p.Number, p.Name, labelPaperWords(p, d)})
	}
	for _, p := range prints {
		page.Prints = append(page.Prints, labelPrintRow{p.Number, p.At, p.WhoName, p.Labels, p.Paper.Name, p.UndoneAt != nil})
	}
	if page.Form.Paper == "" {
		page.Form.Paper, page.Form.Start = startLabels(prints, page.Papers)
	}
	page.Base = s.url.String()
	ip := net.ParseIP(s.url.Hostname())
	page.OnlyHere = s.url.Hostname() == "localhost" || ip != nil && ip.IsLoopback()
	return s.page(c, status, page)
}

// startLabels goes on where the last printing left its sheet.
func startLabels(prints []postgres.LabelPrint, papers []option) (number, start string) {
	for _, p := range prints {
		number := strconv.FormatInt(p.Paper.Number, 10)
		if p.UndoneAt == nil && labelOf(papers, number) != number {
			return number, strconv.Itoa(p.After())
		}
	}
	return papers[0].Value, "1"
}

// labelWish reads the form; what cannot be read is a problem at its field.
func (s *Site) labelWish(c *gin.Context, f labelsForm, problems map[string]string) (drive.LabelWish, error) {
	wish := drive.LabelWish{Which: drive.LabelWhich(f.Which), Each: f.Each == "yes", Start: typedCount(problems, "start", f.Start, 1)}
	if wish.Which == drive.LabelsOfDay {
		if day := typedDay(problems, "day", f.Day); day != nil {
			wish.Day = *day
		}
	}
	if wish.Which == drive.LabelsNamed {
		var err error
		if wish.Named, err = drive.ParseLabelNames(f.Lots); err != nil && !adopt(problems, err) {
			return wish, err
		}
	}
	var err error
	if wish.Paper, err = s.labelPaperOf(c, f.Paper); err != nil {
		if !apperr.Is(err, apperr.KindNotFound) {
			return wish, err
		}
		problem(problems, "paper", "Choose a sheet or roll from the list.")
		return wish, nil
	}
	// The highest number there may be makes the longest code.
	adopt(problems, paper.Readable(wish.Paper, paper.LotLabel(s.drive(c), s.url.String(), drive.Lot{Number: 99_999}, nil, 99).Address))
	return wish, nil
}

// labelPaperOf gives a paper as a form names it: the drive's own, or a ready one.
func (s *Site) labelPaperOf(c *gin.Context, typed string) (drive.LabelPaper, error) {
	for _, p := range drive.ReadyLabelPapers(s.drive(c).Unit) {
		if strconv.FormatInt(p.Number, 10) == typed {
			return p, nil
		}
	}
	return s.db.LabelPaper(c.Request.Context(), s.driveID(c), typedNumber(typed))
}

// labelsFrom reads from an address on which paper labels are printed, and from which
// label on; what cannot be goes into problems.
func (s *Site) labelsFrom(c *gin.Context, problems map[string]string) (on drive.LabelPaper, start int, err error) {
	start = typedCount(problems, "start", clean(c.Query("start")), 1)
	on, err = s.labelPaperOf(c, clean(c.Query("paper")))
	if apperr.Is(err, apperr.KindNotFound) {
		problem(problems, "paper", "Choose a sheet or roll from the list.")
		err = nil
	}
	return on, start, err
}

// labelPrintPage is one printing: its PDF, again whenever it is wanted.
type labelPrintPage struct {
	Print  postgres.LabelPrint
	Sheets int
	Lots   string
	Writes bool
}

func (labelPrintPage) template() string { return "label-print.html" }
func (p labelPrintPage) title() string  { return fmt.Sprintf("Labels, printing %d", p.Print.Number) }

// labelPrint handles GET /drives/:drive/fabric/labels/:print.
func (s *Site) labelPrint(c *gin.Context) error {
	p, items, err := s.labelPrintOf(c)
	if err != nil {
		return err
	}
	per := p.Paper.PerSheet()
	page := labelPrintPage{Print: p, Sheets: (p.Start - 1 + len(items) + per - 1) / per}
	var names []string
	for _, item := range items {
		name := strconv.FormatInt(item.Lot.Number, 10)
		if item.Piece != 0 {
			name = fmt.Sprintf("%s/%d", name, item.Piece)
		}
		if item.Copy == 1 {
			names = append(names, name)
		}
	}
	page.Lots = strings.Join(names, ", ")
	return s.page(c, http.StatusOK, page)
}

// labelsFile handles GET /drives/:drive/fabric/labels/:print/labels.pdf.
func (s *Site) labelsFile(c *gin.Context) error {
	p, items, err := s.labelPrintOf(c)
	if err != nil {
		return err
	}
	labels := make([]paper.Label, len(items))
	for i, item := range items {
		labels[i] = paper.LotLabel(s.drive(c), s.url.String(), item.Lot, item.Pieces, item.Piece).Of(item.Copy, item.Copies)
	}
	var pdf bytes.Buffer
	title := fmt.Sprintf("%s: labels, printing %d", s.drive(c).Name, p.Number)
	if err := paper.Labels(&pdf, title, p.Paper, p.Start, labels, p.At); err != nil {
		return err
	}
	return s.file(c, fmt.Sprintf("labels-%d.pdf", p.Number), "application/pdf", pdf.Bytes())
}

func (s *Site) labelPrintOf(c *gin.Context) (postgres.LabelPrint, []postgres.LabelItem, error) {
	number, err := s.number(c, "print")
	if err != nil {
		return postgres.LabelPrint{}, nil, err
	}
	return s.db.LabelPrint(c.Request.Context(), s.driveID(c), number)
}

// undoLabels handles POST /drives/:drive/fabric/labels/:print/undo: they came out
// wrong, so their lots count as without a label.
func (s *Site) undoLabels(c *gin.Context) error {
	number, err := s.number(c, "print")
	if err != nil {
		return err
	}
	if _, err := s.db.UndoLabelPrint(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "Printing %d does not count: its lots are without a label again.", number)
	return s.seeOther(c, s.path(c, "fabric", "labels"))
}
