package workbook

import (
	"io"
	"time"

	"boltward/internal/drive"
)

// KitLine is a kit as the list of kits has it.
type KitLine struct {
	drive.Kit
	Size     string
	For      string // the recipient; empty: not promised yet
	NeededBy *time.Time
}

// WriteKits writes a list of kits as it is looked at on a day, as CSV (RFC 4180).
func WriteKits(w io.Writer, lines []KitLine, today time.Time) error {
	out, err := newCSV(w, bookUnits{})
	if err != nil {
		return err
	}
	columns := []column{
		{heading: "Kit", kind: number},
		{heading: "Part", kind: number},
		{heading: "Where"},
		{heading: "Who has it"},
		{heading: "Lies at"},
		{heading: "Pillowcases", kind: count},
		{heading: "Size"},
		{heading: "Cloth"},
		{heading: "For"},
		{heading: "Needed by", kind: days},
		{heading: "Since", kind: days},
		{heading: "Due", kind: days},
		{heading: "Days late", kind: count},
	}
	return fill(out, rowsOf(lines), columns, func(to []any, l KitLine) []any {
		return append(to, l.Number, l.Part, string(l.State), l.HolderName, l.Place, l.Cases, l.Size, clothOf(l.OwnFabric), l.For, l.NeededBy,
			l.Since, l.Due, some(int64(lateOf(l.State, l.Due, today))))
	})
}

// clothOf says whose cloth a kit is of.
func clothOf(own bool) string {
	if own {
		return "their own"
	}
	return "the drive's"
}

func lateOf(state drive.KitState, due *time.Time, on time.Time) int {
	return drive.BookKit{State: state, Due: due}.Late(on)
}

// DonorLine is a donor as the list of donors has them.
type DonorLine struct {
	drive.Donor
	Lots, Pieces, Due int
}

// WriteDonors writes a list of donors as it is looked at, as CSV (RFC 4180). How to
// reach them is left out: it stands in the books, for those who may read it.
func WriteDonors(w io.Writer, lines []DonorLine) error {
	out, err := newCSV(w, bookUnits{})
	if err != nil {
		return err
	}
	columns := []column{
		{heading: "Number", kind: number},
		{heading: "Name"},
		{heading: "Lots", kind: count},
		{heading: "Pieces", kind: count},
		{heading: "Gifts to thank for", kind: count},
		{heading: "Asked for a letter"},
		{heading: "No letters"},
		{heading: "Notes"},
	}
	return fill(out, rowsOf(lines), columns, func(to []any, l DonorLine) []any {
		return append(to, l.Number, l.Name, l.Lots, l.Pieces, l.Due, yesNo(l.Letter), yesNo(l.NoLetters), l.Note)
	})
}
