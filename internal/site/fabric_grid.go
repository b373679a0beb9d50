package site

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// gridRows is how many rows the grid begins with: as many as a paper tally has.
const gridRows = 30

// gridPage types in a paper tally, many lots at once.
type gridPage struct {
	Form     gridForm
	Problems map[string]string
	Columns  []gridColumn
	Rows     []gridRow
	Checked  bool       // the rows were looked at, nothing is saved
	Wrong    []gridCell // cells that have to be put right
	Most     int

	comes map[int]string
	notes map[int][]string
}

func (gridPage) template() string { return "fabric-grid.html" }
func (gridPage) title() string    { return "Type in a tally" }

// gridForm is what stands beside the rows.
type gridForm struct {
	Received string `form:"received_on"`
	Paste    string `form:"paste"`
	Shown    string `form:"rows"` // how many rows the page had
}

// gridColumn is a column with how wide it is: few, some or many letters.
type gridColumn struct{ Field, Name, Unit, Class string }

// gridRow is a row as typed, with what becomes of it.
type gridRow struct {
	Number int
	Cells  []gridCell
	Comes  string   // what comes of the row, once it was looked at
	Notes  []string // what was taken for granted
}

// gridCell is one cell.
type gridCell struct{ Name, Label, Value, Problem, Class string }

// grid handles GET /drives/:drive/fabric/grid.
func (s *Site) grid(c *gin.Context) error {
	page := gridPage{Form: gridForm{Received: s.today(c).Format(time.DateOnly)}}
	return s.gridWith(c, http.StatusOK, page, nil, gridRows)
}

