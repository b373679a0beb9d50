package workbook

import (
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/xuri/excelize/v2"
)

// line is one line of the summary: a heading where it holds no figure. other is the
// other side of a check.
type line struct {
	label  string
	figure *formula
	other  *formula
	kind   columnKind
	how    string
}

// summary says in a page what the other sheets hold; every figure is a formula over
// them. Below, sheets are held against one another.
func (b book) summary(stream *excelize.StreamWriter) error {
	for i, width := range []float64{48, 14, 14, 48} {
		if err := stream.SetColWidth(i+1, i+1, width); err != nil {
			return fmt.Errorf("summary: %w", err)
		}
	}
	lines := append(b.figures(), line{}, line{label: "Do the sheets agree?", how: "each side added up from another sheet"})
	first := len(lines) + summaryHead + 1
	lines = append(lines, b.checks()...)
	last := summaryHead + len(lines)
	cloth := [2]int{}
	for i, l := range lines {
		switch l.label {
		case clothFirst:
			cloth[0] = summaryHead + i + 1
		case clothLast:
			cloth[1] = summaryHead + i + 1
		}
	}
	if err := b.head(stream, lines[first-summaryHead-1:], first, last); err != nil {
		return err
	}
	for i, l := range lines {
		if err := b.line(stream, summaryHead+i+1, l); err != nil {
			return err
		}
	}
	if err := b.charts(cloth); err != nil {
		return err
	}
	if err := stream.Flush(); err != nil {
		return fmt.Errorf("summary: %w", err)
	}
	return b.file.prints(sheetSummary, "P", last, "")
}

// summaryHead is how many lines stand above the figures.
const summaryHead = 5

// The figures between which the chart of where the cloth went is drawn.
const (
	clothFirst = "Cut for kits"
	clothLast  = "Closing"
)

// head writes whose books these are, of when, and whether all the checks agree.
func (b book) head(stream *excelize.StreamWriter, checks []line, first, last int) error {
	differ := 0
	for _, c := range checks {
		if c.says() != agrees {
			differ++
		}
	}
	verdict := formula{
		fmt.Sprintf(`IF(COUNTIF(D%d:D%d,"%s")=%d,"All %d checks below agree.",%d-COUNTIF(D%d:D%d,"%s")&" of the %d checks below differ: look at them first.")`,
			first, last, agrees, len(checks), len(checks), len(checks), first, last, agrees, len(checks)),
		fmt.Sprintf("All %d checks below agree.", len(checks)),
	}
	if differ > 0 {
		verdict.value = fmt.Sprintf("%d of the %d checks below differ: look at them first.", differ, len(checks))
	}
	for i, cell := range []excelize.Cell{
		{StyleID: b.file.title, Value: text(b.books.Drive.Name)},
		{Value: fmt.Sprintf("From %s to %s, both included; what stands, stands at the end of the last day.", b.books.From.Format(time.DateOnly), b.books.To.Format(time.DateOnly))},
		{Value: "Made " + b.books.MadeAt.In(b.books.Drive.Location()).Format("2006-01-02 15:04 MST") + "."},
		{StyleID: b.file.head, Formula: verdict.text, Value: verdict.value},
	} {
		if err := stream.SetRow(fmt.Sprintf("A%d", i+1), []any{cell}); err != nil {
			return fmt.Errorf("summary: %w", err)
		}
	}
	return nil
}

func (b book) line(stream *excelize.StreamWriter, row int, l line) error {
	if l.label == "" {
		return nil
	}
	small, err := b.file.style(styleOf{small: true})
	if err != nil {
		return err
	}
	under := excelize.Cell{StyleID: b.file.head}
	cells := []any{excelize.Cell{StyleID: b.file.head, Value: l.label}, under, under, excelize.Cell{StyleID: b.file.head, Value: l.how}}
	if l.figure != nil {
		style, err := b.file.style(styleOf{format: l.kind.format(), right: true})
		if err != nil {
			return err
		}
		cells = []any{l.label, nil, nil, excelize.Cell{StyleID: small, Value: l.how}}
		cells[1] = excelize.Cell{StyleID: style, Formula: l.figure.text, Value: l.figure.value}
		if l.other != nil {
			cells[2] = excelize.Cell{StyleID: style, Formula: l.other.text, Value: l.other.value}
			apart, err := b.file.style(styleOf{indent: true})
			if err != nil {
				return err
			}
			cells[3] = excelize.Cell{StyleID: apart, Formula: fmt.Sprintf(`IF(ABS(B%d-C%d)<0.000001,"%s","differs by "&ROUND(B%d-C%d,4))`, row, row, agrees, row, row), Value: l.says()}
		}
	}
	if err := stream.SetRow(fmt.Sprintf("A%d", row), cells); err != nil {
		return fmt.Errorf("summary: %w", err)
	}
	return nil
}

// says is the verdict of a check.
func (l line) says() string {
	left, _ := l.figure.number()
	right, _ := l.other.number()
	return saysOf(left - right)
}

