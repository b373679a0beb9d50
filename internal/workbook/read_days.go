package workbook

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"boltward/internal/length"
)

// day reads a date in the drive's custom; none where the cell is empty.
func (r *entry) day(name string) (*time.Time, bool) {
	cell := r.text(name)
	if cell == "" {
		return nil, false
	}
	day, ok := parseDay(cell, r.d.MonthFirst())
	if !ok {
		r.fault(name, "%q is no date that can be read; write it like 2026-10-24.", short(cell, 40))
		return nil, false
	}
	return &day, true
}

// parseDay reads a date: year first, or in words, or with the day first unless
// monthFirst; or the number by which a spreadsheet counts its days.
func parseDay(s string, monthFirst bool) (time.Time, bool) {
	s = strings.TrimSpace(s)
	if n, err := strconv.ParseFloat(s, 64); err == nil && n >= 20_000 && n < 80_000 {
		s = dayOfSerial(s, false)
	}
	return dayWritten(s, monthFirst)
}

func dayWritten(s string, monthFirst bool) (time.Time, bool) {
	if len(s) > 10 && s[10] == 'T' {
		s = s[:10]
	}
	s = strings.TrimSuffix(s, " 00:00:00")
	numbers := []string{"2.1.2006", "2/1/2006", "2-1-2006", "2.1.06", "2/1/06"}
	if monthFirst {
		numbers = []string{"1/2/2006", "1-2-2006", "1/2/06", "2.1.2006", "2.1.06"}
	}
	words := []string{"2006-1-2", "2006/1/2", "2006.1.2", "2 Jan 2006", "2 January 2006", "Jan 2 2006", "January 2 2006", "2-Jan-2006", "2-Jan-06", "2 Jan 06"}
	plain := strings.Join(strings.Fields(strings.ReplaceAll(s, ",", " ")), " ")
	for _, layout := range append(words, numbers...) {
		if day, err := time.Parse(layout, plain); err == nil {
			return day, true
		}
	}
	return time.Time{}, false
}

// Days and times as spreadsheets show them without a year, in English and German;
// compiled once and never changed.
var (
	dayAndMonth = regexp.MustCompile(`^(?i)(\d{1,2})[-. ]+(jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*\.?$`)
	monthAndDay = regexp.MustCompile(`^(?i)(jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*\.?[-. ]+(\d{1,4})$`)
	timeOfDay   = regexp.MustCompile(`^\d{1,2}:\d{2}(:\d{2})?( ?[AaPp][Mm])?$`)
)

// looksLikeDay finds a length that a spreadsheet made a day of: it takes 1/2 for
// the first of February or the second of January, and 2-1/2 for a day in 2002. A
// bare number is a day from the year 2000 to 2064 as spreadsheets count them: no
// cloth is that long in any unit but mm. It says what is wrong, in a sentence.
func looksLikeDay(cell string, unit length.Unit, monthFirst bool) (why string, is bool) {
	const help = "Make the cell text and type the length again, such as 2 1/2."
	if timeOfDay.MatchString(cell) {
		return fmt.Sprintf("%q is a time: the spreadsheet made one of what was typed. %s", cell, help), true
	}
	if dayAndMonth.MatchString(cell) || monthAndDay.MatchString(cell) {
		return fmt.Sprintf("%q is a date: the spreadsheet made one of what was typed. %s", cell, help), true
	}
	shown := strconv.Quote(short(cell, 20))
	if n, err := strconv.Atoi(cell); err == nil {
		if n < 36_526 || n >= 60_000 || unit == length.MM {
			return "", false
		}
		cell = dayOfSerial(cell, false)
		shown += " stands for " + cell + ", which"
	}
	day, ok := dayWritten(cell, monthFirst)
	if !ok {
		return "", false
	}
	return fmt.Sprintf("%s is a date: the spreadsheet made one of what was typed%s. %s", shown, perhaps(day, monthFirst), help), true
}

// perhaps guesses what was typed. With a whole number before the fraction the
// spreadsheet takes what is below the line for the year: 2-1/2 is in 2002.
func perhaps(day time.Time, monthFirst bool) string {
	first, second := day.Day(), int(day.Month())
	if monthFirst {
		first, second = second, first
	}
	switch below := day.Year() - 2000; {
	case (below == 2 || below == 4 || below == 8 || below == 16) && second < below:
		return fmt.Sprintf(", perhaps %d %d/%d", first, second, below)
	case below > 16 && first < second && (second <= 4 || second == 8 || second == 16):
		return fmt.Sprintf(", perhaps %d/%d", first, second)
	}
	return ""
}
