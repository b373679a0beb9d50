package site

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// leftAside stands for a column that holds nothing for us, in a form.
const leftAside = "-"

// matchForm is how a file is read, to be corrected.
type matchForm struct {
	Form     matchTyped
	Problems map[string]string
	Number   int64
	Sheets   []option // where there is more than one
	Fields   []option
	Columns  []matchColumn
}

// matchTyped is the correction as typed: keys and meanings stand side by side.
type matchTyped struct {
	Sheet   string   `form:"sheet"`
	Heading string   `form:"heading"`
	Keys    []string `form:"key"`
	Means   []string `form:"means"`
}

// matchColumn is one column of the file.
type matchColumn struct {
	Key, Heading, Sample string
	Means                string // the field, or leftAside
	Chosen               bool
}

func newMatchForm(u postgres.Upload, list workbook.Brought) matchForm {
	f := matchForm{Number: u.Number, Form: matchTyped{Sheet: list.Sheet}, Fields: []option{{leftAside, "left aside"}}}
	if list.Heading.Number > 0 {
		f.Form.Heading = strconv.Itoa(list.Heading.Number)
	}
	if len(list.Sheets) > 1 {
		for _, name := range list.Sheets {
			f.Sheets = append(f.Sheets, option{name, name})
		}
	}
	for _, c := range workbook.Columns(u.Kind) {
		name := c.Name
		if c.Needed {
			name += " (needed)"
		}
		f.Fields = append(f.Fields, option{c.Field, name})
	}
	for _, m := range list.Matches {
		col := matchColumn{Key: m.Key, Heading: m.Heading, Sample: m.Sample, Means: m.Field, Chosen: m.Chosen}
		if col.Heading == "" {
			col.Heading = "(" + m.Key + ", without a heading)"
		}
		if col.Means == "" {
			col.Means = leftAside
		}
		f.Columns = append(f.Columns, col)
	}
	return f
}

// Of gives the choices for a column with what it means picked.
func (f matchForm) Of(col matchColumn) []pick {
	picks := make([]pick, len(f.Fields))
	for i, o := range f.Fields {
		picks[i] = pick{Value: o.Value, Label: o.Label, On: o.Value == col.Means}
	}
	return picks
}

// matchBrought handles POST /drives/:drive/books/in/:upload/match: how the file is
// to be read, and what its headings mean from now on.
func (s *Site) matchBrought(c *gin.Context) error {
	var typed matchTyped
	if err := s.read(c, &typed); err != nil {
		return err
	}
	upload, err := s.uploadOf(c)
	if err != nil {
		return err
	}
	list, err := s.readList(c, upload)
	if err != nil && len(list.Matches) == 0 {
		return err
	}
	form := newMatchForm(upload, list)
	reading, problems := form.correct(typed)
	if len(problems) == 0 {
		err := s.db.ReadUploadAs(c.Request.Context(), s.act(c), upload.Number, reading)
		if err == nil {
			s.flash(c, "Read anew. What the headings mean is kept for the next file.")
			return s.seeOther(c, s.path(c, "books", "in", upload.Number))
		}
		if !adopt(problems, err) {
			return err
		}
	}
	form.Problems, form.Form.Sheet, form.Form.Heading = problems, typed.Sheet, typed.Heading
	return s.showBrought(c, http.StatusUnprocessableEntity, upload, &form)
}

// correct gives what differs from how the file is read now, and shows in the form
// what was chosen. With another sheet or line the columns are others, so what was
// said about these says nothing.
func (f *matchForm) correct(typed matchTyped) (postgres.UploadReading, map[string]string) {
	problems := map[string]string{}
	reading := postgres.UploadReading{Sheet: typed.Sheet, Means: map[string]string{}}
	if len(f.Sheets) > 0 && !offers(f.Sheets, typed.Sheet) {
		problem(problems, "sheet", "Choose one of the sheets.")
	}
	if reading.Heading = typedCount(problems, "heading", typed.Heading, 0); reading.Heading > 0 && typed.Heading == f.Form.Heading && typed.Sheet == f.Form.Sheet {
		f.chosen(typed, reading.Means, problems)
	}
	if typed.Sheet != f.Form.Sheet && typed.Heading == f.Form.Heading {
		reading.Heading = 0 // it was the other sheet's
	}
	return reading, problems
}

// chosen fills in what columns were said to mean that they did not mean before.
func (f *matchForm) chosen(typed matchTyped, means map[string]string, problems map[string]string) {
	if len(typed.Keys) != len(typed.Means) {
		problem(problems, "means", "The columns did not arrive whole. Choose once more.")
		return
	}
	by := map[string]string{}
	for i := range f.Columns {
		col := &f.Columns[i]
		at := slices.Index(typed.Keys, col.Key)
		if at < 0 || typed.Means[at] == col.Means || !offers(f.Fields, typed.Means[at]) {
			continue
		}
		col.Means = typed.Means[at]
		if means[col.Key] = col.Means; col.Means == leftAside {
			means[col.Key] = ""
			continue
		}
		if other, twice := by[col.Means]; twice {
			problem(problems, "means", "%s", fmt.Sprintf("Two columns, %s and %s, cannot both hold the same. Choose it once.", other, col.Heading))
		}
		by[col.Means] = col.Heading
	}
	// A column that held what another holds now holds it no longer.
	for _, col := range f.Columns {
		if _, said := means[col.Key]; !said && by[col.Means] != "" {
			means[col.Key] = ""
		}
	}
}

func offers(options []option, value string) bool {
	return slices.ContainsFunc(options, func(o option) bool { return o.Value == value })
}
