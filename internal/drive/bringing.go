package drive

import "boltward/internal/apperr"

// BringKind is the kind of list that somebody brings.
type BringKind string

// The kinds of list, as they stand in commands and addresses.
const (
	BringFabric BringKind = "fabric"
	BringPeople BringKind = "people"
	BringAsked  BringKind = "asked"
	BringDonors BringKind = "donors"
)

// BringKinds gives the kinds in the order a form offers them.
func BringKinds() []BringKind { return []BringKind{BringFabric, BringPeople, BringAsked, BringDonors} }

// ParseBringKind refuses, on the field "kind", a kind that is none. Volunteers are
// people.
func ParseBringKind(s string) (BringKind, error) {
	if s == "volunteers" {
		return BringPeople, nil
	}
	for _, k := range BringKinds() {
		if string(k) == s {
			return k, nil
		}
	}
	return "", apperr.Invalid("kind", "Say what the file is a list of: fabric, people, asked or donors.")
}

// Bringing is a list as it was understood: rows of the one kind.
type Bringing struct {
	Kind   BringKind
	Fabric []Incoming[LotIn]
	People []Incoming[PersonIn]
	Asked  []Incoming[AskedIn]
	Donors []Incoming[DonorIn]
}

// TakeState is how far the taking in of a file has come.
type TakeState string

// The states of taking a file in. With a row refused a file is taken too, and
// then zero rows are, unless somebody wanted the good ones.
const (
	TakeWaiting TakeState = "waiting" // for somebody's word
	TakeAsked   TakeState = "asked"
	TakeRunning TakeState = "running"
	TakeTaken   TakeState = "taken"
	TakeStopped TakeState = "stopped"
	TakeFailed  TakeState = "failed"
)

// Busy says whether the file is being taken in, or waits for its turn.
func (s TakeState) Busy() bool { return s == TakeAsked || s == TakeRunning }
