package drive

import (
	"fmt"
	"slices"
	"time"

	"boltward/internal/apperr"
)

// ReminderRules is when a drive reminds those who have kits, and how.
type ReminderRules struct {
	On         bool
	SoonDays   int            // so many days before the day; 0: never
	LateDays   int            // so many days after it; 0: never
	SilentDays int            // so many days after anything was heard; 0: never
	Quiet      []time.Weekday // on which nobody is reminded
	ByItself   bool           // by e-mail without a person, where SMTP is set
	FromName   string         // who signs; empty: the drive's name
	ReplyTo    string         // where answers go; empty: no address is given
	Version    int
}

// ReminderEvery is how many days lie between two reminders to one person, at least.
const ReminderEvery = 7

// RemindFrom and RemindUntil are the hours of the drive's day between which rules
// remind: a message at night helps nobody.
const (
	RemindFrom  = 9
	RemindUntil = 19
)

// UsualReminderRules is what a drive begins with: off until somebody turns it on.
func UsualReminderRules() ReminderRules {
	return ReminderRules{SoonDays: 3, LateDays: 2, SilentDays: 28, Quiet: []time.Weekday{time.Saturday, time.Sunday}}
}

// Check says what is wrong with the rules, by field.
func (r ReminderRules) Check() error {
	var bad []apperr.Field
	days := func(field string, n, most int) {
		if n < 0 || n > most {
			bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf("Give 1 to %d days, or 0 for never.", most)})
		}
	}
	days("soon", r.SoonDays, 60)
	days("late", r.LateDays, 60)
	days("silent", r.SilentDays, 365)
	if len(r.Quiet) > 6 {
		bad = append(bad, apperr.Field{Name: "quiet", Why: "Leave at least one day on which people may be reminded, or turn reminders off."})
	}
	bad = append(bad, tooLong("from", r.FromName, 120)...)
	if r.ReplyTo != "" {
		for _, f := range (Contacts{Email: r.ReplyTo}).check() {
			bad = append(bad, apperr.Field{Name: "reply", Why: f.Why})
		}
	}
	if r.ByItself && r.ReplyTo == "" {
		bad = append(bad, apperr.Field{Name: "reply", Why: "People answer reminders: give the address where somebody reads it."})
	}
	return apperr.InvalidFields(bad)
}

// ReminderKind is why somebody is reminded.
type ReminderKind string

// The reasons, the most pressing first.
const (
	RemindLate   ReminderKind = "late"
	RemindSoon   ReminderKind = "due soon"
	RemindSilent ReminderKind = "silent"
)

// Remindable is somebody with kits, as far as reminding goes.
type Remindable struct {
	Person   int64
	Kits     []HeldKit
	Heard    time.Time  // the last day on which anything was heard from them
	Reminded *time.Time // the last day on which they were reminded
	Stopped  bool       // they want no reminders
}

// HeldKit is a kit that somebody has, with what they said of it.
type HeldKit struct {
	KitRef
	Cases    int
	Due      *time.Time
	Finished int
	Longer   bool
	Cannot   bool
}

// answered says whether the drive has to answer first: to remind then would be unkind.
func (k HeldKit) answered() bool { return k.Longer || k.Cannot || k.Finished >= k.Cases }

// Reminds says whether anybody is reminded on a day.
func (r ReminderRules) Reminds(today time.Time) bool {
	return r.On && !slices.Contains(r.Quiet, today.Weekday())
}

// Reminder says whether and of which kits somebody is to be reminded on a day:
// of those that are late, else of those due soon, else because nothing was heard.
func (r ReminderRules) Reminder(p Remindable, today time.Time) (ReminderKind, []KitRef) {
	if !r.Reminds(today) || p.Stopped || p.Reminded != nil && daysBetween(*p.Reminded, today) < ReminderEvery {
		return "", nil
	}
	of := map[ReminderKind][]KitRef{}
	silent := r.SilentDays > 0 && daysBetween(p.Heard, today) >= r.SilentDays
	for _, k := range p.Kits {
		days, agreed := DaysLate(k.Due, today)
		switch {
		case k.answered():
		case agreed && r.LateDays > 0 && days >= r.LateDays:
			of[RemindLate] = append(of[RemindLate], k.KitRef)
		case agreed && r.SoonDays > 0 && days <= 0 && days >= -r.SoonDays:
			of[RemindSoon] = append(of[RemindSoon], k.KitRef)
		case silent:
			of[RemindSilent] = append(of[RemindSilent], k.KitRef)
		}
	}
	for _, kind := range []ReminderKind{RemindLate, RemindSoon, RemindSilent} {
		if len(of[kind]) > 0 {
			return kind, of[kind]
		}
	}
	return "", nil
}

// ReminderState is how far a reminder has come.
type ReminderState string

// A reminder waits for a person, or goes out by SMTP: queued, then sending, which
// is written before the first word goes out, so that after a crash it can only
// have been sent perhaps, and only a person sends it again.
const (
	ReminderDraft   ReminderState = "draft"
	ReminderQueued  ReminderState = "queued"
	ReminderSending ReminderState = "sending"
	ReminderSent    ReminderState = "sent"
	ReminderPerhaps ReminderState = "perhaps sent"
	ReminderFailed  ReminderState = "failed"
	ReminderDropped ReminderState = "dropped"
)

// Standing says whether it is still to be sent or on its way.
func (s ReminderState) Standing() bool {
	return s == ReminderDraft || s == ReminderQueued || s == ReminderSending
}

// ReminderWay is how somebody was reminded.
type ReminderWay string

// The ways in the order a form offers them.
const (
	RemindedByMail   ReminderWay = "e-mail"
	RemindedByText   ReminderWay = "text message"
	RemindedByPhone  ReminderWay = "phone"
	RemindedInPerson ReminderWay = "in person"
)

// ReminderWays gives the ways in the order a form offers them.
func ReminderWays() []ReminderWay {
	return []ReminderWay{RemindedByMail, RemindedByText, RemindedByPhone, RemindedInPerson}
}

// Reminder is one reminder with what is needed to write it. Its kits are those
// that are still with the person.
type Reminder struct {
	Number   int64         `db:"number"`
	Person   int64         `db:"person"`
	Name     string        `db:"name"`
	Kind     ReminderKind  `db:"kind"`
	State    ReminderState `db:"state"`
	Way      ReminderWay   `db:"way"`
	MadeAt   time.Time     `db:"made_at"`
	EndedAt  *time.Time    `db:"ended_at"`
	Trouble  string        `db:"trouble"`
	Email    string        `db:"email"`
	Phone    string        `db:"phone"`
	Link     string        `db:"link"` // id of the personal link; empty: none works
	Kits     []ReminderKit `db:"kits"`
	Initials string        `db:"initials"` // whose account sent it
}

// ReminderKit is a kit that a reminder speaks of.
type ReminderKit struct {
	KitRef
	Cases int        `json:"cases"`
	Size  string     `json:"size"`
	Due   *time.Time `json:"due"`
	Since time.Time  `json:"since"`
}

// Why is the reason on a day: what was due soon when the reminder was made may be
// late by the time it is read, and what was late may have another day. One that has gone, or
// never will, was made for what it was made for.
func (r Reminder) Why(today time.Time) ReminderKind {
	if r.Kind == RemindSilent || r.State == ReminderSent || r.State == ReminderDropped {
		return r.Kind
	}
	for _, k := range r.Kits {
		if days, agreed := DaysLate(k.Due, today); agreed && days > 0 {
			return RemindLate
		}
	}
	return RemindSoon
}
