package workbook

import (
	"fmt"
	"io"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/xuri/excelize/v2"
)

// The sheets of the books. Their names stand in formulas, so they hold no blanks or quotes.
const (
	sheetSummary    = "Summary"
	sheetAsked      = "Asked"
	sheetFabric     = "Fabric"
	sheetKits       = "Kits"
	sheetCases      = "Pillowcases"
	sheetDeliveries = "Deliveries"
	sheetNotes      = "Notes"
)

// caseColumns are the states of a pillowcase in the order of its way, those that
// count towards what was asked first.
var caseColumns = []drive.CaseState{
	drive.CasePlanned, drive.CaseCut, drive.CaseOut, drive.CaseSewn, drive.CaseToMend, drive.CaseGood, drive.CasePacked,
	drive.CaseDelivered, drive.CaseConfirmed, drive.CaseNotUsable, drive.CaseLost, drive.CaseWithdrawn, drive.CaseNotReceived,
}

// aliveColumns is how many of caseColumns count towards what was asked.
const aliveColumns = 9

// WriteBooks writes the books as a workbook: one sheet an account, and a summary
// whose totals are formulas over them. Every formula carries its value, so that
// a reader that does not calculate shows the same; programs that do calculate
// are asked to. Areas are square yards for a drive in inches, else square
// metres. What people wrote is text, never a formula.
func WriteBooks(w io.Writer, b drive.Books) error {
	book, err := newBook()
	if err != nil {
		return err
	}
	defer book.close()
	totals := bookSums(b)
	for _, sheet := range []func(*bookFile, drive.Books, sums) error{
		summarySheet, askedSheet, fabricSheet, kitsSheet, casesSheet, deliveriesSheet, notesSheet,
	} {
		if err := sheet(book, b, totals); err != nil {
			return err
		}
	}
	return book.write(w)
}

// sums are the values of the totals, worked out here as well, so that each
// formula can carry its own.
type sums struct {
	wanted               int
	states               map[drive.CaseState]int
	cameIn, good         int
	sent, confirmed      int
	opening, takenIn     length.Area
	recounted, cut       length.Area
	offcuts, given       length.Area
	closing, promised    length.Area
	kitsOut, casesOut    int
	kitsLate             int
	boxes, delivered     int
	arrived, notReceived int
}

func bookSums(b drive.Books) sums {
	s := sums{states: map[drive.CaseState]int{}}
	for _, l := range b.Asked {
		s.wanted += l.Wanted
		for state, n := range l.Counts {
			s.states[state] += n
		}
		s.cameIn += l.CameIn
		s.good += l.FoundGood
		s.sent += l.Sent
		s.confirmed += l.Confirmed
	}
	for _, l := range b.Fabric {
		s.opening += l.Opening
		s.takenIn += l.TakenIn
		s.recounted += l.Recounted
		s.cut += l.CutToKits
		s.offcuts += l.Offcuts
		s.given += l.GivenAway
		s.closing += l.Closing
		s.promised += l.Promised
	}
	for _, k := range b.Kits {
		if k.State == drive.KitOut {
			s.kitsOut++
			s.casesOut += k.Cases
			if k.Due != nil && k.Due.Before(b.To) {
				s.kitsLate++
			}
		}
	}
	for _, d := range b.Deliveries {
		s.boxes += d.Boxes
		s.delivered += d.Sent
		s.arrived += d.Confirmed
		s.notReceived += d.Missing
	}
	return s
}

