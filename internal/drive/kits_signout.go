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
	On     *time.Time // taken on; nil: on the day of the sheet
	Due    *time.Time
}

// SignOutRows is how many rows a printed sign-out sheet has: with 10 mm each there is room to
// write. The page that types sheets in shows whole sheets too.
const SignOutRows = 14

// MostSignedOut is how many rows of sign-out sheets are typed in at once.
const MostSignedOut = 40 * SignOutRows

// Day is when the row's kit was taken, of a sheet of that day.
func (r SignedOut) Day(sheet time.Time) time.Time {
	if r.On != nil {
		return *r.On
	}
	return sheet
}

// SignedOutField names a cell of a sign-out sheet, for what is wrong with it: kit,
// name, on or due of a row.
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
		if why := wrongDay(r.Day(day), today); why != "" && r.On != nil {
			bad = append(bad, apperr.Field{Name: SignedOutField(r.Row, "on"), Why: why})
		}
		if why := wrongDueDay(r.Day(day), r.Due); why != "" {
			bad = append(bad, apperr.Field{Name: SignedOutField(r.Row, "due"), Why: why})
		}
	}
	return apperr.InvalidFields(bad)
}
