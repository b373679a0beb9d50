package drive

import (
	"fmt"
	"regexp"
	"strings"
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
)

// Donor is somebody who gives fabric.
type Donor struct {
	Number int64  `db:"number"`
	Name   string `db:"name"`
	Letter bool   `db:"letter"` // asked for a letter for what was given
	Note   string `db:"note"`
	// NoLetters: does not want to be written to, and is thanked in person.
	NoLetters bool       `db:"no_letters"`
	CreatedAt time.Time  `db:"created_at"`
	ErasedAt  *time.Time `db:"erased_at"` // asked to be forgotten; the name stands for nobody
	Version   int        `db:"version"`
}

// erasedName stands where the name of a donor was who asked to be forgotten. Nobody
// else is called so, else the name would be taken when that donor is erased, and cloth
// would be booked to somebody who wants no more of it.
const erasedName = "Erased donor %d"

// standsForErased finds erasedName however it was typed.
var standsForErased = regexp.MustCompile(`(?i)^erased donor \d+$`)

// Erased gives what is left of a donor who asks to be forgotten: a number, so that
// what was given keeps its place in the ledger.
func (d Donor) Erased(at time.Time) Donor {
	return Donor{Number: d.Number, Name: fmt.Sprintf(erasedName, d.Number), NoLetters: true, CreatedAt: d.CreatedAt, ErasedAt: &at, Version: d.Version + 1}
}

// DonorContacts is how to reach a donor. Only some roles may read it, so it
// travels apart from the donor.
type DonorContacts struct {
	Email   string `db:"email"`
	Phone   string `db:"phone"`
	Address string `db:"address"`
}

// Tidy gives the donor without stray spaces.
func (d Donor) Tidy() Donor {
	d.Name, d.Note = TidyName(d.Name), strings.TrimSpace(d.Note)
	return d
}

// Tidy gives the contacts without stray spaces.
func (c DonorContacts) Tidy() DonorContacts {
	for _, text := range []*string{&c.Email, &c.Phone, &c.Address} {
		*text = strings.TrimSpace(*text)
	}
	return c
}

// CheckDonor says what is wrong with a donor and, where they are given, with the
// contacts, by field.
func CheckDonor(d Donor, c *DonorContacts) error {
	bad := wrongDonorName(d.Name)
	bad = append(bad, tooLong("note", d.Note, 2000)...)
	if d.Letter && d.NoLetters {
		bad = append(bad, apperr.Field{Name: "no_letters", Why: "Somebody who asked for a letter is written to. Untick one of the two."})
	}
	if c != nil {
		bad = append(bad, Contacts{Email: c.Email, Phone: c.Phone, Address: c.Address}.check()...)
	}
	return apperr.InvalidFields(bad)
}

func wrongDonorName(name string) []apperr.Field {
	if name == "" || utf8.RuneCountInString(name) > 120 {
		return []apperr.Field{{Name: "name", Why: "Say who gave it, in up to 120 characters."}}
	}
	if standsForErased.MatchString(name) {
		return []apperr.Field{{Name: "name", Why: "This stands for somebody who asked to be forgotten. Write the name of whoever gave it."}}
	}
	return nil
}

// NoDonor says whether a name stands for nobody: what people write where they do
// not know who gave something, and what our own lists say of who was forgotten.
func NoDonor(name string) bool {
	if standsForErased.MatchString(strings.Join(strings.Fields(name), " ")) {
		return true
	}
	switch strings.ToLower(strings.Trim(strings.TrimSpace(name), ".?-–— ")) {
	case "", "unknown", "not known", "anonymous", "anon", "nobody", "none", "n/a", "na":
		return true
	}
	return false
}
