package site

import (
	"regexp"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// grouped is a count whose thousands are set apart. Where a comma is the decimal sign
// 2,5 is two and a half: read as 25 it would be taken without a word.
var grouped = regexp.MustCompile(`^[0-9]{1,3}([, ][0-9]{3})+$`)

// typedCount reads a count as somebody typed it: ifEmpty where nothing stands,
// and a message on the field for anything but a whole number up to a million.
func typedCount(problems map[string]string, name, typed string, ifEmpty int) int {
	if typed == "" {
		return ifEmpty
	}
	digits := strings.TrimSpace(typed)
	if grouped.MatchString(digits) {
		digits = strings.NewReplacer(",", "", " ", "").Replace(digits)
	}
	n, err := strconv.Atoi(digits)
	if err != nil || n < 0 || n > 1_000_000 {
		problem(problems, name, "Type a whole number such as 6.")
		return ifEmpty
	}
	return n
}

// dayForms are the ways a day is read; a date field sends the first.
func dayForms() []string {
	return []string{time.DateOnly, "2 Jan 2006", "2 January 2006", "2.1.2006", "Jan 2, 2006", "Jan 2 2006"}
}

// typedDay reads a day, nil where nothing stands.
func typedDay(problems map[string]string, name, typed string) *time.Time {
	if typed == "" {
		return nil
	}
	for _, form := range dayForms() {
		if at, err := time.Parse(form, typed); err == nil && at.Year() >= 1990 && at.Year() <= 2200 {
			return &at
		}
	}
	problem(problems, name, "Type a day such as 2026-12-14 or 14 Dec 2026.")
	return nil
}

// typedNumber reads the number of something chosen from a list, 0 for none.
func typedNumber(typed string) int64 {
	n, ok := wholeNumber(typed)
	if !ok {
		return 0
	}
	return n
}

// adopt puts the messages of a refusal beside their fields; it says no where err
// is not about fields, so that it is answered as it is.
func adopt(problems map[string]string, err error) bool {
	fields := apperr.Fields(err)
	for name, why := range fields {
		problem(problems, name, "%s", why)
	}
	return fields != nil
}
