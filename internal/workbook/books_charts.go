package workbook

import (
	"fmt"
	"iter"
	"time"

	"boltward/internal/drive"

	"github.com/xuri/excelize/v2"
)

// rowsOf goes through rows that are at hand.
func rowsOf[T any](list []T) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for _, row := range list {
			if !yield(row, nil) {
				return
			}
		}
	}
}

// recipientColumns are the columns of Recipients that look states up in Pillowcases.
func recipientColumns() []struct {
	heading string
	states  []drive.CaseState
} {
	return []struct {
		heading string
		states  []drive.CaseState
	}{
		{"Confirmed", []drive.CaseState{drive.CaseConfirmed}},
		{"Delivered, not confirmed", []drive.CaseState{drive.CaseDelivered}},
		{"Good, packed or not", []drive.CaseState{drive.CaseGood, drive.CasePacked}},
		{"To check or mend", []drive.CaseState{drive.CaseSewn, drive.CaseToMend}},
		{"With volunteers", []drive.CaseState{drive.CaseOut}},
		{"Planned or cut", []drive.CaseState{drive.CasePlanned, drive.CaseCut}},
	}
}

// recipients adds up by recipient what the lists hold by line, looked up by number:
// a name with a star in it would be taken for a pattern.
func (b book) recipients(most int) error {
	look := func(sheet, heading string) string {
		return fmt.Sprintf("SUMIFS(%s,%s,{Recipient no})", b.over(sheet, heading), b.over(sheet, "Recipient no"))
	}
	columns := []column{
		{heading: "Recipient no", width: 11, kind: number},
		{heading: "Recipient", width: 34},
		{heading: "Asked for", width: 11, kind: count, total: true, formula: look("Asked", "Asked for")},
	}
	for _, c := range recipientColumns() {
		formula := ""
		for i, state := range c.states {
			if i > 0 {
				formula += "+"
			}
			formula += look("Pillowcases", capital(string(state)))
		}
		columns = append(columns, column{heading: c.heading, width: 13, kind: count, total: true, formula: formula})
	}
	columns = append(columns, column{heading: "Still missing", width: 11, kind: count, total: true, formula: look("Asked", "Still missing")})
	return fill(b.table(sheetRecipients, most), rowsOf(b.tally.byWanted()), columns, func(to []any, r *recipientTally) []any {
		to = append(to, r.number, r.name, r.wanted)
		for _, c := range recipientColumns() {
			to = append(to, r.counts.Sum(c.states...))
		}
		return append(to, r.missing)
	})
}

// months adds up by month what the pillowcases ledger holds entry by entry.
func (b book) months(most int) error {
	within := fmt.Sprintf(`%s,">="&{From},%s,"<="&{Until}`, b.over("Pillowcase entries", "Day"), b.over("Pillowcase entries", "Day"))
	step := func(from, to string) string {
		return fmt.Sprintf(`SUMIFS(%s,%s,"%s",%s,"%s",%s)`, b.over("Pillowcase entries", "Pillowcases"), b.over("Pillowcase entries", "From"), from,
			b.over("Pillowcase entries", "To"), to, within)
	}
	columns := []column{
		{heading: "Month", width: 11},
		{heading: "From", width: 12, kind: days},
		{heading: "Until", width: 12, kind: days},
		{heading: "Came in", width: 11, kind: count, total: true, formula: step("born", "sewn") + "+" + step("out", "sewn") + "+" + step("lost", "sewn")},
		{heading: "Found good", width: 11, kind: count, total: true, formula: step("sewn", "good")},
		{heading: "Sent", width: 11, kind: count, total: true, formula: step("packed", "delivered") + "-" + step("delivered", "packed")},
		{heading: "Confirmed", width: 11, kind: count, total: true, formula: step("<>confirmed", "confirmed") + "-" + step("confirmed", "<>confirmed")},
	}
	return fill(b.table(sheetMonths, most), rowsOf(b.tally.spans(b.books.From, b.books.To)), columns, func(to []any, p drive.Period) []any {
		m, happened := b.tally.months[time.Date(p.From.Year(), p.From.Month(), 1, 0, 0, 0, 0, time.UTC)]
		if !happened {
			m = &monthTally{}
		}
		return append(to, p.Name, p.From, p.To, m.cameIn, m.good, m.sent, m.confirmed)
	})
}