// gridNow handles POST /drives/:drive/fabric/grid: all rows are taken, or each cell
// that is wrong is said at its place.
func (s *Site) gridNow(c *gin.Context) error {
	page, typed, rows, err := s.readGrid(c)
	if err != nil {
		return err
	}
	if len(typed) == 0 && page.Form.Paste == "" {
		problem(page.Problems, "", "Nothing is typed in yet: a row needs one cell at least.")
	}
	if page.Form.Paste != "" {
		problem(page.Problems, "paste", "These rows are not in the grid yet. Put them into the rows, or empty the field.")
	}
	if len(page.Problems) == 0 {
		taken, err := s.db.TakeTally(c.Request.Context(), s.act(c), rows)
		if err == nil {
			s.flash(c, "%s", tallyTaken(taken))
			return s.seeOther(c, s.path(c, "fabric")+"?order=down&state=all")
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.gridWith(c, http.StatusUnprocessableEntity, page, typed, page.shown())
}

// tallyTaken says which numbers to write on the tags.
func tallyTaken(t postgres.TallyTaken) string {
	measured := "all wait to be measured"
	switch {
	case t.Measured > 0 && t.Lots == 0:
		return fmt.Sprintf("%s measured.", counted(t.Measured, "lot is", "lots are"))
	case t.Measured > 0:
		measured = fmt.Sprintf("%d measured", t.Measured)
	}
	if t.Lots == 1 {
		return fmt.Sprintf("Lot %d is taken in, %s.", t.First, strings.Replace(measured, "all wait", "it waits", 1))
	}
	return fmt.Sprintf("Lots %d to %d are taken in, in the order of the rows: %s.", t.First, t.First+int64(t.Lots)-1, measured)
}

// checkGrid handles POST /drives/:drive/fabric/grid/check: what would become of
// each row. Nothing is saved.
func (s *Site) checkGrid(c *gin.Context) error {
	page, typed, rows, err := s.readGrid(c)
	if err != nil {
		return err
	}
	fates, decided, err := s.db.JudgeTally(c.Request.Context(), s.drive(c), rows)
	if err != nil {
		return err
	}
	adopt(page.Problems, drive.TallyProblems(fates))
	page.Checked = true
	comes, notes := map[int]string{}, map[int][]string{}
	for _, one := range decided {
		comes[rows[one.Row].Line] = rowComes(one, s.drive(c))
		notes[rows[one.Row].Line] = fates[one.Row].Notes
	}
	page.comes, page.notes = comes, notes
	return s.gridWith(c, http.StatusOK, page, typed, page.shown())
}

// rowComes says what a row would be.
func rowComes(one drive.Decided, d drive.Drive) string {
	if one.Measured == nil {
		return "waits to be measured"
	}
	out, err := drive.Measure(d, drive.Lot{}, *one.Measured, 1)
	if err != nil {
		return ""
	}
	text := strings.Join(clothWords(out.Cloths(), d), "; ")
	if one.Old != nil {
		text = fmt.Sprintf("measures lot %d: %s", one.Old.Number, text)
	}
	return text
}

// fillGrid handles POST /drives/:drive/fabric/grid/fill: what was pasted goes into
// the first rows that are empty. Nothing is saved.
func (s *Site) fillGrid(c *gin.Context) error {
	page, typed, _, err := s.readGrid(c)
	if err != nil {
		return err
	}
	clear(page.Problems) // said when the rows are looked at
	pasted, err := workbook.Pasted(page.Form.Paste)
	switch {
	case err != nil && !adopt(page.Problems, err):
		return err
	case err == nil && len(pasted)+len(typed) > drive.MostTally:
		problem(page.Problems, "paste", "There is room for %d more rows and these are %d. Take in what stands first.", drive.MostTally-len(typed), len(pasted))
	}
	if len(page.Problems) > 0 {
		return s.gridWith(c, http.StatusUnprocessableEntity, page, typed, page.shown())
	}
	shown := page.shown()
	for row := 1; len(pasted) > 0; row++ {
		if typed[row] == nil {
			typed[row], pasted = pasted[0], pasted[1:]
			shown = max(shown, row)
		}
	}
	page.Form.Paste = ""
	return s.gridWith(c, http.StatusOK, page, typed, shown)
}

// shown is how many rows the page had.
func (p gridPage) shown() int {
	n, _ := wholeNumber(p.Form.Shown)
	return int(min(max(n, gridRows), drive.MostTally))
}

// readGrid reads the rows that hold anything, by number, and what they say.
func (s *Site) readGrid(c *gin.Context) (gridPage, map[int]map[string]string, []drive.Incoming[drive.LotIn], error) {
	page := gridPage{Problems: map[string]string{}}
	if err := s.read(c, &page.Form); err != nil {
		return page, nil, nil, err
	}
	typed := map[int]map[string]string{}
	var tally []workbook.TallyRow
	for row := 1; row <= drive.MostTally; row++ {
		cells := map[string]string{}
		for _, col := range workbook.TallyColumns() {
			if cell := clean(c.Request.PostForm.Get(drive.TallyField(row, col.Field))); cell != "" {
				cells[col.Field] = cell
			}
		}
		if len(cells) > 0 {
			typed[row] = cells
			tally = append(tally, workbook.TallyRow{Number: row, Cells: cells})
		}
	}
	terms := workbook.Terms{Drive: s.drive(c), Today: s.today(c)}
	if day := typedDay(page.Problems, "received_on", page.Form.Received); day != nil {
		terms.Today = *day
	}
	if terms.Today.After(s.today(c)) {
		problem(page.Problems, "received_on", "That day is still to come. Give the day it came in.")
	}
	depth, err := s.db.BorderDepth(c.Request.Context(), s.driveID(c))
	if err != nil {
		return page, nil, nil, err
	}
	terms.BorderDepth = depth
	return page, typed, workbook.Tally(tally, terms), nil
}

func (s *Site) gridWith(c *gin.Context, status int, page gridPage, typed map[int]map[string]string, rows int) error {
	d := s.drive(c)
	page.Most, page.Form.Shown = drive.MostTally, fmt.Sprint(rows)
	for _, col := range workbook.TallyColumns() {
		column := gridColumn{Field: col.Field, Name: col.Name, Class: gridWidth(col.Field)}
		switch col.Field {
		case "length":
			column.Unit = string(d.Yardage())
		case "width":
			column.Unit = string(d.Unit)
		}
		page.Columns = append(page.Columns, column)
	}
	for n := 1; n <= rows; n++ {
		row := gridRow{Number: n, Comes: page.comes[n], Notes: page.notes[n]}
		for _, col := range page.Columns {
			name := drive.TallyField(n, col.Field)
			cell := gridCell{Name: name, Label: fmt.Sprintf("Row %d, %s", n, col.Name), Value: typed[n][col.Field], Problem: page.Problems[name], Class: col.Class}
			if cell.Problem != "" {
				page.Wrong = append(page.Wrong, cell)
				delete(page.Problems, name)
			}
			row.Cells = append(row.Cells, cell)
		}
		page.Rows = append(page.Rows, row)
	}
	return s.page(c, status, page)
}

// gridWidth is how wide a column is.
func gridWidth(field string) string {
	switch field {
	case "tag", "pieces", "length", "width", "print", "washed", "shelf":
		return "few"
	case "turn", "fibre", "set_aside":
		return "some"
	}
	return "many"
}
