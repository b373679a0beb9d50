package drive

import (
	"iter"
	"time"

	"boltward/internal/apperr"
)

// Books is everything a committee or an auditor reads, from one day to another,
// both included. What stands, stands as at the end of the last day. Each list is
// gone through once, row by row as the store gives it, and ends at the first error.
type Books struct {
	Drive         Drive
	From, To      time.Time
	MadeAt        time.Time
	Contacts      bool // how to reach people stands in them
	Asked         iter.Seq2[BookLine, error]
	AskedChanges  iter.Seq2[BookAskedChange, error]
	Fabric        iter.Seq2[BookLot, error]
	FabricEntries iter.Seq2[BookFabricEntry, error]
	Kits          iter.Seq2[BookKit, error]
	KitEntries    iter.Seq2[BookKitEntry, error]
	Cases         iter.Seq2[BookCases, error]
	CaseStates    iter.Seq2[BookCaseState, error]
	CaseEntries   iter.Seq2[BookCaseEntry, error]
	Checks        iter.Seq2[BookCheck, error]
	Reasons       iter.Seq2[BookReason, error]
	Laundry       iter.Seq2[BookWash, error]
	Deliveries    iter.Seq2[BookDelivery, error]
	Boxes         iter.Seq2[BookBox, error]
	Gifts         iter.Seq2[BookGift, error]
	People        iter.Seq2[BookPerson, error]
	Hours         iter.Seq2[BookHours, error]
}

// LateOn is the day by which kits count as late: the last of the period, or the day on which
// the books were made where that is earlier, since nothing is late on a day yet to come.
func (b Books) LateOn() time.Time {
	if made := Day(b.MadeAt, b.Drive.Location()); made.Before(b.To) {
		return made
	}
	return b.To
}

// mostYears is the longest period that books are made of.
const mostYears = 50

// CheckPeriod refuses days that do not make a period, by field.
func CheckPeriod(from, to time.Time) error {
	switch {
	case from.Year() < 1990 || from.Year() > 2200:
		return apperr.Invalid("from", "Look at the year of the first day again: it is one from 1990 to 2200.")
	case to.Year() < 1990 || to.Year() > 2200:
		return apperr.Invalid("to", "Look at the year of the last day again: it is one from 1990 to 2200.")
	case to.Before(from):
		return apperr.Invalid("to", "The last day is before the first.")
	case to.After(from.AddDate(mostYears, 0, 0)):
		return apperr.Invalid("from", "That is more than %d years. Look at the years again.", mostYears)
	}
	return nil
}

// Period is days that books are often made of, both included.
type Period struct {
	Name     string
	From, To time.Time
}

// BooksFrom gives the first day of all books as of today, for a drive of which this is the
// first day that anything is noted of. A year that was mistyped somewhere does not keep
// anybody from the books.
func BooksFrom(began, today time.Time) time.Time {
	if today.Before(began) {
		began = today
	}
	for _, first := range []time.Time{time.Date(1990, time.January, 1, 0, 0, 0, 0, time.UTC), today.AddDate(-mostYears, 0, 0)} {
		if began.Before(first) {
			began = first
		}
	}
	return began
}

// Periods gives the usual ones as of today, for a drive of which this is the first day that
// anything is noted of.
func Periods(began, today time.Time) []Period {
	month := time.Date(today.Year(), today.Month(), 1, 0, 0, 0, 0, time.UTC)
	year := time.Date(today.Year(), time.January, 1, 0, 0, 0, 0, time.UTC)
	return []Period{
		{"This month", month, today},
		{"Last month", month.AddDate(0, -1, 0), month.AddDate(0, 0, -1)},
		{"This year", year, today},
		{"Last year", year.AddDate(-1, 0, 0), year.AddDate(0, 0, -1)},
		{"All", BooksFrom(began, today), today},
	}
}
