// Package task names the kinds of background work and their arguments, so that
// the store can enqueue them in the transaction that needs them and package
// jobs can work them.
package task

// Schema is where River keeps the work in the database.
const Schema = "river"

// Worker is how the names of those begin who work what is in the queue.
const Worker = "boltward:"

// QueuePlans has one worker a process: planning takes all the processor it gets.
const QueuePlans = "plans"

// QueueBackups is worked by the processes that were told to make backups.
const QueueBackups = "backups"

// Backup asks for a backup to be made by itself. Its rows say whether one is due.
type Backup struct{}

// Kind is the name the work is kept under.
func (Backup) Kind() string { return "backup" }

// Plan asks for one plan of a drive to be computed; it is unique while it waits.
type Plan struct {
	Drive  string `json:"drive"`
	Number int64  `json:"number"`
}

// Kind is the name the work is kept under.
func (Plan) Kind() string { return "plan" }

// Ask asks for what to ask donors for in a drive to be worked out. Its row says whether there
// is anything to do, so it needs not be unique.
type Ask struct {
	Drive string `json:"drive"`
}

// Kind is the name the work is kept under.
func (Ask) Kind() string { return "ask" }

// Bring asks for a spreadsheet that waits to be taken in. Its row says whether there
// is anything to do, so it needs not be unique.
type Bring struct {
	Drive  string `json:"drive"`
	Number int64  `json:"number"` // of the file
}

// Kind is the name the work is kept under.
func (Bring) Kind() string { return "bring" }

// Tidy asks for what is past its time to be removed: old wishes, sessions, links.
type Tidy struct{}

// Kind is the name the work is kept under.
func (Tidy) Kind() string { return "tidy" }

// Remind asks for a reminder to be sent by e-mail. Its row says whether it is
// still to be sent, so it needs not be unique.
type Remind struct {
	Drive  string `json:"drive"`
	Number int64  `json:"number"` // of the reminder
}

// Kind is the name the work is kept under.
func (Remind) Kind() string { return "remind" }

// TellSignIn asks for somebody to be told by e-mail that they signed in at a browser which they
// did not use before. Its row says whether that is still to be sent.
type TellSignIn struct {
	SignIn int64 `json:"sign_in"`
}

// Kind is the name the work is kept under.
func (TellSignIn) Kind() string { return "tell_sign_in" }

// TellHalf asks for somebody to be told by e-mail that their password was given without the code of
// their second step. Its row says whether that is still to be sent.
type TellHalf struct {
	Half int64 `json:"half"`
}

// Kind is the name the work is kept under.
func (TellHalf) Kind() string { return "tell_half_sign_in" }

// Reminders asks for the reminders that are due to be made, in every drive.
type Reminders struct{}

// Kind is the name the work is kept under.
func (Reminders) Kind() string { return "reminders" }

// Standing asks for the lines of what is asked for every month that should have come, in every drive.
type Standing struct{}

// Kind is the name the work is kept under.
func (Standing) Kind() string { return "standing" }

// Ledgers asks for all balances to be held against their ledgers, where that is due.
type Ledgers struct{}

// Kind is the name the work is kept under.
func (Ledgers) Kind() string { return "ledgers" }

// Keeping asks for what is kept longer than a drive wants to be forgotten, in every drive.
type Keeping struct{}

// Kind is the name the work is kept under.
func (Keeping) Kind() string { return "keeping" }

// Forecasts asks for the outlooks of drives in which something has happened to be worked out anew.
type Forecasts struct{}

// Kind is the name the work is kept under.
func (Forecasts) Kind() string { return "forecasts" }

// Forecast asks for the outlook of one drive to be worked out; it is unique while it waits.
type Forecast struct {
	Drive string `json:"drive"`
}

// Kind is the name the work is kept under.
func (Forecast) Kind() string { return "forecast" }
