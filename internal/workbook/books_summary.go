package workbook

import (
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/xuri/excelize/v2"
)

// summarySheet says in a page what the other sheets hold; every figure is a
// formula over their totals.
func summarySheet(f *bookFile, b drive.Books, s sums) error {
	stream, err := f.sheet(sheetSummary)
	if err != nil {
		return err
	}
	for i, width := range []float64{44, 14, 60} {
		if err := stream.SetColWidth(i+1, i+1, width); err != nil {
			return fmt.Errorf("summary: %w", err)
		}
	}
	rows := summaryRows(f, b, s)
	for i, row := range rows {
		at, err := excelize.CoordinatesToCellName(1, i+1)
		if err != nil {
			return fmt.Errorf("summary: %w", err)
		}
		if row == nil {
			continue
		}
		if err := stream.SetRow(at, row); err != nil {
			return fmt.Errorf("summary: %w", err)
		}
	}
	if err := stream.Flush(); err != nil {
		return fmt.Errorf("summary: %w", err)
	}
	return nil
}

func summaryRows(f *bookFile, b drive.Books, s sums) [][]any {
	unit, area := areaIn(b.Drive)
	asked, cases := sheetRange{sheetAsked, "F", lines(b)}, len(b.Asked)
	figure := func(what string, c formula, format, how string) []any {
		style, err := f.style(format, false)
		if err != nil {
			style = 0 // a figure without its format is still the figure
		}
		return []any{what, excelize.Cell{StyleID: style, Formula: c.text, Value: c.value}, how}
	}
	count := func(what string, c formula, how string) []any { return figure(what, c, countFormat, how) }
	cloth := func(what, letter string, v float64, how string) []any {
		return figure(what, sheetRange{sheetFabric, letter, len(b.Fabric)}.sum(v), areaFormat, how)
	}
	inStates := func(states ...drive.CaseState) formula {
		text, n := "", 0
		for _, state := range states {
			for i, c := range caseColumns {
				if c == state {
					text += "+" + sheetRange{sheetCases, string(rune('D' + i)), cases}.sum(0).text
				}
			}
			n += s.states[state]
		}
		return calc(text[1:], n)
	}
	heading := func(text string) []any { return []any{excelize.Cell{StyleID: f.head, Value: text}} }
	alive := calc(fmt.Sprintf("SUM(%s!D2:%s%d)", sheetCases, string(rune('D'+aliveColumns-1)), max(2, cases+1)), aliveSum(s))
	deliveries := len(b.Deliveries)
	return [][]any{
		{excelize.Cell{StyleID: f.title, Value: b.Drive.Name}},
		{fmt.Sprintf("From %s to %s, both included; what stands, stands at the end of the last day.", b.From.Format(time.DateOnly), b.To.Format(time.DateOnly))},
		{"Made " + b.MadeAt.In(b.Drive.Location()).Format("2006-01-02 15:04 MST")},
		nil,
		heading("Pillowcases"),
		count("Asked for", asked.sum(s.wanted), "all lines"),
		count("On their way or arrived", alive, "planned, cut, with volunteers, back, good, packed, delivered, confirmed"),
		count("Planned or cut", inStates(drive.CasePlanned, drive.CaseCut), ""),
		count("With volunteers", inStates(drive.CaseOut), ""),
		count("Came back, to check or to mend", inStates(drive.CaseSewn, drive.CaseToMend), ""),
		count("Good, packed or not", inStates(drive.CaseGood, drive.CasePacked), ""),
		count("Delivered, confirmed or not", inStates(drive.CaseDelivered, drive.CaseConfirmed), ""),
		count("Confirmed by the recipient", inStates(drive.CaseConfirmed), ""),
		count("Not usable", inStates(drive.CaseNotUsable), ""),
		count("Lost, withdrawn or not received", inStates(drive.CaseLost, drive.CaseWithdrawn, drive.CaseNotReceived), ""),
		nil,
		heading("In this period"),
		count("Came in", sheetRange{sheetCases, "R", cases}.sum(s.cameIn), "with a kit and without"),
		count("Found good", sheetRange{sheetCases, "S", cases}.sum(s.good), ""),
		count("Sent", sheetRange{sheetCases, "T", cases}.sum(s.sent), ""),
		count("Confirmed", sheetRange{sheetCases, "U", cases}.sum(s.confirmed), ""),
		count("Deliveries", calc(fmt.Sprintf("COUNT(%s!A2:A%d)", sheetDeliveries, max(2, deliveries+1)), deliveries), ""),
		nil,
		heading("Fabric, " + unit),
		cloth("Opening", "G", area(s.opening), "on the shelf before the first day"),
		cloth("In", "H", area(s.takenIn), "measured and put back"),
		cloth("Recounted", "I", area(s.recounted), "found more, or less"),
		cloth("Cut for kits", "J", area(s.cut), "goes out"),
		cloth("Offcuts and wash", "K", area(s.offcuts), "goes out"),
		cloth("Given or thrown away", "L", area(s.given), "goes out"),
		figure("Closing", calc("B25+B26+B27-B28-B29-B30", area(s.closing)), areaFormat, "opening + in + recounted − out"),
		cloth("Closing by the lots", "M", area(s.closing), "the same from the other side"),
		cloth("of it promised to plans", "N", area(s.promised), ""),
		nil,
		heading("Kits"),
		count("Kits with people", calc(fmt.Sprintf(`COUNTIF(%s!E2:E%d,"out")`, sheetKits, max(2, len(b.Kits)+1)), s.kitsOut), ""),
		count("Pillowcases in them", calc(fmt.Sprintf(`SUMIF(%s!E2:E%d,"out",%s!D2:D%d)`, sheetKits, max(2, len(b.Kits)+1), sheetKits, max(2, len(b.Kits)+1)), s.casesOut), ""),
		count("Late", calc(fmt.Sprintf("COUNT(%s!J2:J%d)", sheetKits, max(2, len(b.Kits)+1)), s.kitsLate), "past the day agreed"),
	}
}

