package workbook

import (
	"fmt"
	"io"
	"strings"

	"boltward/internal/drive"

	"github.com/xuri/excelize/v2"
)

// blankRows is how many rows of a blank table are checked while they are filled in.
const blankRows = 5_000

// blankColumn is one column of a blank table.
type blankColumn struct {
	field
	heading string
	help
}

// WriteBlank writes a blank table for a list of this kind: the headings that Read
// understands, in the drive's units; cells that stay text, so that no spreadsheet
// makes a day of a length; lists to choose from, and limits that are the ones of
// the drive. sizes are the names of the drive's sizes. A second sheet says what
// belongs where.
func WriteBlank(w io.Writer, kind drive.BringKind, d drive.Drive, sizes []string) error {
	book, err := newBook()
	if err != nil {
		return err
	}
	defer book.close()
	columns := blankColumns(kind, d, sizes)
	name := map[drive.BringKind]string{drive.BringFabric: "Fabric", drive.BringPeople: "People", drive.BringAsked: "Asked for", drive.BringDonors: "Donors"}[kind]
	if err := blankSheet(book, name, columns); err != nil {
		return fmt.Errorf("blank table: %w", err)
	}
	if err := helpSheet(book, columns, listFor(kind).need); err != nil {
		return fmt.Errorf("blank table: %w", err)
	}
	return book.write(w)
}

func blankColumns(kind drive.BringKind, d drive.Drive, sizes []string) []blankColumn {
	var columns []blankColumn
	for _, f := range listFor(kind).fields {
		h, ok := helpFor(kind, f.name)
		if !ok {
			continue // a unit stands in the heading, a direction is told by how it lies
		}
		c := blankColumn{field: f, heading: f.heads[0], help: h}
		switch {
		case f.name == "length":
			c.heading += fmt.Sprintf(" (%s)", d.Yardage())
		case f.sized:
			c.heading += fmt.Sprintf(" (%s)", d.Unit)
		case f.name == "sizes":
			c.choices = sizes
		}
		columns = append(columns, c)
	}
	return columns
}

func blankSheet(book *bookFile, name string, columns []blankColumn) error {
	sheet, err := book.sheet(name)
	if err != nil {
		return err
	}
	if err := sheet.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	asText, asDay := "@", dayFormat
	text, err := book.x.NewStyle(&excelize.Style{CustomNumFmt: &asText})
	if err != nil {
		return err
	}
	day, err := book.x.NewStyle(&excelize.Style{CustomNumFmt: &asDay})
	if err != nil {
		return err
	}
	head := make([]any, len(columns))
	for i, c := range columns {
		head[i] = excelize.Cell{StyleID: book.head, Value: c.heading}
		if err := sheet.SetColWidth(i+1, i+1, max(float64(len(c.heading))+3, c.width)); err != nil {
			return err
		}
		style := text
		switch c.limit {
		case aDay:
			style = day
		case aCount:
			continue
		}
		if err := sheet.SetColStyle(i+1, i+1, style); err != nil {
			return err
		}
	}
	if err := sheet.SetRow("A1", head); err != nil {
		return err
	}
	// What is checked belongs to the sheet before it is written to its end.
	for i, c := range columns {
		if err := c.check(book.x, name, strings.ToUpper(columnLetter(i))); err != nil {
			return fmt.Errorf("%s: %w", c.heading, err)
		}
	}
	return sheet.Flush()
}

// check has the spreadsheet check a column as it is filled in.
func (c blankColumn) check(x *excelize.File, sheet, letter string) error {
	v := excelize.NewDataValidation(true)
	v.SetSqref(fmt.Sprintf("%s2:%s%d", letter, letter, blankRows+1))
	var err error
	const mostChoices = 250 // characters, less than a spreadsheet takes
	switch list := strings.Join(c.choices, ","); {
	case len(c.choices) > 0 && len(list) < mostChoices && !strings.Contains(strings.Join(c.choices, ""), ","):
		err = v.SetDropList(c.choices)
	case c.limit == aCount:
		err = v.SetRange(c.least, c.most, excelize.DataValidationTypeWhole, excelize.DataValidationOperatorBetween)
	case c.limit == aDay:
		// From 2000 to 2099, as spreadsheets count days.
		err = v.SetRange(36526, 73050, excelize.DataValidationTypeDate, excelize.DataValidationOperatorBetween)
	case c.limit == onlyOnce:
		v.Type, v.Formula1 = "custom", fmt.Sprintf("COUNTIF($%s:$%s,%s2)=1", letter, letter, letter)
	case c.most > 0:
		err = v.SetRange(0, c.most, excelize.DataValidationTypeTextLength, excelize.DataValidationOperatorBetween)
	default:
		return nil
	}
	if err != nil {
		return err
	}
	v.SetInput(c.heading, short(c.text, 250))
	style := excelize.DataValidationErrorStyleStop
	if c.loose {
		style = excelize.DataValidationErrorStyleInformation
	}
	v.SetError(style, c.heading, short(c.text, 220))
	return x.AddDataValidation(sheet, v)
}

func helpSheet(book *bookFile, columns []blankColumn, need []string) error {
	sheet, err := book.sheet("How to fill it in")
	if err != nil {
		return err
	}
	for i, width := range []float64{26, 12, 90, 26} {
		if err := sheet.SetColWidth(i+1, i+1, width); err != nil {
			return err
		}
	}
	wrap, err := book.x.NewStyle(&excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return err
	}
	row := func(at, style int, cells ...string) error {
		out := make([]any, len(cells))
		for i, c := range cells {
			out[i] = excelize.Cell{StyleID: style, Value: c}
		}
		return sheet.SetRow(fmt.Sprintf("A%d", at), out)
	}
	if err := row(1, book.head, "Under this heading", "Needed", "Belongs", "For example"); err != nil {
		return err
	}
	for i, c := range columns {
		needed := ""
		for _, n := range need {
			if n == c.name {
				needed = "yes"
			}
		}
		if err := row(i+2, wrap, c.heading, needed, c.text, c.example); err != nil {
			return err
		}
	}
	return sheet.Flush()
}
