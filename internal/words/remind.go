package words

// ReminderFacts is what a reminder to somebody with kits speaks about.
type ReminderFacts struct {
	Name    string
	Drive   string
	From    string // who signs; empty: the drive
	Why     Reminding
	Kits    []ReminderKitFacts
	Address string // of their own page; empty: none
	Stop    string // where they end reminders; empty: nowhere
}

// ReminderKitFacts is one kit a reminder speaks of.
type ReminderKitFacts struct {
	Kit   string
	Cases int
	Size  string
	Due   string // a day; empty: none agreed
}

// Reminding is why somebody is reminded.
type Reminding string

// The reasons, as package drive names them.
const (
	BecauseLate   Reminding = "late"
	BecauseSoon   Reminding = "due soon"
	BecauseSilent Reminding = "silent"
)

// StopPage is what the page says on which somebody ends reminders.
type StopPage struct {
	Lang    string
	Title   string
	On      string // reminders come
	Off     string // none come
	TurnOff string
	TurnOn  string
	Back    string
}

// Reminder writes a reminder. It asks, it never blames.
func (l Language) Reminder(f ReminderFacts) Message { return l.remind(f) }

// StopPage writes the page on which somebody ends reminders.
func (l Language) StopPage() StopPage { return l.stop() }
