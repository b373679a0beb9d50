// Package task names the kinds of background work and their arguments, so that
// the store can enqueue them in the transaction that needs them and package
// jobs can work them. Each kind is unique by its arguments while it waits.
package task

// Schema is where River keeps the work in the database.
const Schema = "river"

// QueuePlans has one worker a process: planning takes all the processor it gets.
const QueuePlans = "plans"

// Plan asks for one plan of a drive to be computed.
type Plan struct {
	Drive  string `json:"drive"`
	Number int64  `json:"number"`
}

// Kind is the name the work is kept under.
func (Plan) Kind() string { return "plan" }

// Tidy asks for what is past its time to be removed: old wishes, sessions, links.
type Tidy struct{}

// Kind is the name the work is kept under.
func (Tidy) Kind() string { return "tidy" }
