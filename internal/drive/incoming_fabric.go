package drive

import (
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// LotIn is a lot as a row of a spreadsheet brings it: tagged, and measured where
// the row gives a size.
type LotIn struct {
	Tagging
	Measured *Measured
	// Columns gives the heading under which a field stands in the file.
	Columns map[string]string
}

// column is the heading of a field, or the field's own name where the file has none.
func (l LotIn) column(field string) string {
	if heading := l.Columns[field]; heading != "" {
		return heading
	}
	if heading := lotHeadings[field]; heading != "" {
		return heading
	}
	return field
}

// lotHeadings are the headings to use where a file has no column for a field.
var lotHeadings = map[string]string{
	"tag": "Code", "donor": "Given by", "pieces": "Pieces", "kind": "What is it", "received_on": "Date in", "set_aside": "Set aside",
	"shelf": "Shelf", "note": "Notes", "length": "Length", "width": "Width", "usable": "Usable width", "flaws": "Flaws", "fibre": "Fibre",
	"weight": "Weight", "print": "Print", "turn": "Turn", "border": "Border", "border_depth": "Border depth", "colours": "Colours", "themes": "Themes",
}

// Decided is a row of fabric that is taken: a new lot, or one that was tagged
// before and gets its size now.
type Decided struct {
	Row      int // index of the row
	Old      *Lot
	Tagging  Tagging
	Measured *Measured
}

// JudgeFabric decides the fate of every row against the lots that are here, by
// their tags in lower case. donors gives the names of donors by number. A tag
// makes a row the same lot each time the file comes, so the same file twice
// changes nothing; a lot that waits to be measured takes its size from a row.
func JudgeFabric(d Drive, today time.Time, rows []Incoming[LotIn], lots map[string]Lot, donors map[int64]string) ([]RowFate, []Decided) {
	fates := make([]RowFate, len(rows))
	var decided []Decided
	tags := seen{}
	for i, row := range rows {
		lot := row.Value
		lot.Tagging = lot.Tagging.Tidy()
		fate := judge(row)
		first, again := tags.again(lot.Tag, row.Line)
		switch {
		case lot.Tag == "":
			fate.refuse(lot.column("tag"), "Every lot needs a code of its own, so that the same file twice changes nothing. Write one in.")
		case again:
			fate.refuse(lot.column("tag"), "The code %s stands on line %d already. Give this lot one of its own.", lot.Tag, first)
		}
		refuseFields(&fate, lot, lot.Tagging.Check(today))
		if lot.Measured != nil {
			// Trying it on an empty lot finds whatever the store would refuse.
			_, err := Measure(d, Lot{}, *lot.Measured, 1)
			refuseFields(&fate, lot, err)
		}
		old, here := lots[strings.ToLower(lot.Tag)]
		if here && fate.Fate == FateTaken {
			decideOld(&fate, d, lot, old, donors)
		}
		if fate.Fate == FateTaken {
			next := Decided{Row: i, Tagging: lot.Tagging, Measured: lot.Measured}
			if here {
				next.Old = &old
			}
			decided = append(decided, next)
		}
		fates[i] = fate
	}
	return fates, decided
}

// refuseFields turns messages by field into faults by column.
func refuseFields(fate *RowFate, lot LotIn, err error) {
	e := apperr.As(err)
	if e == nil {
		return
	}
	for _, f := range e.Fields {
		column := lot.column(strings.TrimRight(f.Name, "0123456789"))
		if !slices.ContainsFunc(fate.Faults, func(old Fault) bool { return old.Column == column }) {
			fate.refuse(column, "%s", f.Why)
		}
	}
}

// decideOld decides about a row whose tag hangs on a lot that is here.
func decideOld(fate *RowFate, d Drive, lot LotIn, old Lot, donors map[int64]string) {
	giver := ""
	if old.Donor != nil {
		giver = donors[*old.Donor]
	}
	if !strings.EqualFold(giver, lot.Donor) && giver != "" && lot.Donor != "" {
		fate.refuse(lot.column("donor"), "The code %s hangs on lot %d, given by somebody else. Look at the tag again.", lot.Tag, old.Number)
		return
	}
	if lot.Measured == nil {
		fate.unchanged(lot.Tagging.differs(old), "the lot")
		return
	}
	if !old.Measured() {
		return
	}
	first := lot.Measured.Cuts[0]
	total := 0
	for _, c := range lot.Measured.Cuts {
		total += c.Pieces
	}
	switch {
	case first.Length != *old.RawLength:
		fate.refuse(lot.column("length"), "The code %s hangs on lot %d, which is %s long. Correct it there, or give this lot a code of its own.",
			lot.Tag, old.Number, length.Format(*old.RawLength, d.Yardage()))
	case first.rawWidth() != *old.RawWidth:
		fate.refuse(lot.column("width"), "The code %s hangs on lot %d, which is %s wide. Correct it there, or give this lot a code of its own.",
			lot.Tag, old.Number, length.Format(*old.RawWidth, d.Unit))
	case total != old.PiecesCounted():
		fate.refuse(lot.column("pieces"), "The code %s hangs on lot %d, which has %d. Correct it there, or give this lot a code of its own.",
			lot.Tag, old.Number, old.PiecesCounted())
	default:
		fate.unchanged(append(lot.Tagging.differs(old), lot.Measured.differs(old)...), "the lot")
	}
}

// differs names what the row says and the lot says differently. What the row
// leaves empty it says nothing about.
func (t Tagging) differs(lot Lot) []string {
	var names []string
	for _, p := range []struct{ name, in, here string }{
		{"description", t.Kind, lot.Kind}, {"shelf", t.Shelf, lot.Shelf}, {"notes", t.Note, lot.Note},
	} {
		if p.in != "" && p.in != p.here {
			names = append(names, p.name)
		}
	}
	return names
}

// differs leaves out what is as good as unsaid: what was taken for granted because
// the row says nothing.
func (m Measured) differs(lot Lot) []string {
	in := m.tidy().Make
	return differing([]differ{
		{"fibre", in.Fibre == lot.Fibre || in.Fibre == FibreNotSure},
		{"washing", in.Washed == lot.Washed || !in.Washed},
		{"print", in.Print == lot.Print || in.Print == PrintFeature},
		{"turn", in.Turn == lot.Turn || in.Turn == TurnEither},
		{"border", in.Border == lot.Border || in.Border == ""},
		{"colours", slices.Equal(in.Colours, lot.Colours) || len(in.Colours) == 0},
		{"themes", slices.Equal(in.Themes, lot.Themes) || len(in.Themes) == 0},
	})
}
