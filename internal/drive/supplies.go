package drive

import (
	"strings"
	"time"

	"boltward/internal/apperr"
)

// Supply is thread, bags, labels, pins: a simple count of what there is, and how
// many kits use how much of it.
type Supply struct {
	Number    int64     `db:"number"`
	Name      string    `db:"name"`
	Unit      string    `db:"unit"` // what is counted: spools, bags
	Have      int       `db:"have"`
	Used      int       `db:"used"`     // by so many kits; 0: not told
	PerKits   int       `db:"per_kits"` // 1 spool for 4 kits: used 1, per 4
	Note      string    `db:"note"`
	Retired   bool      `db:"retired"`
	CreatedAt time.Time `db:"created_at"`
	Version   int       `db:"version"`
}

// mostSupply is more of anything than a drive has.
const mostSupply = 1_000_000

// EnoughFor is for how many kits what there is suffices; false where nobody said
// how much a kit uses.
func (s Supply) EnoughFor() (kits int, told bool) {
	if s.Used <= 0 || s.PerKits <= 0 {
		return 0, false
	}
	return s.Have * s.PerKits / s.Used, true
}

// ShortFor says whether so many kits need more than there is.
func (s Supply) ShortFor(kits int) bool {
	enough, told := s.EnoughFor()
	return told && enough < kits
}

// ShortSupplies gives, as what waits for somebody, the supplies of which the kits to
// come need more than there is.
func ShortSupplies(supplies []Supply, kits int) []Waiting {
	var short []Waiting
	for _, s := range supplies {
		if s.ShortFor(kits) {
			enough, _ := s.EnoughFor()
			short = append(short, Waiting{Kind: NeedSupplyShort, Number: s.Number, Name: s.Name, N: kits, Enough: enough})
		}
	}
	return short
}

// Tidy gives the supply with its words as they are kept.
func (s Supply) Tidy() Supply {
	words := func(text string) string { return strings.Join(strings.Fields(text), " ") }
	s.Name, s.Unit, s.Note = words(s.Name), words(s.Unit), strings.TrimSpace(s.Note)
	return s
}

// Check says what is wrong with a supply, by field.
func (s Supply) Check() error {
	var bad []apperr.Field
	add := func(field, why string) { bad = append(bad, apperr.Field{Name: field, Why: why}) }
	if n := len([]rune(s.Name)); n == 0 || n > 80 {
		add("name", "Say what it is, in up to 80 characters: white thread, gift bags.")
	}
	bad = append(bad, tooLong("unit", s.Unit, 30)...)
	bad = append(bad, tooLong("note", s.Note, 500)...)
	if s.Have < 0 || s.Have > mostSupply {
		add("have", "Give how many there are, 0 to 1,000,000.")
	}
	if s.Used < 0 || s.Used > 10_000 {
		add("used", "Give how many are used, 0 to 10,000.")
	}
	if s.PerKits < 1 || s.PerKits > 10_000 {
		add("per_kits", "Give by how many kits, 1 to 10,000.")
	}
	return apperr.InvalidFields(bad)
}

// Move gives what there is after so many came, or went where n is below nothing.
func (s Supply) Move(n int) (Supply, error) {
	switch {
	case n == 0:
		return s, apperr.Invalid("n", "Say how many came or went.")
	case s.Have+n < 0:
		return s, apperr.Invalid("n", "Only %d are booked. If there were more, correct the count first.", s.Have)
	case s.Have+n > mostSupply:
		return s, apperr.Invalid("n", "That is more than a drive has of anything. Check the number.")
	}
	s.Have += n
	return s, nil
}