func askedSheet(f *bookFile, b drive.Books, s sums) error {
	t, err := f.table(sheetAsked, []column{
		{"Line", 7, ""},
		{"Recipient", 30, ""},
		{"Size", 16, ""},
		{"Due", 12, dayFormat},
		{"Matters", 16, ""},
		{"Asked for", 11, countFormat},
		{"Delivered", 11, countFormat},
		{"Good", 9, countFormat},
		{"Came back", 11, countFormat},
		{"With volunteers", 15, countFormat},
		{"Planned or cut", 14, countFormat},
		{"Still missing", 13, countFormat},
	})
	if err != nil {
		return err
	}
	missing := 0
	for _, l := range b.Asked {
		if l.Number == 0 {
			continue
		}
		st := l.Counts.Standing(l.Wanted)
		row := t.next()
		formula := fmt.Sprintf("MAX(0,F%d-SUM(G%d:K%d))", row, row, row)
		left := max(0, l.Wanted-l.Counts.Alive())
		missing += left
		if err := t.row(l.Number, text(l.Recipient), text(l.Size), day(l.Due), text(l.Matter), l.Wanted,
			st.Delivered, st.Good, st.Back, st.Out, st.Planned, calc(formula, left)); err != nil {
			return err
		}
	}
	totals := []any{"Together", nil, nil, nil, nil, t.sum("F", s.wanted)}
	for i, states := range [][]drive.CaseState{
		{drive.CaseDelivered, drive.CaseConfirmed}, {drive.CaseGood, drive.CasePacked}, {drive.CaseSewn, drive.CaseToMend}, {drive.CaseOut}, {drive.CasePlanned, drive.CaseCut},
	} {
		n := 0
		for _, l := range b.Asked {
			if l.Number != 0 {
				n += l.Counts.Sum(states...)
			}
		}
		totals = append(totals, t.sum(string(rune('G'+i)), n))
	}
	return t.end(append(totals, t.sum("L", missing))...)
}

func fabricSheet(f *bookFile, b drive.Books, s sums) error {
	unit, area := areaIn(b.Drive)
	t, err := f.table(sheetFabric, []column{
		{"Lot", 7, ""},
		{"Tag", 9, ""},
		{"Given by", 26, ""},
		{"Cloth", 40, ""},
		{"Shelf", 8, ""},
		{"Received", 12, dayFormat},
		{"Opening " + unit, 13, areaFormat},
		{"In " + unit, 11, areaFormat},
		{"Recounted " + unit, 15, areaFormat},
		{"Cut for kits " + unit, 17, areaFormat},
		{"Offcuts and wash " + unit, 20, areaFormat},
		{"Given or thrown away " + unit, 24, areaFormat},
		{"Closing " + unit, 13, areaFormat},
		{"of it promised " + unit, 18, areaFormat},
	})
	if err != nil {
		return err
	}
	for _, l := range b.Fabric {
		row := t.next()
		closing := fmt.Sprintf("G%d+H%d+I%d-J%d-K%d-L%d", row, row, row, row, row, row)
		received := l.Received
		if err := t.row(l.Lot, text(l.Tag), text(l.Donor), text(l.Cloth), text(l.Shelf), day(&received),
			area(l.Opening), area(l.TakenIn), area(l.Recounted), area(l.CutToKits), area(l.Offcuts), area(l.GivenAway),
			calc(closing, area(l.Closing)), area(l.Promised)); err != nil {
			return err
		}
	}
	return t.end("Together", nil, nil, nil, nil, nil, t.sum("G", area(s.opening)), t.sum("H", area(s.takenIn)), t.sum("I", area(s.recounted)),
		t.sum("J", area(s.cut)), t.sum("K", area(s.offcuts)), t.sum("L", area(s.given)), t.sum("M", area(s.closing)), t.sum("N", area(s.promised)))
}

func kitsSheet(f *bookFile, b drive.Books, s sums) error {
	t, err := f.table(sheetKits, []column{
		{"Kit", 9, ""},
		{"For", 30, ""},
		{"Size", 16, ""},
		{"Pillowcases", 12, countFormat},
		{"Where", 14, ""},
		{"Who has it", 28, ""},
		{"Since", 12, dayFormat},
		{"Due", 12, dayFormat},
		{"Cloth", 14, ""},
		{"Days late", 11, countFormat},
	})
	if err != nil {
		return err
	}
	total := 0
	for _, k := range b.Kits {
		var late any
		if k.State == drive.KitOut && k.Due != nil && k.Due.Before(b.To) {
			late = int(b.To.Sub(*k.Due).Hours() / 24)
		}
		cloth := "the drive's"
		if k.OwnFabric {
			cloth = "their own"
		}
		total += k.Cases
		if err := t.row(k.String(), text(k.Recipient), text(k.Size), k.Cases, string(k.State), text(k.Holder), day(k.Since), day(k.Due), cloth, late); err != nil {
			return err
		}
	}
	return t.end("Together", nil, nil, t.sum("D", total), nil, nil, nil, nil, nil, calc(fmt.Sprintf("COUNT(J2:J%d)", t.last()), s.kitsLate))
}