func (b book) figures() []line {
	square := string(b.units.yardage) + "²"
	figure := func(label string, f formula, kind columnKind, how string) line {
		return line{label: label, figure: &f, kind: kind, how: how}
	}
	counted := func(label string, f formula, how string) line { return figure(label, f, count, how) }
	cases := func(states ...drive.CaseState) formula {
		var sums []formula
		for _, s := range states {
			sums = append(sums, b.total("Pillowcases", capital(string(s))))
		}
		return plus(sums...)
	}
	cloth := func(label, how string) line { return figure(label, b.total("Fabric", label), areas, how) }
	ended := func(state string) formula { return b.total("Pillowcases", "Ended "+state) }
	out := fmt.Sprintf(`%s,"out"`, b.over("Kits", "Where"))
	period := func(label, heading string, how string) line {
		return counted(label, b.total("Pillowcases", heading), how)
	}
	late := b.over("Kits", "Days late")
	lots := b.tables["Fabric"].rows
	return []line{
		{label: "Pillowcases, at the end of the last day"},
		counted("Asked for", b.total("Asked", "Asked for"), "all lines"),
		counted("On their way or arrived", b.total("Pillowcases", "Closing"), "everything below down to confirmed"),
		counted("Planned or cut", cases(drive.CasePlanned, drive.CaseCut), ""),
		counted("With volunteers", cases(drive.CaseOut), ""),
		counted("Came back, to check or to mend", cases(drive.CaseSewn, drive.CaseToMend), ""),
		counted("Good, packed or not", cases(drive.CaseGood, drive.CasePacked), ""),
		counted("Delivered, confirmed or not", cases(drive.CaseDelivered, drive.CaseConfirmed), ""),
		counted("Confirmed by the recipient", cases(drive.CaseConfirmed), "of those delivered"),
		counted("Still missing", b.total("Asked", "Still missing"), "of open lines, and nothing stands for them yet"),
		{},
		{label: "Pillowcases, in this period"},
		period("Opening of the account", "Opening", "on their way or arrived before the first day"),
		counted("Born", plus(b.total("Pillowcases", "Born of plans"), b.total("Pillowcases", "Own fabric or brought in"), b.total("Pillowcases", "Found again")), "planned, in kits of own fabric, brought in or found again"),
		counted("Ended", plus(ended("not usable"), ended("lost"), ended("withdrawn uncut"), ended("not received")), "not usable, lost, withdrawn uncut or not received"),
		period("Came in", "Came in", "sewn, with a kit and without"),
		period("Found good", "Found good", ""),
		counted("Found to mend or not usable", plus(b.checkedAs(drive.CaseToMend), b.checkedAs(drive.CaseNotUsable)), "at the checking table"),
		period("Sent", "Sent", ""),
		period("Confirmed", "Were confirmed", ""),
		counted("Deliveries", formula{
			fmt.Sprintf(`COUNTIFS(%s,">0",%s,0)`, b.over("Deliveries", "Sent"), b.over("Deliveries", "Sent before")), b.tally.left,
		}, "left in this period"),
		counted("Not confirmed, or counts differ", b.total("Deliveries", "Open"), "sent in this period and not settled"),
		{},
		{label: "Fabric, " + square},
		cloth("Opening", "on the shelf before the first day"),
		cloth("Measured", "goes in"),
		cloth("Put back", "goes in"),
		cloth("Recounted", "found more, or less"),
		cloth(clothFirst, "goes out"),
		cloth("Offcuts", "goes out"),
		cloth("Squared off", "goes out"),
		cloth("Lost in the wash", "goes out"),
		cloth("Given away", "goes out"),
		cloth("Discarded", "goes out"),
		cloth(clothLast, "opening + in + recounted − out"),
		figure("of it promised to plans", b.total("Fabric", "Promised"), areas, ""),
		counted("Lots", formula{"COUNT(" + b.over("Fabric", "Lot") + ")", lots}, "that the ledger knows by then"),
		counted("Gifts", formula{"COUNT(" + b.over("Gifts", "Given on") + ")", b.tables["Gifts"].rows}, "one donor on one day"),
		{},
		{label: "Kits and people"},
		counted("Kits with people", formula{"COUNTIF(" + out + ")", b.tally.kits[drive.KitOut]}, ""),
		counted("Pillowcases in them", formula{"SUMIF(" + out + "," + b.over("Kits", "Pillowcases") + ")", b.tally.inKits[drive.KitOut]}, ""),
		counted("Late", formula{"COUNT(" + late + ")", b.tally.late}, "past the day agreed"),
		counted("Who sews", formula{"COUNT(" + b.over("People", "Person no") + ")", b.tables["People"].rows}, "people and groups on the list"),
		figure("Hours given", b.total("People", "All hours"), hours, "in this period"),
	}
}

// checkedAs is what was found so at the checking table.
func (b book) checkedAs(result drive.CaseState) formula {
	return formula{fmt.Sprintf(`SUMIFS(%s,%s,"%s")`, b.over("Checks", "Pillowcases"), b.over("Checks", "Result"), result), b.tally.checked[result]}
}
