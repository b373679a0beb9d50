package paper

import (
	"fmt"
	"io"
	"time"

	"boltward/internal/drive"
)

// grid is slips or tags of one size that are cut apart, row by row.
type grid struct {
	*document
	paper         Sheet
	columns, rows int
	n             int
}

// next gives the place of the next one, on a new sheet where the last is full.
func (g *grid) next() (x, y, w, h float64) {
	const edge = 8.0
	place := g.n % (g.columns * g.rows)
	if place == 0 {
		g.sheet(g.paper.Width, g.paper.Height)
	}
	g.n++
	w, h = (mm(g.paper.Width)-2*edge)/float64(g.columns), (mm(g.paper.Height)-2*edge)/float64(g.rows)
	x, y = edge+float64(place%g.columns)*w, edge+float64(place/g.columns)*h
	g.cutLines(x, y, w, h)
	g.pdf.SetDashPattern([]float64{}, 0)
	g.pdf.SetTextColor(0, 0, 0)
	return x, y, w, h
}

// BundleSlips draws a slip for each bundle of the sheets, to pin to it: which kit it
// goes to, what it is and where it comes from. The code opens the kit.
func BundleSlips(w io.Writer, d drive.Drive, base string, s Sheet, sheets []drive.CutSheet, at time.Time) error {
	doc, err := newDocument(d.Name+": bundle slips", at)
	if err != nil {
		return err
	}
	g := grid{document: doc, paper: s, columns: 2, rows: 7}
	for _, b := range drive.Bundles(sheets) {
		x, y, wide, high := g.next()
		c, err := codeFor(Address(base, d.ID, drive.CodeKit, b.Kit.String()), high-6)
		if err != nil {
			return err
		}
		side := float64(c.Size+2*quietZone) * c.module
		doc.draw(c, x+wide-side-2, y+(high-side)/2)
		room := wide - side - 8
		doc.say(x+4, y+7, sheetSmall, "Kit")
		number := doc.largest(b.Kit.String(), room*0.5, 10)
		doc.say(x+11, y+14, number, b.Kit.String())
		line := y + 14
		for _, l := range []struct {
			t     text
			words string
		}{
			{text{points: 11, bold: true}, bundleWords(b)},
			{sheetSmall, fmt.Sprintf("Sheet %s: %s", b.Sheet, drive.Ranges(b.Panels))},
			{sheetSmall, "Lot " + b.Cloth + ", " + b.Looks},
			{sheetSmall, forWhom(b)},
		} {
			line += l.t.line()
			doc.say(x+4, line, l.t, doc.fitted(l.t, l.words, room))
		}
	}
	return doc.write(w)
}

// LargeTags draws tags that are read across a room: a place on the table for each kit
// of the sheets, and a label for each remnant that they leave.
func LargeTags(w io.Writer, d drive.Drive, base string, s Sheet, sheets []drive.CutSheet, at time.Time) error {
	doc, err := newDocument(d.Name+": large tags", at)
	if err != nil {
		return err
	}
	g := grid{document: doc, paper: s, columns: 2, rows: 4}
	for _, kit := range drive.BundlesByKit(sheets) {
		b := kit[0]
		if err := g.tag(base, d.ID, drive.CodeKit, b.Kit.String(), "Kit", b.Kit.String(), forWhom(b)); err != nil {
			return err
		}
	}
	for _, sheet := range sheets {
		for _, r := range sheet.Remnants {
			number := fmt.Sprintf("%d-%d", sheet.Lot, r.Label)
			size := drive.OnTape(r.W, d.Unit) + " × " + drive.OnTape(r.H, d.Unit)
			if sheet.Shelf != "" {
				size += ", shelf " + sheet.Shelf
			}
			if err := g.tag(base, d.ID, drive.CodePiece, number, "Remnant", drive.ClothID(sheet.Lot, r.Label), size); err != nil {
				return err
			}
		}
	}
	return doc.write(w)
}

// tag draws one: what it is, its number as large as it goes, a line about it, its code.
func (g *grid) tag(base, driveID string, kind drive.CodeKind, code, what, number, about string) error {
	x, y, w, h := g.next()
	const pad, side = 5.0, 26.0
	c, err := codeFor(Address(base, driveID, kind, code), side)
	if err != nil {
		return err
	}
	g.draw(c, x+w-side-pad, y+h-side-pad)
	g.say(x+pad, y+pad+4, sheetHeading, what)
	big := g.largest(number, w-2*pad, 26)
	// A long number reaches over the code, which would not be read with a digit in it.
	g.say(x+(w-g.width(big, number))/2, y+min(pad+33, h-side-pad-1), big, number)
	line := y + h - side
	for _, words := range g.wrapped(sheetBody, about, w-side-2*pad-2) {
		line += sheetBody.line()
		if line < y+h-2 {
			g.say(x+pad, line, sheetBody, words)
		}
	}
	return nil
}
