package mail

import (
	"time"

	"boltward/internal/drive"
	"boltward/internal/words"
)

// Reminder writes a reminder from how its kits stand on a day. address is that of the
// person's own page, empty where they have none; l is the language they read.
func Reminder(r drive.Reminder, d drive.Drive, rules drive.ReminderRules, today time.Time, address string, l words.Language) words.Message {
	f := words.ReminderFacts{
		Name: r.Name, Drive: d.Name, From: rules.FromName, Why: words.Reminding(r.Why(today)), Address: address, Stop: StopAddress(address),
	}
	for _, k := range r.Kits {
		kit := words.ReminderKitFacts{Kit: k.String(), Cases: k.Cases, Size: k.Size}
		if k.Due != nil {
			kit.Due = l.Date(*k.Due)
		}
		f.Kits = append(f.Kits, kit)
	}
	return l.Reminder(f)
}

// StopAddress gives the page on which somebody ends reminders, beside their own page.
func StopAddress(address string) string {
	if address == "" {
		return ""
	}
	return address + "/reminders"
}
