package paper

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/words"
)

// How a delivery note is set.
var (
	noteTitle  = text{points: 18, bold: true}
	noteBody   = text{points: 10.5}
	noteTotal  = text{points: 12, bold: true}
	noteSign   = 30.0 // the least room to sign in, in millimetres
	noteSquare = 30.0 // the side of a code
)

// NoteFacts makes the facts of a delivery note, from which its words come; a day is written
// as l writes it.
func NoteFacts(d drive.Drive, n drive.DeliveryNote, l words.Language) words.NoteFacts {
	f := words.NoteFacts{
		Number: n.Number, Drive: d.Name, To: n.Recipient.Name, Contact: n.Recipient.Contact, CarriedBy: n.CarriedBy, Note: n.Note,
		Cases: n.Cases(), Boxes: n.Boxes(),
	}
	for _, rule := range n.Recipient.Rules {
		// One that a box goes without stands below, with the reason.
		if !slices.ContainsFunc(n.Overrides, func(o drive.NoteOverride) bool { return o.Rule == rule }) {
			f.Rules = append(f.Rules, rule)
		}
	}
	if n.SentOn != nil {
		f.Sent = l.Date(*n.SentOn)
	}
	for _, t := range n.BySize() {
		f.Sizes = append(f.Sizes, words.NoteCount{N: t.N, What: t.What})
	}
	themes := n.ByTheme()
	for _, t := range themes {
		if t.What == "" && len(themes) == 1 {
			break // nothing is known of any
		}
		f.Themes = append(f.Themes, words.NoteCount{N: t.N, What: t.What})
	}
	for _, o := range n.Overrides {
		f.Overrides = append(f.Overrides, words.NoteOverride{Box: o.Box, Rule: o.Rule, Reason: o.Reason})
	}
	return f
}

// DeliveryNote draws the paper that goes with a delivery: what is in each box, by size
// and theme, to be counted and signed. base is what every code begins with; own is the
// address of the recipient's own page, empty where there is none.
func DeliveryNote(w io.Writer, d drive.Drive, base, own string, s Sheet, n drive.DeliveryNote, at time.Time) error {
	lang := words.In("en")
	said := lang.DeliveryNote(NoteFacts(d, n, lang))
	doc, err := newDocument(d.Name+": "+said.Title, at)
	if err != nil {
		return err
	}
	c := said.Columns
	l := &listSheet{document: doc, paper: s, title: said.Title + ", " + n.Recipient.Name, columns: []listColumn{
		{c.Box, 14}, {c.Size, 38}, {c.Theme, 46}, {c.Cases, 24}, {c.Packed, 32}, {c.Arrived, 24},
	}}
	if err := l.noteHead(d, base, own, said, n.Number); err != nil {
		return err
	}
	l.heads()
	other := said.Other
	if themes := n.ByTheme(); len(themes) == 1 && themes[0].What == "" {
		other = "–" // other than what, where nothing is known of any
	}
	box := int64(0)
	for _, r := range n.Rows {
		number, packed := "", ""
		if r.Box != box {
			number, packed = fmt.Sprint(r.Box), initials(r)
		}
		l.row(r.Box != box, number, r.Size, cmp.Or(r.Theme, other), fmt.Sprint(r.N), packed, "________")
		box = r.Box
	}
	l.rule(0.4)
	l.y += 2
	for i, line := range said.Totals {
		t := noteBody
		if i == 0 {
			t = noteTotal
		}
		l.paragraph(t, line)
	}
	l.noteEnd(said)
	return doc.write(w)
}

func initials(r drive.NoteRow) string {
	return strings.Trim(r.PackedBy+", "+r.CheckedBy, ", ")
}

// noteHead begins the first sheet: what it is, from whom, to whom, and its codes.
func (l *listSheet) noteHead(d drive.Drive, base, own string, said words.Note, number int64) error {
	l.pages++
	l.sheet(l.paper.Width, l.paper.Height)
	l.pdf.SetTextColor(0, 0, 0)
	l.pdf.SetDrawColor(0, 0, 0)
	right := mm(l.paper.Width) - sheetEdge
	codes := []struct{ address, words string }{{Address(base, d.ID, drive.CodeDelivery, fmt.Sprint(number)), said.Code}}
	if own != "" {
		codes = append(codes, struct{ address, words string }{own, said.Own})
	}
	bottom := sheetEdge
	for _, one := range codes {
		c, err := codeFor(one.address, noteSquare)
		if err != nil {
			return err
		}
		right -= noteSquare
		l.document.draw(c, right, sheetEdge)
		y := sheetEdge + noteSquare
		for _, line := range l.wrapped(sheetSmall, one.words, noteSquare-2) {
			y += sheetSmall.line()
			l.say(right+1.5, y, sheetSmall, line)
		}
		bottom, right = max(bottom, y), right-5
	}
	l.y = sheetEdge + 8
	l.say(sheetEdge, l.y, noteTitle, said.Title)
	l.y += 3
	for _, words := range said.Lines {
		for _, line := range l.wrapped(noteBody, words, right-sheetEdge) {
			l.y += noteBody.line()
			l.say(sheetEdge, l.y, noteBody, line)
		}
	}
	l.y = max(l.y, bottom) + 10
	return nil
}

// noteEnd writes the rules, the cautions and the lines to sign, on a further sheet where
// there is no room.
func (l *listSheet) noteEnd(said words.Note) {
	for _, part := range []struct {
		title string
		lines []string
	}{{said.RulesTitle, said.Rules}, {said.Kept, said.Overrides}} {
		if len(part.lines) == 0 {
			continue
		}
		l.y += 2
		l.paragraph(sheetBold, part.title)
		for _, line := range part.lines {
			l.paragraph(sheetBody, "– "+line)
		}
	}
	l.y += 2
	for _, line := range said.Care {
		l.paragraph(sheetBody, line)
	}
	l.keep(noteSign)
	l.y += 8
	l.paragraph(noteTotal, said.Sign)
	wide := mm(l.paper.Width) - 2*sheetEdge
	l.y += 12
	x := sheetEdge
	l.pdf.SetLineWidth(0.3)
	for i, share := range []float64{0.4, 0.36, 0.24} {
		room := wide * share
		l.pdf.Line(x, l.y, x+room-5, l.y)
		l.say(x, l.y+sheetSmall.line(), sheetSmall, said.Signed[i])
		x += room
	}
}

// keep goes on to a further sheet where less than this is left.
func (l *listSheet) keep(high float64) {
	if l.y+high > mm(l.paper.Height)-sheetEdge {
		l.begin()
		l.y += 4
	}
}

// paragraph writes words over as many lines as they need.
func (l *listSheet) paragraph(t text, words string) {
	for _, line := range l.wrapped(t, words, mm(l.paper.Width)-2*sheetEdge) {
		l.keep(t.line() + 1)
		l.y += t.line()
		l.say(sheetEdge, l.y, t, line)
	}
}
