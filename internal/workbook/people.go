package workbook

import (
	"io"
	"strconv"
	"time"

	"boltward/internal/drive"
)

// PersonLine is somebody who sews as the list of people has them.
type PersonLine struct {
	drive.Person
	drive.Contacts
	Kits, Cases int // they have
	Done        int // pillowcases sewn
	Minutes     int // given
}

// WritePeople writes the list of those who sew as CSV (RFC 4180), under headings
// that a list of people is brought in by; without how to reach them where contacts
// says no.
func WritePeople(w io.Writer, lines []PersonLine, contacts bool) error {
	head := []string{
		"Name", "Kind", "Heads", "Pickup", "French seam", "Overlocker", "Beginner", "Pillowcases a week", "Language", "Smoke at home", "Pets at home", "Notes",
	}
	if contacts {
		head = append(head, "Contact", "Email", "Phone", "Address", "Agreed on")
	}
	head = append(head, "Number", "Sews now", "Kits they have", "Pillowcases they have", "Pillowcases sewn", "Hours given")
	rows := make([][]string, 0, len(lines))
	for _, l := range lines {
		row := []string{
			l.Name, string(l.Kind), strconv.Itoa(l.Heads), l.Pickup, yesNo(l.FrenchSeam), yesNo(l.Overlocker), yesNo(l.Beginner), countOf(l.Pace),
			l.Language, string(l.Smoke), string(l.Pets), l.Note,
		}
		if contacts {
			row = append(row, l.Contact, l.Email, l.Phone, l.Address, dayOf(l.AgreedOn))
		}
		hours := strconv.FormatFloat(float64(l.Minutes)/60, 'f', -1, 64)
		if l.Minutes%60 != 0 {
			hours = strconv.FormatFloat(float64(l.Minutes)/60, 'f', 2, 64)
		}
		row = append(row, strconv.FormatInt(l.Number, 10), yesNo(l.Active), strconv.Itoa(l.Kits), strconv.Itoa(l.Cases), strconv.Itoa(l.Done), hours)
		rows = append(rows, row)
	}
	return WriteCSV(w, head, rows)
}

func countOf(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

func dayOf(day *time.Time) string {
	if day == nil {
		return ""
	}
	return day.Format(time.DateOnly)
}
