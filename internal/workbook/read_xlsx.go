package workbook

import (
	"archive/zip"
	"bytes"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// openXLSX reads every visible sheet, values as they are kept and not as they
// are shown, so that no display format rounds a length.
func openXLSX(content []byte) (*Book, error) {
	if err := checkZip(content); err != nil {
		return nil, err
	}
	f, err := excelize.OpenReader(bytes.NewReader(content), excelize.Options{UnzipSizeLimit: maxUnzip, UnzipXMLSizeLimit: maxUnzip, RawCellValue: true})
	if err != nil {
		return nil, brokenXLSX()
	}
	defer f.Close()
	book := &Book{}
	for _, name := range f.GetSheetList() {
		if shown, err := f.GetSheetVisible(name); err != nil || !shown {
			continue
		}
		g := Grid{Name: name}
		if err := g.fill(f); err != nil {
			return nil, err
		}
		if len(g.Lines) > 0 {
			book.Grids = append(book.Grids, g)
		}
	}
	if len(book.Grids) == 0 {
		return nil, refuse("There is nothing in the file.")
	}
	return book, nil
}

// checkZip looks at what the file says it unpacks to, so that a bomb is told
// from a damaged file. The reader holds the same limit against what it really unpacks.
func checkZip(content []byte) error {
	z, err := zip.NewReader(bytes.NewReader(content), int64(len(content)))
	if err != nil {
		return brokenXLSX()
	}
	var size uint64
	sheets := false
	for _, f := range z.File {
		size += f.UncompressedSize64
		sheets = sheets || strings.EqualFold(f.Name, "xl/workbook.xml")
		if size > maxUnzip {
			return refuse("The file unpacks to more than 64 MiB. Keep one table of it and save that as CSV.")
		}
	}
	if !sheets {
		return refuse("This is no spreadsheet that can be read here. Save it as .xlsx or as CSV.")
	}
	return nil
}

func (g *Grid) fill(f *excelize.File) error {
	rows, err := f.Rows(g.Name)
	if err != nil {
		return brokenXLSX()
	}
	defer rows.Close()
	for number := 1; rows.Next(); number++ {
		cells, err := rows.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return brokenXLSX()
		}
		for i := range cells {
			cells[i] = tidyNumber(cells[i])
		}
		if err := g.add(number, cells); err != nil {
			return err
		}
	}
	if rows.Error() != nil {
		return brokenXLSX()
	}
	return nil
}

// tidyNumber gives a number as it was typed: spreadsheets keep 2.3 as
// 2.2999999999999998, which holds 15 digits truly and no more.
func tidyNumber(cell string) string {
	if len(cell) < 16 || strings.Trim(cell, "0123456789.eE+-") != "" || !strings.ContainsAny(cell, ".eE") {
		return cell
	}
	n, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return cell
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(n, 'g', 15, 64), 64)
	if err != nil {
		return cell
	}
	return strconv.FormatFloat(short, 'f', -1, 64)
}

// brokenXLSX tells a person what helps; what the reader stumbled over is its own affair.
func brokenXLSX() error {
	return refuse("The file is damaged or is no spreadsheet. Open it, save it again as .xlsx or CSV, and try once more.")
}
