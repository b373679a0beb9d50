package workbook

import (
	"archive/zip"
	"compress/flate"
	"fmt"
	"io"
	"unicode"

	"github.com/xuri/excelize/v2"
)

const dayFormat = "yyyy-mm-dd"

// Papers as spreadsheets number them (ECMA-376, pageSetup).
const (
	paperLetter = 1
	paperA4     = 9
)

// bookFile is a workbook being written sheet by sheet.
type bookFile struct {
	x            *excelize.File
	styles       map[styleOf]int
	title        int
	head         int
	headOfWords  int // in lists, where a column of amounts may stand before it
	headOfCounts int
	footer       string // printed under every sheet
	paper        int    // as spreadsheets number them: 9 is A4, 1 Letter
	began        bool
}

// styleOf is what the cells of one style have in common.
type styleOf struct {
	format string
	right  bool
	total  bool
	small  bool // quiet, for remarks
	indent bool // away from the amounts before it
}

func newBook() (*bookFile, error) {
	f := &bookFile{x: excelize.NewFile(), styles: map[styleOf]int{}, paper: paperA4}
	var err error
	if f.title, err = f.x.NewStyle(&excelize.Style{Font: face(excelize.Font{Bold: true, Size: 16, Color: "1E5C76"})}); err != nil {
		return nil, fmt.Errorf("books: %w", err)
	}
	for _, head := range []struct {
		style  *int
		side   string
		indent int
	}{{&f.head, "left", 0}, {&f.headOfWords, "left", 1}, {&f.headOfCounts, "right", 0}} {
		*head.style, err = f.x.NewStyle(&excelize.Style{
			Font:      face(excelize.Font{Bold: true}),
			Alignment: &excelize.Alignment{WrapText: true, Vertical: "top", Horizontal: head.side, Indent: head.indent},
			Border:    []excelize.Border{{Type: "bottom", Style: 3, Color: "8C8373"}},
		})
		if err != nil {
			return nil, fmt.Errorf("books: %w", err)
		}
	}
	return f, nil
}

// face is a font in the typeface of the cells that say nothing of it.
func face(f excelize.Font) *excelize.Font {
	f.Family = "Calibri"
	if f.Size == 0 {
		f.Size = 11
	}
	return &f
}

// style gives the style of cells, made once.
func (f *bookFile) style(of styleOf) (int, error) {
	if id, made := f.styles[of]; made {
		return id, nil
	}
	s := &excelize.Style{Alignment: &excelize.Alignment{Horizontal: "left", Vertical: "top"}}
	if of.format != "" {
		s.CustomNumFmt = &of.format
	}
	if of.right {
		s.Alignment.Horizontal = "right"
	}
	if of.total {
		s.Font = face(excelize.Font{Bold: true})
		s.Border = []excelize.Border{{Type: "top", Style: 1, Color: "23272C"}}
	}
	if of.indent {
		s.Alignment.Indent = 1
	}
	if of.small {
		s.Font = face(excelize.Font{Color: "5A6068", Size: 10})
	}
	id, err := f.x.NewStyle(s)
	if err != nil {
		return 0, fmt.Errorf("books: %w", err)
	}
	f.styles[of] = id
	return id, nil
}

// sheet adds a sheet; the workbook's first one is there already and is renamed. It
// prints on its side, as wide as the paper.
func (f *bookFile) sheet(name string) (*excelize.StreamWriter, error) {
	var err error
	if !f.began {
		f.began = true
		err = f.x.SetSheetName("Sheet1", name)
	} else {
		_, err = f.x.NewSheet(name)
	}
	if err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	landscape, wide, tall := "landscape", 1, 0
	if err := f.x.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &landscape, FitToWidth: &wide, FitToHeight: &tall, Size: &f.paper}); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	fit := true
	if err := f.x.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	if f.footer != "" {
		if err := f.x.SetHeaderFooter(name, &excelize.HeaderFooterOptions{OddHeader: "&L&A", OddFooter: f.footer}); err != nil {
			return nil, fmt.Errorf("sheet %s: %w", name, err)
		}
	}
	stream, err := f.x.NewStreamWriter(name)
	if err != nil {
		return nil, fmt.Errorf("sheet %s: %w", name, err)
	}
	return stream, nil
}

// write packs the workbook as it goes, so that no second copy of it is held. Sheets
// are text that repeats itself: the fastest packing is nearly as small.
func (f *bookFile) write(w io.Writer) error {
	full := true
	if err := f.x.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: &full}); err != nil {
		return fmt.Errorf("books: %w", err)
	}
	f.x.SetZipWriter(func(io.Writer) excelize.ZipWriter {
		packed := zip.NewWriter(w)
		packed.RegisterCompressor(zip.Deflate, func(to io.Writer) (io.WriteCloser, error) { return flate.NewWriter(to, flate.BestSpeed) })
		return packed
	})
	if _, err := f.x.WriteTo(io.Discard); err != nil {
		return fmt.Errorf("books: %w", err)
	}
	return nil
}

func (f *bookFile) close() {
	// Only temporary files of long sheets are removed here; the books are written by then.
	_ = f.x.Close()
}

// capital gives a word with its first letter large, as headings have it.
func capital(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	r[0] = unicode.ToUpper(r[0])
	return string(r)
}
