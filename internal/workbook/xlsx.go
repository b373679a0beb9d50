package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"path"
	"strconv"
	"strings"
)

// Workbooks are read by what follows and written by excelize. Its own reader ends
// without a word where a sheet breaks off, does not tell days from numbers, and
// gives merged cells only with the whole sheet in memory; here every part is
// walked once, as a stream, under the limits below.

// What a workbook may hold besides the limits of every file.
const (
	maxParts   = 2_000
	maxTexts   = 2_000_000 // in the table of shared texts
	maxWalked  = 5_000_000 // cells, the empty ones and those left out before others included
	maxSaid    = 32 << 20  // bytes in all cells, a shared text counted wherever it stands
	maxMerged  = 1_000_000 // cells that merged cells cover together
	maxXLSXRow = 1_048_576
)

// openXLSX reads every visible sheet, values as they are kept and not as they
// are shown, so that no display format rounds a length. A number shown as a day
// becomes that day: 2026-10-24.
func openXLSX(content []byte) (*Book, error) {
	x, err := newXLSX(content)
	if err != nil {
		return nil, err
	}
	book, err := x.book()
	switch {
	case errors.Is(err, errUnpacksTooFar):
		return nil, refuse("The file unpacks to more than 64 MiB. Keep one table of it and save that as CSV.")
	case errors.Is(err, errBroken):
		return nil, refuse("The file is damaged or is no spreadsheet. Open it, save it again as .xlsx or CSV, and try once more.")
	case err != nil:
		return nil, err
	case len(book.Grids) == 0:
		return nil, refuse("There is nothing in the file.")
	}
	return book, nil
}

// xlsx is a workbook being read.
type xlsx struct {
	parts    map[string]*zip.File
	left     int64 // bytes that may still be unpacked
	walked   int   // cells so far
	said     int   // bytes in them
	merged   int   // cells that merged ones cover
	texts    []string
	dates    []bool // by style: whether it shows a day or a time
	days1904 bool   // days are counted from 1904
}

// newXLSX looks at what the file says it unpacks to before anything is unpacked,
// and tells other kinds of file by their parts.
func newXLSX(content []byte) (*xlsx, error) {
	z, err := zip.NewReader(bytes.NewReader(content), int64(len(content)))
	if err != nil || len(z.File) > maxParts {
		return nil, refuse("The file is damaged or is no spreadsheet. Open it, save it again as .xlsx or CSV, and try once more.")
	}
	x := &xlsx{parts: make(map[string]*zip.File, len(z.File)), left: maxUnzip}
	var size uint64
	for _, f := range z.File {
		if size += f.UncompressedSize64; f.UncompressedSize64 > maxUnzip || size > maxUnzip {
			return nil, refuse("The file unpacks to more than 64 MiB. Keep one table of it and save that as CSV.")
		}
		x.parts[partName(f.Name)] = f
	}
	switch {
	case x.parts["content.xml"] != nil && x.parts["mimetype"] != nil:
		return nil, refuse("This is an OpenDocument file. Save it as .xlsx or as CSV.")
	case x.parts["xl/workbook.bin"] != nil:
		return nil, refuse("This is a spreadsheet in a binary form. Save it as .xlsx or as CSV.")
	case x.parts["xl/workbook.xml"] == nil && x.parts["_rels/.rels"] == nil:
		return nil, refuse("This is no spreadsheet that can be read here. Save it as .xlsx or as CSV.")
	}
	return x, nil
}

// hold counts what is kept of the sheets, all of them together.
func (x *xlsx) hold(cells, bytes int) error {
	x.walked += cells
	x.said += bytes
	switch {
	case x.walked > maxWalked:
		return refuse("The file has more than 5 million cells, most of them empty. Keep one table of it and save that as CSV.")
	case x.said > maxSaid:
		return refuse("The cells hold more than 32 MiB of text together. Keep the columns that matter and save them as CSV.")
	}
	return nil
}