func casesSheet(f *bookFile, b drive.Books, s sums) error {
	columns := []column{{"Line", 7, ""}, {"Recipient", 30, ""}, {"Size", 16, ""}}
	for _, state := range caseColumns {
		columns = append(columns, column{capital(string(state)), 12, countFormat})
	}
	columns = append(columns, column{"In all", 9, countFormat}, column{"Came in this period", 19, countFormat}, column{"Found good", 12, countFormat},
		column{"Sent", 9, countFormat}, column{"Confirmed in it", 15, countFormat})
	t, err := f.table(sheetCases, columns)
	if err != nil {
		return err
	}
	all := 0
	for _, l := range b.Asked {
		row := t.next()
		cells := []any{l.Number, text(l.Recipient), text(l.Size)}
		n := 0
		for _, state := range caseColumns {
			cells = append(cells, l.Counts[state])
			n += l.Counts[state]
		}
		all += n
		cells = append(cells, calc(fmt.Sprintf("SUM(D%d:P%d)", row, row), n), l.CameIn, l.FoundGood, l.Sent, l.Confirmed)
		if err := t.row(cells...); err != nil {
			return err
		}
	}
	totals := []any{"Together", nil, nil}
	for i, state := range caseColumns {
		totals = append(totals, t.sum(string(rune('D'+i)), s.states[state]))
	}
	return t.end(append(totals, t.sum("Q", all), t.sum("R", s.cameIn), t.sum("S", s.good), t.sum("T", s.sent), t.sum("U", s.confirmed))...)
}

func deliveriesSheet(f *bookFile, b drive.Books, s sums) error {
	t, err := f.table(sheetDeliveries, []column{
		{"Delivery", 10, ""},
		{"Recipient", 30, ""},
		{"Sent on", 12, dayFormat},
		{"Carried by", 22, ""},
		{"Boxes", 8, countFormat},
		{"Sent", 9, countFormat},
		{"Confirmed", 11, countFormat},
		{"Not received", 13, countFormat},
		{"Open", 9, countFormat},
		{"Confirmed on", 13, dayFormat},
		{"By", 24, ""},
	})
	if err != nil {
		return err
	}
	for _, d := range b.Deliveries {
		row := t.next()
		sent := d.SentOn
		open := calc(fmt.Sprintf("F%d-G%d-H%d", row, row, row), d.Sent-d.Confirmed-d.Missing)
		if err := t.row(d.Number, text(d.Recipient), day(&sent), text(d.CarriedBy), d.Boxes, d.Sent, d.Confirmed, d.Missing, open, day(d.ConfirmedOn), text(d.ConfirmedBy)); err != nil {
			return err
		}
	}
	return t.end("Together", nil, nil, nil, t.sum("E", s.boxes), t.sum("F", s.delivered), t.sum("G", s.arrived), t.sum("H", s.notReceived),
		t.sum("I", s.delivered-s.arrived-s.notReceived))
}

// areaIn gives the unit areas are written in and how to write one. A cell holds
// a binary number by its nature; nothing is computed back from it.
func areaIn(d drive.Drive) (string, func(length.Area) float64) {
	per, unit := float64(length.Metre)*float64(length.Metre), "m²"
	if d.Unit == length.In {
		per, unit = float64(length.Yard)*float64(length.Yard), "yd²"
	}
	return unit, func(a length.Area) float64 { return float64(a) / per }
}

// day gives a cell for a day, empty for none.
func day(d *time.Time) any {
	if d == nil {
		return nil
	}
	return *d
}

// text gives a cell for what somebody wrote: always a string, and no longer than
// a cell can be.
func text(s string) any {
	if r := []rune(s); len(r) > excelize.TotalCellChars {
		const cut = " … (the rest is in the program)"
		return string(r[:excelize.TotalCellChars-len([]rune(cut))]) + cut
	}
	return s
}
