package drive

import (
	"fmt"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// MostTally is how many lots are typed in at once from a paper tally.
const MostTally = 60

// JudgeTally decides about rows that somebody typed in from paper, as JudgeFabric
// does about those of a file. A lot needs no tag here. A tag that hangs on a lot
// which waits to be measured gives that lot the row's size; on any other it is
// refused, because nobody writes a tally twice on purpose.
func JudgeTally(d Drive, today time.Time, rows []Incoming[LotIn], lots map[string]Lot, donors map[int64]string) ([]RowFate, []Decided) {
	fates := make([]RowFate, len(rows))
	var decided []Decided
	tags := seen{}
	for i, row := range rows {
		lot := row.Value
		lot.Tagging = lot.Tagging.Tidy()
		fate := judge(row)
		if lot.Tag != "" {
			if first, again := tags.again(lot.Tag, row.Line); again {
				fate.refuse(lot.column("tag"), "The tag %s stands in row %d already.", lot.Tag, first)
			}
		}
		refuseFields(&fate, lot, lot.Tagging.Check(today))
		if lot.Measured != nil {
			// Trying it on an empty lot finds whatever the store would refuse.
			_, err := Measure(d, Lot{}, *lot.Measured, 1)
			refuseFields(&fate, lot, err)
		}
		next := Decided{Row: i, Tagging: lot.Tagging, Measured: lot.Measured}
		if old, here := lots[strings.ToLower(lot.Tag)]; here && lot.Tag != "" {
			measureTagged(&fate, &next, lot, old, donors)
		}
		if fate.Fate == FateTaken {
			decided = append(decided, next)
		}
		fates[i] = fate
	}
	return fates, decided
}

// measureTagged decides about a row whose tag hangs on a lot that is here.
func measureTagged(fate *RowFate, next *Decided, lot LotIn, old Lot, donors map[int64]string) {
	giver := ""
	if old.Donor != nil {
		giver = donors[*old.Donor]
	}
	switch {
	case old.Measured():
		fate.refuse(lot.column("tag"), "The tag %s hangs on lot %d, which is measured already.", lot.Tag, old.Number)
	case lot.Measured == nil:
		fate.refuse(lot.column("tag"), "The tag %s hangs on lot %d already. Give its size to measure it, or look at the tag again.", lot.Tag, old.Number)
	case giver != "" && lot.Donor != "" && !SameName(giver, lot.Donor):
		fate.refuse(lot.column("donor"), "The tag %s hangs on lot %d, given by %s. Look at the tag again.", lot.Tag, old.Number, giver)
	default:
		measured := *lot.Measured
		if lot.Shelf != "" {
			measured.Shelf = &lot.Shelf
		}
		next.Old, next.Measured = &old, &measured
	}
}

// TallyField names the field of a row of a tally in a form: row3_length.
func TallyField(row int, field string) string { return fmt.Sprintf("row%d_%s", row, field) }

// TallyProblems gives what is wrong with the rows of a tally, by the field of each;
// nil where nothing is. Rows carry their fields' own names as columns.
func TallyProblems(fates []RowFate) error {
	var bad []apperr.Field
	for _, f := range fates {
		for _, fault := range f.Faults {
			bad = append(bad, apperr.Field{Name: TallyField(f.Line, fault.Column), Why: fault.Why})
		}
	}
	return apperr.InvalidFields(bad)
}