func partName(name string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(name, `\`, "/"), "/"))
}

// open gives a part as a stream, counted against what may still be unpacked.
func (x *xlsx) open(name string) (*xmlWalk, io.Closer, error) {
	f := x.parts[partName(name)]
	if f == nil {
		return nil, nil, errBroken
	}
	part, err := f.Open()
	if err != nil {
		return nil, nil, errBroken
	}
	return newXMLWalk(&guard{from: part, left: &x.left}), part, nil
}

// each walks a part element by element.
func (x *xlsx) each(name string, visit func(w *xmlWalk) error) error {
	w, part, err := x.open(name)
	if err != nil {
		return err
	}
	defer part.Close()
	for {
		err := w.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := visit(w); err != nil {
			return err
		}
	}
}

// sheetPart is a sheet's name and where it lies.
type sheetPart struct{ name, part string }

func (x *xlsx) book() (*Book, error) {
	sheets, rels, err := x.contents()
	if err != nil {
		return nil, err
	}
	for kind, read := range map[string]func(string) error{"/sharedStrings": x.readTexts, "/styles": x.readStyles} {
		for _, r := range rels {
			if strings.HasSuffix(r.kind, kind) {
				if err := read(r.target); err != nil {
					return nil, err
				}
			}
		}
	}
	book := &Book{}
	for _, s := range sheets {
		g := Grid{Name: s.name}
		if err := x.readSheet(&g, s.part); err != nil {
			return nil, err
		}
		if len(g.Lines) > 0 || g.trouble != nil {
			book.Grids = append(book.Grids, g)
		}
	}
	return book, nil
}

// relation names a part of the workbook.
type relation struct{ kind, target string }

// contents finds the workbook, its visible sheets in order, and its other parts.
func (x *xlsx) contents() ([]sheetPart, map[string]relation, error) {
	main := "xl/workbook.xml"
	if x.parts["_rels/.rels"] != nil {
		rels, err := x.relations("_rels/.rels", "")
		if err != nil {
			return nil, nil, err
		}
		for _, r := range rels {
			if strings.HasSuffix(r.kind, "/officeDocument") {
				main = r.target
			}
		}
	}
	dir, base := path.Split(main)
	rels, err := x.relations(dir+"_rels/"+base+".rels", dir)
	if err != nil {
		return nil, nil, err
	}
	var sheets []sheetPart
	err = x.each(main, func(w *xmlWalk) error {
		switch {
		case w.opens("workbookPr"):
			x.days1904 = w.attr("date1904") == "1" || w.attr("date1904") == "true"
		case w.opens("sheet") && !strings.Contains(strings.ToLower(w.attr("state")), "hidden"):
			r, ok := rels[w.attr("id")]
			if ok && strings.HasSuffix(r.kind, "/worksheet") {
				sheets = append(sheets, sheetPart{w.attr("name"), r.target})
			}
		}
		return nil
	})
	return sheets, rels, err
}

func (x *xlsx) relations(name, dir string) (map[string]relation, error) {
	rels := map[string]relation{}
	err := x.each(name, func(w *xmlWalk) error {
		if w.opens("Relationship") && w.attr("TargetMode") != "External" {
			target := w.attr("Target")
			if !strings.HasPrefix(target, "/") {
				target = path.Join(dir, target)
			}
			rels[w.attr("Id")] = relation{w.attr("Type"), strings.TrimPrefix(target, "/")}
		}
		return nil
	})
	return rels, err
}

// readTexts reads the table of texts that cells refer to: of rich text its
// letters, and nothing of how they are read aloud.
func (x *xlsx) readTexts(name string) error {
	var text strings.Builder
	aloud := false
	return x.each(name, func(w *xmlWalk) error {
		switch {
		case w.opens("si"):
			text.Reset()
		case w.opens("rPh"):
			aloud = true
		case w.closes("rPh"):
			aloud = false
		case w.within("t") && !aloud && text.Len() <= maxCell:
			text.Write(w.text())
		case w.closes("si"):
			if len(x.texts) == maxTexts {
				return errBroken
			}
			x.texts = append(x.texts, unescaped(text.String()))
		}
		return nil
	})
}

// readStyles finds the styles that show a number as a day or a time.
func (x *xlsx) readStyles(name string) error {
	formats := map[string]bool{}
	styles := false
	return x.each(name, func(w *xmlWalk) error {
		switch {
		case w.opens("numFmt"):
			formats[w.attr("numFmtId")] = showsDay(w.attr("formatCode"))
		case w.opens("cellXfs"):
			styles = true
		case w.closes("cellXfs"):
			styles = false
		case styles && w.opens("xf"):
			id := w.attr("numFmtId")
			shows, own := formats[id]
			x.dates = append(x.dates, own && shows || !own && builtInDay(id))
		}
		return nil
	})
}

// builtInDay says whether a format that every spreadsheet knows by its number
// shows a day or a time (ECMA-376 part 1, 18.8.30; 27 to 58 are those of eastern
// languages).
func builtInDay(id string) bool {
	n, err := strconv.Atoi(id)
	return err == nil && (n >= 14 && n <= 22 || n >= 27 && n <= 36 || n >= 45 && n <= 47 || n >= 50 && n <= 58)
}

// showsDay says whether a format holds letters for days or times outside quotes,
// brackets and escapes.
func showsDay(format string) bool {
	for i := 0; i < len(format); i++ {
		switch c := format[i]; c {
		case '"':
			end := strings.IndexByte(format[i+1:], '"')
			if end < 0 {
				return false
			}
			i += end + 1
		case '[':
			end := strings.IndexByte(format[i:], ']')
			if end < 0 {
				return false
			}
			i += end
		case '\\', '_', '*':
			i++
		case 'y', 'Y', 'm', 'M', 'd', 'D', 'h', 'H', 's', 'S':
			return true
		}
	}
	return false
}
