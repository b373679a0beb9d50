// Package drive holds the records, states and rules of a sewing drive. It is
// pure: given values it decides, and whoever keeps the values writes what was
// decided. Lengths are length.Length, dates are days at midnight UTC, and
// nothing here reads a clock.
package drive

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"time"
)

// Act is one wish to change something: who, when, in which drive, and the key
// that makes a repeated wish the same wish. Every method that writes takes one.
type Act struct {
	Drive    string    // the drive's id; empty only where a drive is being made
	Who      int64     // the account; 0 for the command line
	Initials string    // of who asks: what is signed has these where nobody typed others
	Link     string    // whose personal link it is, as "person 12", where nobody has signed in
	Key      string    // idempotency key, never empty
	At       time.Time // when the person asked
	Request  string    // number of the request, for the logs
	// Form is a fingerprint of the form by which they ask, as it was sent, without the passwords
	// in it; nil where there is no form. Whether a second sending is the same wish is told by
	// this alone: what a method is given may be worked out from the day and from how things
	// stand, and both may have moved on by then.
	Form []byte
}

// Hash is the fingerprint of what is asked for under the act's key, so that
// the same key with another wish is noticed: of the form, where there is one, else of
// the body. It fails on a body that JSON cannot hold.
func (a Act) Hash(operation string, body any) ([]byte, error) {
	if a.Form != nil {
		body = a.Form
	}
	text, err := json.Marshal(body)
	if err != nil {
		return nil, fmt.Errorf("fingerprint of %s: %w", operation, err)
	}
	sum := sha256.Sum256(append([]byte(operation+"\n"), text...))
	return sum[:], nil
}

// Day is the date in the drive's own time zone at a moment, as midnight UTC.
func Day(at time.Time, zone *time.Location) time.Time {
	y, m, d := at.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// DayBegins is the moment at which a day, midnight UTC as Day gives it, begins in a zone. Where
// clocks go forward at midnight that is an hour later: there is no midnight that night.
func DayBegins(day time.Time, zone *time.Location) time.Time {
	y, m, d := day.Date()
	at := time.Date(y, m, d, 0, 0, 0, 0, zone)
	if at.Day() != d {
		at = at.Add(time.Hour) // for a moment that is not, Date gives one of the two beside it
	}
	return at
}
