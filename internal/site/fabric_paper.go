package site

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/paper"
)

// mostTags and mostTallies are how much is printed at once.
const (
	mostTags    = 400
	mostTallies = 20
)

// paperPage prints what is used where there is no network, and at the door: tally
// sheets and numbered tags.
type paperPage struct {
	Form     paperForm
	Problems map[string]string
	Papers   []option
	Most     int
}

func (paperPage) template() string { return "fabric-paper.html" }
func (paperPage) title() string    { return "Tally sheets and tags" }

// paperForm is as typed, in the address.
type paperForm struct{ What, Sheets, From, Count, Paper string }

// paper handles GET /drives/:drive/fabric/paper, and gives a PDF where the address
// says which: ?what=tags&from=1&count=40&paper=a4.
func (s *Site) paper(c *gin.Context) error {
	f := paperForm{What: c.Query("what"), Sheets: clean(c.Query("sheets")), From: clean(c.Query("from")), Count: clean(c.Query("count")), Paper: cmp.Or(c.Query("tally_paper"), c.Query("paper"))}
	page := paperPage{Form: f, Problems: map[string]string{}, Papers: []option{{"a4", "A4"}, {"letter", "Letter"}}, Most: mostTags}
	var sheet paper.Sheet
	sheet, page.Form.Paper = paperNamed(f.Paper, s.drive(c))
	switch f.What {
	case "tally":
		n := typedCount(page.Problems, "sheets", f.Sheets, 2)
		if n < 1 || n > mostTallies {
			problem(page.Problems, "sheets", "Print 1 to %d sheets.", mostTallies)
		}
		if len(page.Problems) == 0 {
			return s.printed(c, "tally.pdf", func(b *bytes.Buffer) error { return paper.Tally(b, s.drive(c), sheet, n, s.now()) })
		}
	case "tags":
		from, n := typedCount(page.Problems, "from", f.From, 1), typedCount(page.Problems, "count", f.Count, 40)
		if from < 1 {
			problem(page.Problems, "from", "Tags begin at 1 or later.")
		}
		if n < 1 || n > mostTags {
			problem(page.Problems, "count", "Print 1 to %d tags.", mostTags)
		}
		if len(page.Problems) == 0 {
			name := fmt.Sprintf("tags-%d-to-%d.pdf", from, from+n-1)
			return s.printed(c, name, func(b *bytes.Buffer) error {
				return paper.Tags(b, s.drive(c), s.url.String(), sheet, int64(from), n, s.now())
			})
		}
	}
	if err := s.paperDefaults(c, &page.Form); err != nil {
		return err
	}
	status := http.StatusOK
	if len(page.Problems) > 0 {
		status = http.StatusUnprocessableEntity
	}
	return s.page(c, status, page)
}

// paperNamed gives the size of paper that an address names, else the usual one of the
// drive, with its name.
func paperNamed(name string, d drive.Drive) (paper.Sheet, string) {
	sheet := sheetOf(d, name)
	if sheet == paper.Letter {
		return sheet, "letter"
	}
	return sheet, "a4"
}

// paperDefaults fills in what most print: a tally of as many rows as the page that
// types it in, and tags that follow those in use.
func (s *Site) paperDefaults(c *gin.Context, f *paperForm) error {
	next, err := s.db.NextTag(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	for _, d := range []struct {
		field *string
		usual string
	}{{&f.Sheets, "2"}, {&f.From, strconv.FormatInt(next, 10)}, {&f.Count, "40"}} {
		if *d.field == "" {
			*d.field = d.usual
		}
	}
	return nil
}

// printed sends a PDF.
func (s *Site) printed(c *gin.Context, name string, draw func(*bytes.Buffer) error) error {
	var b bytes.Buffer
	if err := draw(&b); err != nil {
		return err
	}
	return s.file(c, name, "application/pdf", b.Bytes())
}
