package drive

import (
	"time"

	"boltward/internal/apperr"
)

// UsualLead is how many days before its day a month's line comes, where nobody says otherwise.
const UsualLead = 28

// StandingAsk is what a recipient asks for every month until it ends. Line is what each month's line is like;
// its Due is the first month's day, and the others are due on the same day of their months, or on
// the last one of a shorter month.
type StandingAsk struct {
	Number   int64
	Line     Asked
	LeadDays int // a month's line comes so many days before it is due
	Until    *time.Time
	Ended    bool
	Version  int
}

// Check says what is wrong with a standing request before it is kept, by field.
func (s StandingAsk) Check(today time.Time) error {
	if s.Line.Due == nil {
		return apperr.Invalid("due", "Say the day on which the first month's are due.")
	}
	if err := s.Line.Check(today, nil); err != nil {
		return err
	}
	if s.LeadDays < 0 || s.LeadDays > 180 {
		return apperr.Invalid("lead", "Give 0 to 180 days.")
	}
	return s.checkUntil()
}

func (s StandingAsk) checkUntil() error {
	if s.Until != nil && s.Until.Before(*s.Line.Due) {
		return apperr.Invalid("until", "That is before the first month's day, %s. Give a later day, or leave it empty.", dayWords(*s.Line.Due))
	}
	return nil
}

// Change gives the request with another number wanted and another end: of the lines still to come.
func (s StandingAsk) Change(wanted int, until *time.Time) (StandingAsk, error) {
	if s.Ended {
		return s, apperr.Conflict("This request has ended. Ask anew.")
	}
	if wanted < 1 || wanted > 100_000 {
		return s, apperr.Invalid("wanted", "Ask for 1 to 100,000 pillowcases.")
	}
	s.Line.Wanted, s.Until = wanted, until
	return s, s.checkUntil()
}

// Due gives the days of the months whose lines should be there on a day.
func (s StandingAsk) Due(today time.Time) []time.Time {
	var days []time.Time
	for k := 0; !s.Ended; k++ {
		day := s.due(k)
		if s.Until != nil && day.After(*s.Until) || day.AddDate(0, 0, -s.LeadDays).After(today) {
			break
		}
		days = append(days, day)
	}
	return days
}

// Next is the day of the first month whose line has not come by a day; nil where none will.
func (s StandingAsk) Next(today time.Time) *time.Time {
	next := s.due(len(s.Due(today)))
	if s.Ended || s.Until != nil && next.After(*s.Until) {
		return nil
	}
	return &next
}

func (s StandingAsk) due(month int) time.Time {
	year, first, day := s.Line.Due.Date()
	last := time.Date(year, first+time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
	return time.Date(year, first+time.Month(month), min(day, last), 0, 0, 0, 0, time.UTC)
}

// MonthOf is the first day of a day's month.
func MonthOf(day time.Time) time.Time {
	return time.Date(day.Year(), day.Month(), 1, 0, 0, 0, 0, time.UTC)
}
