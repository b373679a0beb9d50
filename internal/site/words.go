package site

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// functions are what every template can call.
func functions() template.FuncMap {
	functions := fieldFunctions()
	functions["empty"] = newEmpty
	functions["plural"] = plural
	functions["num"] = number
	functions["add"] = func(a, b int) int { return a + b }
	functions["day"] = day
	functions["dayOr"] = dayOr
	functions["length"] = lengthIn
	functions["onSheet"] = func(v *view, sheet cutSheet) onSheet { return onSheet{v, sheet} }
	functions["inChange"] = func(v *view, of any) inChange { return inChange{v, of} }
	functions["onPrint"] = func(v *view, role string, lot eyeLot) onPrint { return onPrint{v, role, lot} }
	functions["inReminder"] = func(v *view, row reminderRow) inReminder { return inReminder{v, row} }
	functions["reports"] = func(v *view, said []drive.StandingReport) saidReports { return saidReports{v, said} }
	functions["backups"] = func(v *view, part *backupsPart) backupsOn { return backupsOn{v, part} }
	functions["scanBox"] = func(v *view, id string) scanBox { return scanBox{v.Path("scan"), id} }
	functions["itself"] = byItself
	functions["ranges"] = drive.Ranges
	functions["items"] = items
	functions["join"] = func(words []string) string { return strings.Join(words, ", ") }
	functions["stopped"] = stopped
	functions["sentences"] = func(said []string) string { return strings.Join(said, "; ") }
	return functions
}

// items writes words as the items of a list.
func items(words []string) template.HTML {
	var m markup
	for _, said := range words {
		m.put("<li>").text(said).put("</li>")
	}
	return m.html()
}

// stopped ends words with a full stop, where whoever typed them has set none.
func stopped(said string) string {
	if strings.HasSuffix(said, ".") || strings.HasSuffix(said, "!") || strings.HasSuffix(said, "?") {
		return said
	}
	return said + "."
}

// emptyState is what a list says before there is anything in it.
type emptyState struct{ Title, Text, Link, Act string }

// newEmpty makes what an empty list says; the link and its words may be empty.
func newEmpty(title, text, link, act string) emptyState { return emptyState{title, text, link, act} }

// plural writes a count with its noun: 1 kit, 3 kits, 1,204 kits.
func plural(n any, one, many string) (string, error) {
	text, err := number(n)
	if err != nil {
		return "", err
	}
	if text == "1" {
		return "1 " + one, nil
	}
	return text + " " + many, nil
}

// number writes a whole number with its thousands apart: 1,204.
func number(n any) (string, error) {
	var value int64
	switch n := n.(type) {
	case int:
		value = int64(n)
	case int32:
		value = int64(n)
	case int64:
		value = n
	default:
		return "", fmt.Errorf("%T is not a whole number", n)
	}
	return thousands(value), nil
}

// thousands writes a whole number with its thousands apart.
func thousands(value int64) string {
	digits := strconv.FormatInt(value, 10)
	sign := ""
	if value < 0 {
		sign, digits = "−", digits[1:]
	}
	for at := len(digits) - 3; at > 0; at -= 3 {
		digits = digits[:at] + "," + digits[at:]
	}
	return sign + digits
}

// day writes a date, which stands at midnight UTC: 14 Dec 2026.
func day(at time.Time) template.HTML {
	return template.HTML(at.Format(`<time datetime="2006-01-02">2 Jan 2006</time>`))
}

// dayOr writes a date that may be missing: a zero time, or a pointer to none.
func dayOr(at any, none string) (template.HTML, error) {
	switch at := at.(type) {
	case time.Time:
		return dayOf(&at, none), nil
	case *time.Time:
		return dayOf(at, none), nil
	}
	return "", fmt.Errorf("%T is not a date", at)
}

// dayOf is dayOr where it is known what the date is.
func dayOf(at *time.Time, none string) template.HTML {
	if at == nil || at.IsZero() {
		return template.HTML(template.HTMLEscapeString(none))
	}
	return day(*at)
}

// moment writes date and time of day in a zone: 14 Dec 2026, 15:04.
func moment(at time.Time, zone *time.Location) template.HTML {
	local := at.In(zone)
	return template.HTML(fmt.Sprintf(`<time datetime="%s">%s</time>`, local.Format(time.RFC3339), local.Format("2 Jan 2006, 15:04")))
}

// lengthIn writes a length in a unit; the other unit shows on hover and in print.
func lengthIn(l length.Length, u length.Unit) template.HTML {
	return besides(length.Format(l, u), length.Other(l, u))
}

// besides shows a text with another to be seen on hover and in print.
func besides(text, other string) template.HTML {
	return template.HTML(fmt.Sprintf(`<span class="other" title="%s">%s</span>`, template.HTMLEscapeString(other), template.HTMLEscapeString(text)))
}

// wholeNumber reads a positive number as an address writes it: digits alone.
func wholeNumber(text string) (int64, bool) {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n <= 0 || strconv.FormatInt(n, 10) != text {
		return 0, false
	}
	return n, true
}
