package workbook

import (
	"io"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// WriteAsked writes what is asked for as it is looked at, line by line, as CSV (RFC 4180).
func WriteAsked(w io.Writer, lines []drive.AskedLine) error {
	out, err := newCSV(w, bookUnits{})
	if err != nil {
		return err
	}
	columns := []column{
		{heading: "Line", kind: number},
		{heading: "For"},
		{heading: "Sizes"},
		{heading: "Themes"},
		{heading: "No such themes"},
		{heading: "Due", kind: days},
		{heading: "Open"},
		{heading: "Asked", kind: count},
		{heading: "Delivered", kind: count},
		{heading: "Good", kind: count},
		{heading: "To check or mend", kind: count},
		{heading: "With volunteers", kind: count},
		{heading: "Planned", kind: count},
		{heading: "Missing", kind: count},
		{heading: "Note"},
	}
	return fill(out, rowsOf(lines), columns, func(to []any, l drive.AskedLine) []any {
		s := l.Standing()
		return append(to, l.Number, l.RecipientName, strings.Join(l.SizeNames, " or "), strings.Join(l.ThemesWanted, ", "), strings.Join(l.ThemesAvoid, ", "),
			l.Due, yesNo(!l.Closed), s.Asked, s.Delivered, s.Good, s.Back, s.Out, s.Planned, s.Missing, l.Note)
	})
}

// DeliveryLine is a delivery as the list of deliveries has it.
type DeliveryLine struct {
	drive.Delivery
	For string
}

// WriteDeliveries writes deliveries as CSV (RFC 4180), a row each.
func WriteDeliveries(w io.Writer, lines []DeliveryLine) error {
	out, err := newCSV(w, bookUnits{})
	if err != nil {
		return err
	}
	columns := []column{
		{heading: "Delivery", kind: number},
		{heading: "For"},
		{heading: "Sent on", kind: days},
		{heading: "Carried by"},
		{heading: "How it stands"},
		{heading: "Boxes", kind: count},
		{heading: "Pillowcases", kind: count},
		{heading: "Confirmed", kind: count},
		{heading: "Not received", kind: count},
		{heading: "Sent back", kind: count},
		{heading: "Open", kind: count},
		{heading: "Said above the note", kind: count},
		{heading: "Said by"},
		{heading: "Said on", kind: days},
		{heading: "How it was said"},
		{heading: "Note"},
	}
	return fill(out, rowsOf(lines), columns, func(to []any, d DeliveryLine) []any {
		return append(to, d.Number, d.For, d.SentOn, d.CarriedBy, string(d.State()), len(d.Boxes), d.Cases(), d.Confirmed(), d.Missing(), d.Returned(), d.Open(), d.More(),
			d.ConfirmedBy, d.ConfirmedOn, d.ConfirmedHow, d.Note)
	})
}

// WriteSupplies writes what there is besides fabric as CSV (RFC 4180). kits is how many
// wait for supplies.
func WriteSupplies(w io.Writer, supplies []drive.Supply, kits int) error {
	out, err := newCSV(w, bookUnits{})
	if err != nil {
		return err
	}
	columns := []column{
		{heading: "Number", kind: number},
		{heading: "What"},
		{heading: "There are", kind: count},
		{heading: "Unit"},
		{heading: "Used", kind: count},
		{heading: "For kits", kind: count},
		{heading: "Enough for kits", kind: count},
		{heading: "Kits that wait", kind: count},
		{heading: "Short"},
		{heading: "Note"},
	}
	return fill(out, rowsOf(supplies), columns, func(to []any, s drive.Supply) []any {
		var used, per, enough any
		if n, told := s.EnoughFor(); told {
			used, per, enough = s.Used, s.PerKits, n
		}
		return append(to, s.Number, s.Name, s.Have, s.Unit, used, per, enough, kits, yesNo(s.ShortFor(kits)), s.Note)
	})
}

// SheetLine is a cut sheet as the list of sheets has it.
type SheetLine struct {
	drive.Sheet
	Shelf, Cloth string
	Panels       int
	Kits         []string
}

// WriteSheets writes cut sheets as CSV (RFC 4180); moments are told in the drive's zone.
func WriteSheets(w io.Writer, d drive.Drive, lines []SheetLine) error {
	out, err := newCSV(w, unitsOf(d))
	if err != nil {
		return err
	}
	columns := []column{
		{heading: "Sheet", kind: number},
		{heading: "Revision", kind: number},
		{heading: "Plan", kind: number},
		{heading: "Shelf"},
		{heading: "Piece"},
		{heading: "Cloth"},
		{heading: "Takes", kind: yardage},
		{heading: "Width", kind: widths},
		{heading: "Panels", kind: count},
		{heading: "For kits"},
		{heading: "How it stands"},
		{heading: "With"},
		{heading: "Out since"},
		{heading: "Cut at"},
	}
	moment := func(at *time.Time) string {
		if at == nil {
			return ""
		}
		return at.In(d.Location()).Format("2006-01-02 15:04")
	}
	return fill(out, rowsOf(lines), columns, func(to []any, l SheetLine) []any {
		return append(to, l.Number, l.Revision, l.Plan, l.Shelf, drive.PieceName(l.Lot, l.Piece), l.Cloth, length.Length(l.Used), length.Length(l.Width), l.Panels,
			strings.Join(l.Kits, ", "), string(l.State), l.Helper, moment(l.OutAt), moment(l.CutAt))
	})
}

// StocktakeLine is a stocktake as the list of stocktakes has it.
type StocktakeLine struct {
	drive.Stocktake
	By           string
	Lots, Differ int
}

// WriteStocktakes writes stocktakes as CSV (RFC 4180), days in the drive's zone.
func WriteStocktakes(w io.Writer, d drive.Drive, lines []StocktakeLine) error {
	out, err := newCSV(w, bookUnits{})
	if err != nil {
		return err
	}
	columns := []column{
		{heading: "Stocktake", kind: number},
		{heading: "Begun", kind: days},
		{heading: "By"},
		{heading: "Shelf"},
		{heading: "Lots counted", kind: count},
		{heading: "Differed", kind: count},
		{heading: "Stands"},
		{heading: "Closed", kind: days},
		{heading: "Why it was posted"},
	}
	return fill(out, rowsOf(lines), columns, func(to []any, l StocktakeLine) []any {
		var closed *time.Time
		if l.ClosedAt != nil {
			day := drive.Day(*l.ClosedAt, d.Location())
			closed = &day
		}
		return append(to, l.Number, drive.Day(l.BegunAt, d.Location()), l.By, l.Shelf, l.Lots, l.Differ, string(l.State), closed, l.Reason)
	})
}
