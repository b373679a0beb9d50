package drive

import (
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
)

// ReportKind is what a holder says of a kit.
type ReportKind string

// What can be said of a kit by whoever has it.
const (
	ReportFinished ReportKind = "finished" // so many pillowcases are sewn, and still at home
	ReportLonger   ReportKind = "longer"   // another day is asked for
	ReportCannot   ReportKind = "cannot"   // somebody else should sew the rest
)

// Replaces gives what of a kit no longer stands once this is said of it: the same as it was said before, and who
// cannot finish needs no longer, nor the other way round.
func (k ReportKind) Replaces() []ReportKind {
	if k == ReportLonger || k == ReportCannot {
		return []ReportKind{ReportLonger, ReportCannot}
	}
	return []ReportKind{k}
}

// KitReport is what a holder says of a kit they have. It moves nothing: the kit
// is with them until somebody takes it back.
type KitReport struct {
	KitRef
	Person int64
	Kind   ReportKind
	Cases  int        // finished so far, of ReportFinished
	Until  *time.Time // of ReportLonger
	Note   string
}

// StandingReport is what was said of a kit and still stands.
type StandingReport struct {
	Report int64 `db:"report"`
	KitRef
	Person int64      `db:"person"`
	Name   string     `db:"name"` // of the person
	Kind   ReportKind `db:"kind"`
	Done   int        `db:"done"` // finished so far
	Until  *time.Time `db:"until"`
	Note   string     `db:"said"`
	At     time.Time  `db:"said_at"`
}

// The longest note of a report, and the furthest day that can be asked for.
const (
	ReportNote = 500
	ReportDays = 366
)

// ReportFault is what is wrong with a report; empty where nothing is.
type ReportFault string

// What can be wrong with a report.
const (
	ReportGone    ReportFault = "gone"     // the kit is not with whoever says it
	ReportUnknown ReportFault = "unknown"  // no such kind
	ReportNone    ReportFault = "none"     // less than one pillowcase
	ReportMore    ReportFault = "more"     // more than the kit holds
	ReportNoDay   ReportFault = "no day"   // no day is given
	ReportPast    ReportFault = "past"     // a day that has passed, or today
	ReportSooner  ReportFault = "sooner"   // no day after the one agreed
	ReportFar     ReportFault = "far"      // a day more than ReportDays away
	ReportLong    ReportFault = "too long" // a note longer than ReportNote
)

// Field gives the field that the fault is about.
func (f ReportFault) Field() string {
	switch f {
	case ReportNone, ReportMore:
		return "finished"
	case ReportNoDay, ReportPast, ReportSooner, ReportFar:
		return "until"
	case ReportLong:
		return "note"
	}
	return ""
}

// Report says whether a holder may say this of the kit on a day.
func (k Kit) Report(r KitReport, today time.Time) ReportFault {
	if k.State != KitOut || k.Holder == nil || *k.Holder != r.Person {
		return ReportGone
	}
	if utf8.RuneCountInString(r.Note) > ReportNote {
		return ReportLong
	}
	switch r.Kind {
	case ReportCannot:
		return ""
	case ReportFinished:
		if r.Cases < 1 {
			return ReportNone
		}
		if r.Cases > k.Cases {
			return ReportMore
		}
		return ""
	case ReportLonger:
		if r.Until == nil {
			return ReportNoDay
		}
		if days := daysBetween(today, *r.Until); days <= 0 {
			return ReportPast
		} else if days > ReportDays {
			return ReportFar
		}
		if k.Due != nil && !r.Until.After(*k.Due) {
			return ReportSooner
		}
		return ""
	}
	return ReportUnknown
}

// Refuse turns a fault into the error for people who run the drive; nil where
// nothing is wrong.
func (f ReportFault) Refuse(k Kit) error {
	switch f {
	case "":
		return nil
	case ReportGone:
		return apperr.Conflict("Kit %s %s, so nothing was noted.", k.KitRef, k.Where())
	case ReportNone:
		return apperr.Invalid(f.Field(), "Give how many are finished, 1 or more.")
	case ReportMore:
		return apperr.Invalid(f.Field(), "The kit holds %d.", k.Cases)
	case ReportNoDay:
		return apperr.Invalid(f.Field(), "Give a day.")
	case ReportPast:
		return apperr.Invalid(f.Field(), "Give a day that is still to come.")
	case ReportSooner:
		return apperr.Invalid(f.Field(), "The kit is due on %s: give a day after that.", dayWords(*k.Due))
	case ReportFar:
		return apperr.Invalid(f.Field(), "Give a day within a year.")
	case ReportLong:
		return apperr.Invalid(f.Field(), "Keep it to %d characters.", ReportNote)
	}
	return apperr.Invalid(f.Field(), "Say whether it is finished, needs longer, or cannot be finished.")
}
