package site

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

const (
	xlsx   = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	asText = "text/csv; charset=utf-8"
)

// booksPage offers the books from day to day, whole and list by list.
type booksPage struct {
	Form     booksForm
	Problems map[string]string
	Periods  []periodLink
	Lists    []workbook.List
	Contacts bool // how to reach people stands in them
	Imports  bool
	Checked  string   // when all balances were last held against their ledgers; empty for never
	Differ   []string // those that did not agree then, the first of them
	More     int      // how many did not agree beside those
}

func (booksPage) template() string { return "books.html" }
func (booksPage) title() string    { return "The books" }

// periodLink is usual days, one tap away.
type periodLink struct {
	Name, Link string
	Chosen     bool
}

// booksForm is the period as typed.
type booksForm struct {
	From, To string
}

// books handles GET /drives/:drive/books: with the days of the address, else all of them.
func (s *Site) books(c *gin.Context) error {
	form := typedPeriod(c)
	if form == (booksForm{}) {
		periods, err := s.periods(c)
		if err != nil {
			return err
		}
		all := periods[len(periods)-1]
		form = booksForm{From: all.From.Format(time.DateOnly), To: all.To.Format(time.DateOnly)}
	}
	return s.booksWith(c, http.StatusOK, form, map[string]string{})
}

// booksFile handles GET /drives/:drive/books/books.xlsx?from=…&to=….
func (s *Site) booksFile(c *gin.Context) error {
	return s.fromBooks(c, "books", "xlsx", xlsx, workbook.WriteBooks)
}

// bookList handles GET /drives/:drive/books/lists/LIST.csv?from=…&to=….
func (s *Site) bookList(c *gin.Context) error {
	list, csv := strings.CutSuffix(c.Param("list"), ".csv")
	for _, l := range workbook.Lists() {
		if csv && l.Name == list {
			return s.fromBooks(c, list, "csv", asText, func(w io.Writer, b drive.Books) error { return workbook.WriteList(w, b, list) })
		}
	}
	return apperr.NotFound("There is no such list in the books.")
}

// fromBooks answers a file made of the books of the days typed, or the form again.
func (s *Site) fromBooks(c *gin.Context, what, ending, contentType string, write func(io.Writer, drive.Books) error) error {
	form, problems := typedPeriod(c), map[string]string{}
	from, to := typedDay(problems, "from", form.From), typedDay(problems, "to", form.To)
	if form.From == "" {
		problem(problems, "from", "Give the first day.")
	}
	if form.To == "" {
		problem(problems, "to", "Give the last day.")
	}
	if len(problems) > 0 {
		return s.booksWith(c, http.StatusUnprocessableEntity, form, problems)
	}
	of := postgres.BooksOf{Drive: s.driveID(c), From: *from, To: *to, Contacts: s.may(c, account.Contacts, account.Read), Whole: what == "books"}
	name := fmt.Sprintf("%s-%s-%s-to-%s.%s", of.Drive, what, from.Format(time.DateOnly), to.Format(time.DateOnly), ending)
	err := s.written(c, name, contentType, func(w io.Writer) error {
		return s.db.Books(c.Request.Context(), of, func(b drive.Books) error { return write(w, b) })
	})
	if err != nil && adopt(problems, err) {
		return s.booksWith(c, http.StatusUnprocessableEntity, form, problems)
	}
	return err
}

func typedPeriod(c *gin.Context) booksForm {
	return booksForm{From: clean(c.Query("from")), To: clean(c.Query("to"))}
}

func (s *Site) periods(c *gin.Context) ([]drive.Period, error) {
	began, err := s.db.BooksBegin(c.Request.Context(), s.drive(c))
	return drive.Periods(began, s.today(c)), err
}

func (s *Site) booksWith(c *gin.Context, status int, form booksForm, problems map[string]string) error {
	page := booksPage{
		Form: form, Problems: problems, Lists: workbook.Lists(), Contacts: s.may(c, account.Contacts, account.Read), Imports: s.may(c, account.Import, account.Write),
	}
	periods, err := s.periods(c)
	if err != nil {
		return err
	}
	for _, p := range periods {
		from, to := p.From.Format(time.DateOnly), p.To.Format(time.DateOnly)
		page.Periods = append(page.Periods, periodLink{
			p.Name, s.path(c, "books") + "?" + url.Values{"from": {from}, "to": {to}}.Encode(), from == form.From && to == form.To,
		})
	}
	last, err := s.db.LastLedgerCheck(c.Request.Context())
	if err != nil {
		return err
	}
	if !last.At.IsZero() {
		page.Checked = last.At.In(s.drive(c).Location()).Format("2 Jan 2006, 15:04")
		page.Differ, page.More = last.Of(s.driveID(c))
	}
	return s.page(c, status, page)
}

// written sends as a download what a function writes. It goes into a file on the way,
// so that a failure halfway is told as one, and nothing long is held in memory.
func (s *Site) written(c *gin.Context, name, contentType string, write func(io.Writer) error) error {
	kept, err := os.CreateTemp("", "boltward-file-*")
	if err != nil {
		return fmt.Errorf("a file to send: %w", err)
	}
	defer os.Remove(kept.Name()) // nobody needs it when it is sent, and nobody else knows its name
	defer kept.Close()
	out := bufio.NewWriterSize(kept, 1<<16)
	if err := write(out); err != nil {
		return err
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("a file to send: %w", err)
	}
	s.attach(c, name)
	c.Header("Content-Type", contentType)
	http.ServeContent(c.Writer, c.Request, name, time.Time{}, kept)
	return nil
}