// sheetRange is a column of another sheet over its rows.
type sheetRange struct {
	sheet, letter string
	rows          int
}

func (r sheetRange) sum(value any) formula {
	return calc(fmt.Sprintf("SUM(%s!%s2:%s%d)", r.sheet, r.letter, r.letter, max(2, r.rows+1)), value)
}

func lines(b drive.Books) int {
	n := 0
	for _, l := range b.Asked {
		if l.Number != 0 {
			n++
		}
	}
	return n
}

func aliveSum(s sums) int {
	n := 0
	for state, k := range s.states {
		if state.Alive() {
			n += k
		}
	}
	return n
}

// notesSheet says how the figures come about.
func notesSheet(f *bookFile, b drive.Books, _ sums) error {
	stream, err := f.sheet(sheetNotes)
	if err != nil {
		return err
	}
	if err := stream.SetColWidth(1, 1, 110); err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	unit, _ := areaIn(b.Drive)
	for i, line := range []string{
		"How these figures come about",
		"Fabric is counted by area in " + unit + ", from the length and the usable width of each piece. Opening + in + recounted − cut − offcuts − given = closing, for every lot.",
		"On the shelf is what is free and what is promised to an accepted plan. Parting a piece moves cloth within its lot and so appears nowhere here.",
		"What is lost at the selvedges and ends when a lot is first measured never counts as taken in.",
		"A pillowcase stands in exactly one state. It is born by an accepted plan, by being brought in or found, and ends as not usable, lost, withdrawn uncut or not received.",
		"Delivered counts what left here; confirmed counts what the recipient said arrived. Counts that differ stay open until somebody settles them.",
		"Something booked by mistake is taken back by a counter-entry; both stand in the program's history.",
		"No money is kept, and no value is put on what was given. What a gift means for tax depends on local law: ask somebody licensed to say so.",
	} {
		style := 0
		if i == 0 {
			style = f.title
		}
		if err := stream.SetRow(fmt.Sprintf("A%d", i+1), []any{excelize.Cell{StyleID: style, Value: line}}); err != nil {
			return fmt.Errorf("notes: %w", err)
		}
	}
	if err := stream.Flush(); err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	return nil
}
