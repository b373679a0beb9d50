package drive

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
)

// PersonKind is what sort of holder somebody is.
type PersonKind string

// Who sews: one person, or a group with one contact. Of the people in a group,
// children above all, no names are kept.
const (
	PersonVolunteer PersonKind = "volunteer"
	PersonSchool    PersonKind = "school"
	PersonChapter   PersonKind = "chapter"
	PersonSewingDay PersonKind = "sewing day"
)

// PersonKinds gives the kinds in the order a form offers them.
func PersonKinds() []PersonKind {
	return []PersonKind{PersonVolunteer, PersonSchool, PersonChapter, PersonSewingDay}
}

// Group says whether several people sew under this name.
func (k PersonKind) Group() bool { return k != PersonVolunteer }

// Person is a volunteer or a group that sews.
type Person struct {
	Number     int64      `db:"number"`
	Kind       PersonKind `db:"kind"`
	Name       string     `db:"name"`
	Pickup     string     `db:"pickup"` // where kits change hands
	Heads      int        `db:"heads"`  // how many sew; 1 for a volunteer
	FrenchSeam bool       `db:"french_seam"`
	Overlocker bool       `db:"overlocker"`
	Beginner   bool       `db:"beginner"`
	Pace       *int       `db:"pace"`     // pillowcases a week
	Language   string     `db:"language"` // that they read best, in words; empty: nothing noted
	Smoke      Declared   `db:"smoke"`    // whether anybody smokes where it is sewn
	Pets       Declared   `db:"pets"`
	Note       string     `db:"note"`
	Active     bool       `db:"active"`
	CreatedAt  time.Time  `db:"created_at"`
	ErasedAt   *time.Time `db:"erased_at"` // asked to be forgotten; the name stands for nobody
	Version    int        `db:"version"`
}

// erasedPerson stands where the name of somebody was who asked to be forgotten.
// Nobody else is called so.
const erasedPerson = "Erased person %d"

var standsForErasedPerson = regexp.MustCompile(`(?i)^erased person \d+$`)

// Erased gives what is left of somebody who asks to be forgotten: a number, so that
// what they sewed keeps its place in the ledgers, and of a group its size.
func (p Person) Erased(at time.Time) Person {
	return Person{Number: p.Number, Kind: p.Kind, Name: fmt.Sprintf(erasedPerson, p.Number), Heads: p.Heads, CreatedAt: p.CreatedAt, ErasedAt: &at, Version: p.Version + 1}
}

// Declared is what somebody said of their home: no, yes, or nothing yet.
type Declared string

// What can be declared.
const (
	NotDeclared Declared = ""
	DeclaredNo  Declared = "no"
	DeclaredYes Declared = "yes"
)

// HomeLacks says which of the declarations that a recipient asks for somebody has
// not made, in the recipient's words, and whether one speaks against it.
func (p Person) HomeLacks(asks []string) (lacks []string, against bool) {
	for _, ask := range asks {
		said := map[string]Declared{HomeNoSmoke: p.Smoke, HomeNoPets: p.Pets}[ask]
		if said != DeclaredNo {
			lacks = append(lacks, ask)
			against = against || said == DeclaredYes
		}
	}
	return lacks, against
}

// Contacts is how to reach somebody. Only some roles may read it, so it travels
// apart from the person.
type Contacts struct {
	Contact string `db:"contact"` // whom to ask for in a group
	Email   string `db:"email"`
	Phone   string `db:"phone"`
	Address string `db:"address"`
	// AgreedOn is the day on which they agreed that this is kept and used to write
	// to them about their kits; nil: they have not been asked.
	AgreedOn *time.Time `db:"agreed_on"`
}

// Empty says whether no way to reach them is known.
func (c Contacts) Empty() bool {
	return c.Contact == "" && c.Email == "" && c.Phone == "" && c.Address == ""
}

// Tidy gives the person without stray spaces. A volunteer is one head.
func (p Person) Tidy() Person {
	p.Name = TidyName(p.Name)
	p.Pickup, p.Note = strings.TrimSpace(p.Pickup), strings.TrimSpace(p.Note)
	p.Language = strings.Join(strings.Fields(p.Language), " ")
	if !p.Kind.Group() || p.Heads == 0 {
		p.Heads = 1
	}
	return p
}

// Tidy gives the contacts without stray spaces.
func (c Contacts) Tidy() Contacts {
	for _, text := range []*string{&c.Contact, &c.Email, &c.Phone, &c.Address} {
		*text = strings.TrimSpace(*text)
	}
	return c
}

// CheckPerson says what is wrong with a person and, where they are given, with
// the contacts, by field. today is the day in the drive's zone.
func CheckPerson(p Person, c *Contacts, today time.Time) error {
	var bad []apperr.Field
	refuse := func(field, why string) { bad = append(bad, apperr.Field{Name: field, Why: why}) }
	if p.Name == "" || utf8.RuneCountInString(p.Name) > 120 {
		refuse("name", "Say the name, in up to 120 characters.")
	}
	if standsForErasedPerson.MatchString(p.Name) {
		refuse("name", "This stands for somebody who asked to be forgotten. Write the name of whoever sews.")
	}
	if !slices.Contains(PersonKinds(), p.Kind) {
		refuse("kind", "Choose volunteer, school, chapter or sewing day.")
	}
	if p.Heads < 1 || p.Heads > 5000 {
		refuse("heads", "Give how many people sew in the group, 1 to 5000.")
	}
	if p.Pace != nil && (*p.Pace < 1 || *p.Pace > 1000) {
		refuse("pace", "Give pillowcases a week, 1 to 1000, or leave it empty.")
	}
	for field, said := range map[string]Declared{"smoke": p.Smoke, "pets": p.Pets} {
		if said != NotDeclared && said != DeclaredNo && said != DeclaredYes {
			refuse(field, "Choose no or yes, or leave it open.")
		}
	}
	bad = append(bad, tooLong("language", p.Language, 40)...)
	bad = append(bad, tooLong("pickup", p.Pickup, 120)...)
	bad = append(bad, tooLong("note", p.Note, 2000)...)
	if c != nil {
		bad = append(bad, c.check()...)
		if c.AgreedOn != nil && wrongDay(*c.AgreedOn, today) != "" {
			refuse("agreed_on", wrongDay(*c.AgreedOn, today))
		}
	}
	return apperr.InvalidFields(bad)
}

func (c Contacts) check() []apperr.Field {
	var bad []apperr.Field
	name, host, _ := strings.Cut(c.Email, "@")
	if c.Email != "" && (name == "" || host == "" || strings.ContainsAny(c.Email, " ,;<>\r\n")) {
		bad = append(bad, apperr.Field{Name: "email", Why: "An e-mail address looks like rosa@example.org. Leave it empty if there is none."})
	}
	bad = append(bad, tooLong("contact", c.Contact, 200)...)
	bad = append(bad, tooLong("email", c.Email, 254)...)
	bad = append(bad, tooLong("phone", c.Phone, 60)...)
	return append(bad, tooLong("address", c.Address, 500)...)
}
