package drive

import (
	"fmt"
	"time"

	"boltward/internal/apperr"
)

// SignedOut is one row of a sign-out sheet: a kit that somebody took.
type SignedOut struct {
	Row    int // on the sheet, from 1
	Kit    KitRef
	Person int64
	Due    *time.Time
}

// MostSignedOut is how many rows of sign-out sheets are typed in at once.
const MostSignedOut = 60

// SignedOutField names a cell of a sign-out sheet, for what is wrong with it: kit,
// name or due of a row.
func SignedOutField(row int, cell string) string { return fmt.Sprintf("%s-%d", cell, row) }

// CheckSignedOut says what is wrong with rows by cell before any is looked up: a kit
// that stands on two rows, a day that cannot be. day is when they were taken.
func CheckSignedOut(rows []SignedOut, day, today time.Time) error {
	var bad []apperr.Field
	if why := wrongDay(day, today); why != "" {
		bad = append(bad, apperr.Field{Name: "day", Why: why})
	}
	first := map[KitRef]int{}
	for _, r := range rows {
		if on, again := first[r.Kit]; again {
			bad = append(bad, apperr.Field{Name: SignedOutField(r.Row, "kit"), Why: fmt.Sprintf("Kit %s stands on row %d too. Look at the paper again.", r.Kit, on)})
		} else {
			first[r.Kit] = r.Row
		}
		if why := wrongDueDay(day, r.Due); why != "" {
			bad = append(bad, apperr.Field{Name: SignedOutField(r.Row, "due"), Why: why})
		}
	}
	return apperr.InvalidFields(bad)
}
