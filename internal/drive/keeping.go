package drive

import (
	"fmt"
	"time"

	"boltward/internal/apperr"
)

// Keeping is how many months a drive keeps what is personal after it was last of
// use; nil: until an organiser forgets it.
type Keeping struct {
	People  *int `db:"people"`  // after the last thing they did or had
	Donors  *int `db:"donors"`  // after their last gift or thanks
	Writing *int `db:"writing"` // notes, who carried and confirmed: after the day they are about
	// Initials of helpers at passes and at work that is done: after that day.
	Initials *int `db:"initials"`
	// Things are photos and notes of cloth that is used up and of kits that are done with:
	// after the last that happened to them.
	Things  *int `db:"things"`
	Version int  `db:"version"` // 0: never set
}

// mostMonths is twenty years; longer than that is no limit.
const mostMonths = 240

// Check refuses, by field, months out of reason.
func (k Keeping) Check() error {
	var bad []apperr.Field
	for field, months := range map[string]*int{"people": k.People, "donors": k.Donors, "writing": k.Writing, "initials": k.Initials, "things": k.Things} {
		if months != nil && (*months < 1 || *months > mostMonths) {
			bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf("Give months, 1 to %d, or leave it empty.", mostMonths)})
		}
	}
	return apperr.InvalidFields(bad)
}

// Until gives the last moment before which something is past its months; ok is
// false where it is kept without end. Where that month has no such day, it is its last.
func Until(now time.Time, months *int) (at time.Time, ok bool) {
	if months == nil {
		return time.Time{}, false
	}
	at = now.AddDate(0, -*months, 0)
	if at.Day() != now.Day() {
		at = at.AddDate(0, 0, -at.Day())
	}
	return at, true
}

// PastKeeping is what a drive keeps longer than it wants to.
type PastKeeping struct {
	People     []Forgettable
	Donors     []Forgettable
	Deliveries []int64 // of which people's writing is kept
	// Notes is how many notes beside what was brought in, checked and laundered, and of
	// boxes that never left, are kept of days up to NotesUntil.
	Notes      int
	NotesUntil time.Time
	// Initials and Things are of how many things initials, and photos and notes, are kept of
	// days up to those.
	Initials      int
	InitialsUntil time.Time
	Things        int
	ThingsUntil   time.Time
}

// Empty says whether nothing is past its time.
func (p PastKeeping) Empty() bool {
	return len(p.People)+len(p.Donors)+len(p.Deliveries)+p.Notes+p.Initials+p.Things == 0
}

// Forgettable is somebody who would be forgotten, and when they were last of use.
type Forgettable struct {
	Number int64     `db:"number"`
	Name   string    `db:"name"`
	Last   time.Time `db:"last"`
}
