package site

import (
	"bytes"
	"fmt"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/workbook"
)

const xlsx = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// booksPage offers the books from day to day.
type booksPage struct {
	Form     booksForm
	Problems map[string]string
	Imports  bool
}

func (booksPage) template() string { return "books.html" }
func (booksPage) title() string    { return "The books" }

// booksForm is the period as typed.
type booksForm struct {
	From, To string
}

// books handles GET /drives/:drive/books.
func (s *Site) books(c *gin.Context) error {
	d := s.drive(c)
	return s.booksWith(c, http.StatusOK, booksForm{
		From: drive.Day(d.CreatedAt, d.Location()).Format(time.DateOnly),
		To:   s.today(c).Format(time.DateOnly),
	}, map[string]string{})
}

// booksFile handles GET /drives/:drive/books/books.xlsx?from=…&to=….
func (s *Site) booksFile(c *gin.Context) error {
	form := booksForm{From: clean(c.Query("from")), To: clean(c.Query("to"))}
	problems := map[string]string{}
	from, to := typedDay(problems, "from", form.From), typedDay(problems, "to", form.To)
	if from == nil {
		problem(problems, "from", "Give the first day.")
	}
	if to == nil {
		problem(problems, "to", "Give the last day.")
	}
	if len(problems) > 0 {
		return s.booksWith(c, http.StatusUnprocessableEntity, form, problems)
	}
	books, err := s.db.Books(c.Request.Context(), s.driveID(c), *from, *to)
	if err != nil {
		if !adopt(problems, err) {
			return err
		}
		return s.booksWith(c, http.StatusUnprocessableEntity, form, problems)
	}
	var out bytes.Buffer
	if err := workbook.WriteBooks(&out, books); err != nil {
		return err
	}
	name := fmt.Sprintf("%s-books-%s-to-%s.xlsx", s.driveID(c), from.Format(time.DateOnly), to.Format(time.DateOnly))
	return s.file(c, name, xlsx, out.Bytes())
}

func (s *Site) booksWith(c *gin.Context, status int, form booksForm, problems map[string]string) error {
	return s.page(c, status, booksPage{Form: form, Problems: problems, Imports: s.may(c, account.Import, account.Write)})
}
