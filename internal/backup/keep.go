package backup

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// Keep is how many backups stay: the last of each of so many days, weeks and months that
// have one, weeks as ISO 8601 has them, all in UTC.
type Keep struct{ Days, Weeks, Months int }

// UsualKeep goes a year back.
func UsualKeep() Keep { return Keep{Days: 7, Weeks: 5, Months: 12} }

var oneKeep = regexp.MustCompile(`^([0-9]{1,3})([dwm])$`)

// ParseKeep reads "7d 5w 12m", any of them left out for none; field is where it was given.
func ParseKeep(field, text string) (Keep, error) {
	var k Keep
	seen := map[string]bool{}
	for _, word := range strings.Fields(text) {
		part := oneKeep.FindStringSubmatch(word)
		if part == nil || seen[part[2]] {
			return Keep{}, apperr.Invalid(field, "%q says not how many to keep: 7d 5w 12m keeps the last of 7 days, 5 weeks and 12 months.", text)
		}
		seen[part[2]] = true
		n, _ := strconv.Atoi(part[1]) // at most three digits
		*map[string]*int{"d": &k.Days, "w": &k.Weeks, "m": &k.Months}[part[2]] = n
	}
	if k == (Keep{}) {
		return Keep{}, apperr.Invalid(field, "It keeps none: 7d 5w 12m keeps the last of 7 days, 5 weeks and 12 months.")
	}
	return k, nil
}

// String writes it as ParseKeep reads it.
func (k Keep) String() string { return fmt.Sprintf("%dd %dw %dm", k.Days, k.Weeks, k.Months) }

// Stay says which of the backups made at these times stay. The newest always does, and so
// does whatever was made within a day before it.
func (k Keep) Stay(made []time.Time) []bool {
	newest := make([]int, len(made))
	for i := range newest {
		newest[i] = i
	}
	slices.SortStableFunc(newest, func(a, b int) int { return made[b].Compare(made[a]) })
	stay := make([]bool, len(made))
	for _, of := range []struct {
		n    int
		span func(time.Time) string
	}{
		{k.Days, func(t time.Time) string { return t.Format("2006-01-02") }},
		{k.Weeks, func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprint(y, w) }},
		{k.Months, func(t time.Time) string { return t.Format("2006-01") }},
	} {
		last, spans := "", 0
		for _, i := range newest {
			span := of.span(made[i].UTC())
			if span == last {
				continue
			}
			if spans == of.n {
				break
			}
			last, stay[i] = span, true
			spans++
		}
	}
	for _, i := range newest {
		stay[i] = stay[i] || i == newest[0] || made[newest[0]].Sub(made[i]) < 24*time.Hour
	}
	return stay
}
