package site

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// bringBody is the most bytes that bringing a file sends: the file and its form.
const bringBody = workbook.MaxBytes + 64<<10

// bringPage takes a spreadsheet to be looked at.
type bringPage struct {
	Form     bringForm
	Problems map[string]string
	Kinds    []option
}

func (bringPage) template() string { return "bring.html" }
func (bringPage) title() string    { return "Bring a spreadsheet in" }

// bringForm says what the file is a list of.
type bringForm struct {
	Kind string `form:"kind"`
}

// bringKinds are the lists that can be brought, in words.
func bringKinds() []option {
	return []option{
		{string(drive.BringFabric), "fabric, one lot a line"},
		{string(drive.BringPeople), "people who sew"},
		{string(drive.BringAsked), "what is asked for"},
		{string(drive.BringDonors), "donors"},
	}
}

// bring handles GET /drives/:drive/books/in.
func (s *Site) bring(c *gin.Context) error {
	return s.page(c, http.StatusOK, bringPage{Form: bringForm{Kind: string(drive.BringFabric)}, Kinds: bringKinds()})
}

// bringNow handles POST /drives/:drive/books/in: the file is kept to be looked at,
// nothing of it is taken yet.
func (s *Site) bringNow(c *gin.Context) error {
	page := bringPage{Kinds: bringKinds(), Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	kind, err := drive.ParseBringKind(page.Form.Kind)
	adopt(page.Problems, err)
	name, content, err := uploaded(c, "file")
	if err != nil && !adopt(page.Problems, err) {
		return err
	}
	if len(page.Problems) == 0 {
		// A file that cannot be read at all is refused here, beside its field.
		_, err := s.readList(c, kind, content)
		if err != nil && !adopt(page.Problems, err) {
			return err
		}
	}
	if len(page.Problems) == 0 {
		number, err := s.db.KeepUpload(c.Request.Context(), s.act(c), kind, name, content)
		if err == nil {
			return s.seeOther(c, s.path(c, "books", "in", number))
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.page(c, http.StatusUnprocessableEntity, page)
}

// uploaded gives the file of a form by its field.
func uploaded(c *gin.Context, field string) (string, []byte, error) {
	if c.Request.MultipartForm == nil || len(c.Request.MultipartForm.File[field]) == 0 {
		return "", nil, apperr.Invalid(field, "Choose the file, an .xlsx or a .csv.")
	}
	head := c.Request.MultipartForm.File[field][0]
	file, err := head.Open()
	if err != nil {
		return "", nil, fmt.Errorf("open upload: %w", err)
	}
	defer file.Close()
	content, err := io.ReadAll(file)
	if err != nil {
		return "", nil, fmt.Errorf("read upload: %w", err)
	}
	return clean(filepath.Base(head.Filename)), content, nil
}

func (s *Site) readList(c *gin.Context, kind drive.BringKind, content []byte) (workbook.Brought, error) {
	depth, err := s.db.BorderDepth(c.Request.Context(), s.driveID(c))
	if err != nil {
		return workbook.Brought{}, err
	}
	return workbook.Read(kind, content, workbook.Terms{Drive: s.drive(c), Today: s.today(c), BorderDepth: depth})
}

// broughtPage shows every row of a file and what becomes of it.
type broughtPage struct {
	Number  int64
	Name    string
	Kind    string
	Sheet   string
	Matches []workbook.Match
	Report  drive.ImportReport
	Good    int
	List    listing
	Rows    []broughtRow
}

func (broughtPage) template() string { return "brought.html" }
func (p broughtPage) title() string  { return "Bring in " + p.Name }

// broughtRow is one row with its fate.
type broughtRow struct {
	Line  int
	Cells string
	Fate  string
	Class string
	Why   []drive.Fault
	Notes []string
}

// brought handles GET /drives/:drive/books/in/:upload: the preview.
func (s *Site) brought(c *gin.Context) error {
	upload, list, report, err := s.judged(c)
	if err != nil {
		return err
	}
	page := broughtPage{
		Number: upload.Number, Name: upload.Name, Kind: labelOf(bringKinds(), string(upload.Kind)), Sheet: list.Sheet, Matches: list.Matches,
		Report: report, Good: report.Good(), List: s.listing(c, "line"),
	}
	which := page.List.Choose("rows", "Rows", []option{
		{"", "all"}, {string(drive.FateRefused), "refused"}, {string(drive.FateTaken), "to be taken"}, {string(drive.FateUnchanged), "here already"}, {"noted", "with a note"},
	})
	for i, f := range report.Fates {
		if which != "" && string(f.Fate) != which && (which != "noted" || len(f.Notes) == 0) {
			continue
		}
		if q := strings.ToLower(page.List.Q); q != "" && !strings.Contains(strings.ToLower(strings.Join(list.Lines[i].Cells, " ")+" "+f.Why()), q) {
			continue
		}
		if page.List.Total++; page.List.Total > page.List.Offset() && page.List.Total <= page.List.Offset()+page.List.Limit() {
			page.Rows = append(page.Rows, newBroughtRow(list.Lines[i], f))
		}
	}
	return s.page(c, http.StatusOK, page)
}

func newBroughtRow(line workbook.Line, f drive.RowFate) broughtRow {
	row := broughtRow{Line: f.Line, Cells: line.Short(), Why: f.Faults, Notes: f.Notes, Fate: "to be taken", Class: "done"}
	switch f.Fate {
	case drive.FateRefused:
		row.Fate, row.Class, row.Notes = "refused", "late", nil
	case drive.FateUnchanged:
		row.Fate, row.Class = "here already", "quiet"
	}
	return row
}

// judged gives a file that waits, as it was understood, and what would become of it.
func (s *Site) judged(c *gin.Context) (postgres.Upload, workbook.Brought, drive.ImportReport, error) {
	number, err := s.number(c, "upload")
	if err != nil {
		return postgres.Upload{}, workbook.Brought{}, drive.ImportReport{}, err
	}
	upload, err := s.db.Upload(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return upload, workbook.Brought{}, drive.ImportReport{}, err
	}
	list, err := s.readList(c, upload.Kind, upload.Content)
	if err != nil {
		return upload, list, drive.ImportReport{}, err
	}
	report, err := s.db.Preview(c.Request.Context(), s.driveID(c), list.Bringing, true)
	return upload, list, report, err
}

// takeForm says how much is taken: all, or "good" for the rows that are not refused.
type takeForm struct {
	What string `form:"what"`
}

// takeBrought handles POST /drives/:drive/books/in/:upload/take.
func (s *Site) takeBrought(c *gin.Context) error {
	var form takeForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	number, err := s.number(c, "upload")
	if err != nil {
		return err
	}
	upload, err := s.db.Upload(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	list, err := s.readList(c, upload.Kind, upload.Content)
	if err != nil {
		return err
	}
	report, err := s.db.Import(c.Request.Context(), s.act(c), list.Bringing, form.What == "good")
	if err != nil {
		return err
	}
	if report.Taken == 0 && len(report.Refused) > 0 {
		s.flash(c, "Nothing was taken: %s refused now. Look at them, or take the good ones.", counted(len(report.Refused), "row is", "rows are"))
		return s.seeOther(c, s.path(c, "books", "in", number))
	}
	s.flash(c, "%s taken, %d here already, %d refused.", counted(report.Taken, "row", "rows"), report.Unchanged, len(report.Refused))
	if len(report.Refused) > 0 {
		return s.seeOther(c, s.path(c, "books", "in", number)+"?rows=refused")
	}
	return s.seeOther(c, s.path(c, broughtTo(upload.Kind)))
}

// broughtTo is the page where what was taken is seen.
func broughtTo(kind drive.BringKind) string {
	if kind == drive.BringPeople || kind == drive.BringAsked {
		return string(kind)
	}
	return "fabric"
}

// leaveBrought handles POST /drives/:drive/books/in/:upload/leave: the file is forgotten.
func (s *Site) leaveBrought(c *gin.Context) error {
	number, err := s.number(c, "upload")
	if err != nil {
		return err
	}
	if err := s.db.DropUpload(c.Request.Context(), s.act(c), number); err != nil {
		return err
	}
	s.flash(c, "The file is left as it was; nothing of it was taken.")
	return s.seeOther(c, s.path(c, "books", "in"))
}

// refusedRows handles GET /drives/:drive/books/in/:upload/refused.csv.
func (s *Site) refusedRows(c *gin.Context) error {
	upload, list, report, err := s.judged(c)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := workbook.WriteRefused(&out, list, report.Fates); err != nil {
		return err
	}
	return s.file(c, fmt.Sprintf("%s-refused-%d.csv", upload.Kind, upload.Number), "text/csv; charset=utf-8", out.Bytes())
}
