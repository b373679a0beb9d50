package drive

import (
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
)

// RecipientKind is the kind of place that asks for pillowcases.
type RecipientKind string

// The kinds of recipient.
const (
	RecipientWard    RecipientKind = "ward"
	RecipientHospice RecipientKind = "hospice"
	RecipientShelter RecipientKind = "shelter"
	RecipientOther   RecipientKind = "other"
)

// RecipientKinds gives the kinds in the order a form offers them.
func RecipientKinds() []RecipientKind {
	return []RecipientKind{RecipientWard, RecipientHospice, RecipientShelter, RecipientOther}
}

// Recipient is a ward, hospice or shelter with the rules it sets for what it takes.
type Recipient struct {
	Number    int64         `db:"number"`
	Kind      RecipientKind `db:"kind"`
	Name      string        `db:"name"`
	Ages      string        `db:"ages"`
	Contact   string        `db:"contact"`
	Email     string        `db:"email"`
	Phone     string        `db:"phone"`
	Address   string        `db:"address"`
	Fibres    []string      `db:"fibres"` // the only fibres it takes; none named: any
	Rules     []string      `db:"rules"`  // in its own words: washed hot, no fragrance, bagged singly
	Homes     []string      `db:"homes"`  // what it asks of the homes that sew for it
	Note      string        `db:"note"`
	CreatedAt time.Time     `db:"created_at"`
	Version   int           `db:"version"`
}

// Tidy gives the recipient without stray spaces, fibres as plain words and rules as
// they were written.
func (r Recipient) Tidy() Recipient {
	r.Name = TidyName(r.Name)
	for _, text := range []*string{&r.Ages, &r.Contact, &r.Email, &r.Phone, &r.Address, &r.Note} {
		*text = strings.TrimSpace(*text)
	}
	r.Fibres, r.Rules, r.Homes = TidyWords(r.Fibres), TidySentences(r.Rules), TidyWords(r.Homes)
	return r
}

// Check says what is wrong with a recipient before it is kept, by field.
func (r Recipient) Check() error {
	var bad []apperr.Field
	if r.Name == "" || utf8.RuneCountInString(r.Name) > 120 {
		bad = append(bad, apperr.Field{Name: "name", Why: "Say the name, in up to 120 characters."})
	}
	if !slices.Contains(RecipientKinds(), r.Kind) {
		bad = append(bad, apperr.Field{Name: "kind", Why: "Choose ward, hospice, shelter or other."})
	}
	if r.Email != "" && !strings.Contains(r.Email, "@") {
		bad = append(bad, apperr.Field{Name: "email", Why: "An e-mail address has an @ in it. Leave it empty if there is none."})
	}
	for _, fibre := range r.Fibres {
		if !slices.Contains(RecipientFibres(), fibre) {
			bad = append(bad, apperr.Field{Name: "fibres", Why: "Choose from " + strings.Join(RecipientFibres(), ", ") + "."})
			break
		}
	}
	for _, home := range r.Homes {
		if !slices.Contains(RecipientHomes(), home) {
			bad = append(bad, apperr.Field{Name: "homes", Why: "Choose from " + strings.Join(RecipientHomes(), ", ") + "."})
			break
		}
	}
	bad = append(bad, tooLong("ages", r.Ages, 120)...)
	bad = append(bad, tooLong("contact", r.Contact, 200)...)
	bad = append(bad, tooLong("email", r.Email, 254)...)
	bad = append(bad, tooLong("phone", r.Phone, 60)...)
	bad = append(bad, tooLong("address", r.Address, 500)...)
	bad = append(bad, tooLong("note", r.Note, 2000)...)
	bad = append(bad, tooLong("rules", strings.Join(r.Rules, "\n"), 2000)...)
	return apperr.InvalidFields(bad)
}

// RecipientFibres are the fibres a recipient may limit itself to, in the words intake uses.
func RecipientFibres() []string { return []string{"cotton", "linen", "poly-cotton"} }

// What a recipient may ask of the homes that sew for it.
const (
	HomeNoSmoke = "no smoke"
	HomeNoPets  = "no pets"
)

// RecipientHomes are the declarations a recipient may ask for.
func RecipientHomes() []string { return []string{HomeNoSmoke, HomeNoPets} }

func tooLong(field, text string, most int) []apperr.Field {
	if n := utf8.RuneCountInString(text); n > most {
		return []apperr.Field{{Name: field, Why: "That is too long: keep it to " + strconv.Itoa(most) + " characters, it has " + strconv.Itoa(n) + "."}}
	}
	return nil
}
