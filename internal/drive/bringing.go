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

// ParseBringKind refuses, on the field "kind", a kind that is none.
func ParseBringKind(s string) (BringKind, error) {
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
