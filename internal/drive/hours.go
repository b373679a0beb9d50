package drive

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// Hours is time that somebody gave on one day: Heads people, Minutes all together.
type Hours struct {
	Number  int64     `db:"number"`
	Person  int64     `db:"person"`
	Day     time.Time `db:"day"`
	Doing   string    `db:"doing"`
	Heads   int       `db:"heads"`
	Minutes int       `db:"minutes"`
}

// HoursDoing are the kinds of work in the order a form offers them.
func HoursDoing() []string { return []string{"sewing", "cutting", "checking", "at the table", "other"} }

// mostMinutes is what one head can give in a day.
const mostMinutes = 24 * 60

// Check says what is wrong by field. today is the day in the drive's zone.
func (h Hours) Check(today time.Time) error {
	var bad []apperr.Field
	refuse := func(field, why string) { bad = append(bad, apperr.Field{Name: field, Why: why}) }
	if why := wrongDay(h.Day, today); why != "" {
		refuse("hours_day", why)
	}
	if !slices.Contains(HoursDoing(), h.Doing) {
		refuse("doing", "Choose what was done.")
	}
	if h.Heads < 1 || h.Heads > 5000 {
		refuse("worked", "Give how many people, 1 to 5000.")
	} else if h.Minutes < 1 || h.Minutes > mostMinutes*h.Heads {
		refuse("hours", "Give more than nothing and at most 24 hours for each of them.")
	}
	return apperr.InvalidFields(bad)
}

var (
	clockHours = regexp.MustCompile(`^(\d{1,4}):([0-5]\d)$`)
	wordHours  = regexp.MustCompile(`^(?:(\d{1,4}(?:[.,]\d{1,2})?)\s*(?:h|hr|hrs|hours?))?\s*(?:(\d{1,5})\s*(?:m|min|mins|minutes?))?$`)
	plainHours = regexp.MustCompile(`^\d{1,4}(?:[.,]\d{1,2})?$`)
)

// ParseHours reads time as people write it: 2, 2.5, 1:30, 90 min, 1 h 30 min. A
// bare number is hours. Anything else is an invalid "hours".
func ParseHours(typed string) (minutes int, err error) {
	typed = strings.ToLower(strings.Join(strings.Fields(typed), " "))
	if m := clockHours.FindStringSubmatch(typed); m != nil {
		return wholeMinutes(m[1], m[2])
	}
	if plainHours.MatchString(typed) {
		return wholeMinutes(typed, "")
	}
	if m := wordHours.FindStringSubmatch(typed); m != nil && m[0] != "" {
		return wholeMinutes(m[1], m[2])
	}
	return 0, apperr.Invalid("hours", "Time is written 2, 2.5, 1:30 or 90 min.")
}

// wholeMinutes adds hours, perhaps with decimals, and minutes; both were matched.
func wholeMinutes(hours, minutes string) (int, error) {
	total := 0
	if hours != "" {
		whole, part, _ := strings.Cut(strings.ReplaceAll(hours, ",", "."), ".")
		n, err := strconv.Atoi(whole)
		if err != nil {
			return 0, apperr.Invalid("hours", "Time is written 2, 2.5, 1:30 or 90 min.")
		}
		total = 60 * n
		if part != "" {
			hundredths, err := strconv.Atoi((part + "0")[:2])
			if err != nil {
				return 0, apperr.Invalid("hours", "Time is written 2, 2.5, 1:30 or 90 min.")
			}
			total += (60*hundredths + 50) / 100
		}
	}
	if minutes != "" {
		n, err := strconv.Atoi(minutes)
		if err != nil {
			return 0, apperr.Invalid("hours", "Time is written 2, 2.5, 1:30 or 90 min.")
		}
		total += n
	}
	return total, nil
}

// HoursText writes minutes as hours: 2 h, 1 h 30 min, 45 min.
func HoursText(minutes int) string {
	switch h, m := minutes/60, minutes%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}
