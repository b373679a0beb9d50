package site

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// broughtPage shows every row of a file and what becomes of it, or, where its
// columns were not understood, asks what they mean.
type broughtPage struct {
	Number  int64
	Name    string
	Kind    string
	Unread  string // why no row could be read
	Note    string // what was taken for granted of the file
	Ended   string // how taking it in ended, where it did
	Trouble bool   // it ended badly
	See     string // the page where what was taken is seen
	Report  drive.ImportReport
	Good    int
	List    listing
	Rows    []broughtRow
	Match   matchForm
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

// brought handles GET /drives/:drive/books/in/:upload: the preview, or how far
// taking the file in has come.
func (s *Site) brought(c *gin.Context) error {
	upload, err := s.uploadOf(c)
	if err != nil {
		return err
	}
	if upload.State.Busy() {
		return s.page(c, http.StatusOK, newTakingPage(upload))
	}
	return s.showBrought(c, http.StatusOK, upload, nil)
}

// showBrought shows the rows; match is what somebody said about the columns and
// could not be kept.
func (s *Site) showBrought(c *gin.Context, status int, upload postgres.Upload, match *matchForm) error {
	page := broughtPage{Number: upload.Number, Name: upload.Name, Kind: labelOf(bringKinds(), string(upload.Kind)), List: s.listing(c, "line")}
	page.Ended, page.Trouble = takeEnded(upload.Take)
	if upload.Taken > 0 {
		page.See = broughtTo(upload.Kind)
	}
	list, err := s.readList(c, upload)
	page.Note = list.Note
	switch {
	case err == nil:
		if err := s.fillBrought(c, &page, list); err != nil {
			return err
		}
		if to := page.List.pastEnd(); to != "" && match == nil {
			return s.seeOther(c, to)
		}
	case len(list.Matches) == 0 || apperr.Fields(err) == nil:
		return err
	default:
		page.Unread = firstProblem(err)
	}
	page.Match = newMatchForm(upload, list)
	if match != nil {
		page.Match = *match
	}
	return s.page(c, status, page)
}

// firstProblem is what a refusal of a file says.
func firstProblem(err error) string {
	for _, f := range apperr.As(err).Fields {
		return f.Why
	}
	return err.Error()
}

func (s *Site) fillBrought(c *gin.Context, page *broughtPage, list workbook.Brought) error {
	report, err := s.db.Preview(c.Request.Context(), s.driveID(c), list.Bringing, true)
	if err != nil {
		return err
	}
	page.Report, page.Good = report, report.Good()
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
	return nil
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

// uploadOf gives the file that the address names.
func (s *Site) uploadOf(c *gin.Context) (postgres.Upload, error) {
	number, err := s.number(c, "upload")
	if err != nil {
		return postgres.Upload{}, err
	}
	return s.db.Upload(c.Request.Context(), s.driveID(c), number)
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
	s.flash(c, "The file is left as it was; nothing more of it is taken.")
	return s.seeOther(c, s.path(c, "books", "in"))
}

// refusedRows handles GET /drives/:drive/books/in/:upload/refused.csv.
func (s *Site) refusedRows(c *gin.Context) error {
	return s.refusedFile(c, "csv", "text/csv; charset=utf-8", workbook.WriteRefused)
}

// refusedBook handles GET /drives/:drive/books/in/:upload/refused.xlsx.
func (s *Site) refusedBook(c *gin.Context) error {
	return s.refusedFile(c, "xlsx", xlsx, workbook.WriteRefusedXLSX)
}

func (s *Site) refusedFile(c *gin.Context, ending, contentType string, write func(w io.Writer, b workbook.Brought, fates []drive.RowFate) error) error {
	upload, err := s.uploadOf(c)
	if err != nil {
		return err
	}
	list, err := s.readList(c, upload)
	if err != nil {
		return err
	}
	report, err := s.db.Preview(c.Request.Context(), s.driveID(c), list.Bringing, true)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := write(&out, list, report.Fates); err != nil {
		return err
	}
	return s.file(c, fmt.Sprintf("%s-refused-%d.%s", upload.Kind, upload.Number, ending), contentType, out.Bytes())
}

// blankTable handles GET /drives/:drive/books/blank/:kind: a blank table to fill in.
func (s *Site) blankTable(c *gin.Context) error {
	kind, err := drive.ParseBringKind(c.Param("kind"))
	if err != nil {
		return noSuchPage()
	}
	sizes, err := s.db.Sizes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := workbook.WriteBlank(&out, kind, s.drive(c), drive.SizesInUse(sizes)); err != nil {
		return err
	}
	return s.file(c, fmt.Sprintf("%s-%s-blank.xlsx", s.driveID(c), kind), xlsx, out.Bytes())
}
