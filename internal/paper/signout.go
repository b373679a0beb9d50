package paper

import (
	"fmt"
	"io"
	"time"

	"boltward/internal/drive"
)

// SignOutKit is a kit that can be taken, as a row of a sign-out sheet has it.
type SignOutKit struct {
	Number string
	What   string // how many of which size
	For    string
}

func signOutColumns() []tallyColumn {
	return []tallyColumn{
		{"Row", 4},
		{"Kit", 8},
		{"What is in it", 20},
		{"Taken by: name, or group", 25},
		{"Taken on", 9},
		{"Back by", 9},
		{"Signed", 11},
		{"Came back: sewn, day", 14},
	}
}

// SignOut draws sheets on which whoever takes a kit writes their name, for a hall
// without network: the kits that lie here first, then free rows, numbered on from
// sheet to sheet as the page that types them in has them.
func SignOut(w io.Writer, d drive.Drive, s Sheet, kits []SignOutKit, free int, at time.Time) error {
	doc, err := newDocument("Sign-out sheet of "+d.Name, at)
	if err != nil {
		return err
	}
	rows := append(append([]SignOutKit{}, kits...), make([]SignOutKit, free)...)
	sheets := (len(rows) + drive.SignOutRows - 1) / drive.SignOutRows
	for n := range sheets {
		doc.signOutSheet(d, s, rows[n*drive.SignOutRows:min((n+1)*drive.SignOutRows, len(rows))], n, sheets)
	}
	return doc.write(w)
}

func (d *document) signOutSheet(of drive.Drive, s Sheet, rows []SignOutKit, n, sheets int) {
	// The sheet lies on its side.
	d.sheet(s.Height, s.Width)
	const edge = 11.0
	wide, high := mm(s.Height)-2*edge, mm(s.Width)-2*edge
	d.pdf.SetTextColor(0, 0, 0)
	d.pdf.SetDrawColor(0, 0, 0)
	title, small, heading := text{points: 15, bold: true}, text{points: 9.5}, text{points: 8.5, bold: true}
	d.say(edge, edge+5, title, d.fittedOf(title, of.Name, "kits taken", wide*0.62))
	right := fmt.Sprintf("Sheet %d of %d", n+1, sheets)
	d.say(edge+wide-d.width(small, right), edge+5, small, right)
	d.say(edge, edge+13, small, "Day ____________________   Place ______________________________   At the table ____________________   Typed in by ____________________")
	d.say(edge, edge+19, small, "A kit a row. Names as they stand in the list; somebody new gives no more than a name here, the desk asks for the rest. Of children write no names: write the school or group.")
	top, head := edge+23, 7.0
	row := (high - (top - edge) - head) / drive.SignOutRows
	var all float64
	for _, c := range signOutColumns() {
		all += c.share
	}
	x := edge
	number := text{points: 14, bold: true}
	for i, c := range signOutColumns() {
		width := wide * c.share / all
		d.say(x+1, top+head-2, heading, d.fitted(heading, c.name, width-1.5))
		for k, kit := range rows {
			y := top + head + float64(k)*row + row/2 + 1.5
			switch i {
			case 0:
				d.say(x+1, y, small, fmt.Sprint(n*drive.SignOutRows+k+1))
			case 1:
				t := number
				if w := d.width(t, kit.Number); w > width-2 {
					t.points *= (width - 2) / w
				}
				d.say(x+1, y+0.5, t, kit.Number)
			case 2:
				d.say(x+1, y-1.8, small, d.fitted(small, kit.What, width-2))
				d.say(x+1, y+2.2, small, d.fitted(small, kit.For, width-2))
			}
		}
		if i > 0 {
			d.pdf.SetLineWidth(0.2)
			d.pdf.Line(x, top, x, top+head+float64(len(rows))*row)
		}
		x += width
	}
	for k := range len(rows) + 1 {
		y := top + head + float64(k)*row
		d.pdf.SetLineWidth(0.2)
		if k == 0 || k == len(rows) {
			d.pdf.SetLineWidth(0.5)
		}
		d.pdf.Line(edge, y, edge+wide, y)
	}
}