// ink is the colour of words in charts: spreadsheets write them pale by themselves.
const ink = "23272C"

// rowHigh is how high a line of a sheet is in pixels where it is lowest: programs differ
// between 17 and 20, and charts shall not touch in any.
const rowHigh = 17

// mostBars is how many recipients a chart shows: more could not be read.
const mostBars = 15

// charts draws what the summary says at the right of it. cloth is the rows of the
// summary that say where the cloth went.
func (b book) charts(cloth [2]int) error {
	recipients := min(max(1, b.tables[sheetRecipients].rows), mostBars)
	var progress []excelize.ChartSeries
	for i, c := range append(recipientColumns(), struct {
		heading string
		states  []drive.CaseState
	}{heading: "Still missing"}) {
		letter, err := letterOf(b.tables[sheetRecipients].columns, c.heading)
		if err != nil {
			return err
		}
		progress = append(progress, series(sheetRecipients, letter, "B", recipients+1, []string{"3C6638", "7FA37B", "1E5C76", "7FA8B9", "C9A24B", "D9CDB8", "A1272B"}[i]))
	}
	months := max(1, b.tables[sheetMonths].rows)
	var byMonth []excelize.ChartSeries
	for i, letter := range []string{"D", "E", "F", "G"} {
		byMonth = append(byMonth, series(sheetMonths, letter, "A", months+1, []string{"C9A24B", "1E5C76", "7FA37B", "3C6638"}[i]))
	}
	went := excelize.ChartSeries{
		Name: sheetSummary + "!$A$" + fmt.Sprint(cloth[0]-1), Categories: fmt.Sprintf("%s!$A$%d:$A$%d", sheetSummary, cloth[0], cloth[1]),
		Values: fmt.Sprintf("%s!$B$%d:$B$%d", sheetSummary, cloth[0], cloth[1]), Fill: solid("1E5C76"),
	}
	heading := "How far it has come, by recipient"
	if b.tables[sheetRecipients].rows > mostBars {
		heading = fmt.Sprintf("How far it has come, the %d who asked for most", mostBars)
	}
	row, axis := 2, *face(excelize.Font{Size: 10, Color: ink})
	for _, c := range []struct {
		title  string
		kind   excelize.ChartType
		series []excelize.ChartSeries
		high   int // in pixels
		legend string
	}{
		{heading, excelize.BarStacked, progress, 170 + 26*recipients, "bottom"},
		{"Pillowcases by month", excelize.Col, byMonth, 330, "bottom"},
		{"Where the cloth went, " + string(b.units.yardage) + "²", excelize.Bar, []excelize.ChartSeries{went}, 300, "none"},
	} {
		chart := &excelize.Chart{
			Type: c.kind, Series: c.series, Title: excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: c.title, Font: face(excelize.Font{Bold: true, Size: 13, Color: ink})}}},
			Legend: excelize.ChartLegend{Position: c.legend, Font: face(excelize.Font{Size: 10, Color: ink})}, Dimension: excelize.ChartDimension{Width: 640, Height: uint(c.high)},
			XAxis: excelize.ChartAxis{ReverseOrder: c.kind != excelize.Col, Font: axis}, YAxis: excelize.ChartAxis{MajorGridLines: true, Font: axis},
			Format: excelize.GraphicOptions{AltText: c.title}, ShowBlanksAs: "zero",
		}
		if err := b.file.x.AddChart(sheetSummary, fmt.Sprintf("F%d", row), chart); err != nil {
			return fmt.Errorf("chart %s: %w", c.title, err)
		}
		row += c.high/rowHigh + 2
	}
	return nil
}

// series is a column of a sheet, named by its heading, beside another that names its rows.
func series(sheet, letter, names string, last int, colour string) excelize.ChartSeries {
	return excelize.ChartSeries{
		Name: fmt.Sprintf("%s!$%s$1", sheet, letter), Categories: fmt.Sprintf("%s!$%s$2:$%s$%d", sheet, names, names, last),
		Values: fmt.Sprintf("%s!$%s$2:$%s$%d", sheet, letter, letter, last), Fill: solid(colour),
	}
}

func solid(colour string) excelize.Fill {
	return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{colour}}
}
