package drive

import (
	"strings"
	"time"

	"boltward/internal/apperr"
)

// PersonIn is somebody who sews as a row of a spreadsheet brings them.
type PersonIn struct {
	Person   Person
	Contacts Contacts
	Columns  map[string]string // heading by field
}

// PersonHere is somebody the drive has already.
type PersonHere struct {
	Person
	Contacts
}

// DonorIn is a donor as a row of a spreadsheet brings them.
type DonorIn struct {
	Donor    Donor
	Contacts DonorContacts
	Columns  map[string]string // heading by field
}

// DonorHere is a donor the drive has already.
type DonorHere struct {
	Donor
	DonorContacts
}

// JudgePeople decides the fate of every row against who is here, by name in lower
// case, and gives the rows to take. today is the day in the drive's zone.
func JudgePeople(today time.Time, rows []Incoming[PersonIn], here map[string]PersonHere) (fates []RowFate, take []PersonIn) {
	names := seen{}
	for _, row := range rows {
		in := row.Value
		in.Person, in.Contacts = in.Person.Tidy(), in.Contacts.Tidy()
		in.Person.Active = true
		fate := judge(row)
		refuseNamed(&fate, in.Columns, CheckPerson(in.Person, &in.Contacts, today))
		refuseTwice(&fate, names, in.Columns, in.Person.Name, row.Line)
		if old, ok := here[strings.ToLower(in.Person.Name)]; ok && fate.Fate == FateTaken {
			fate.unchanged(in.differs(old), "the person")
		}
		if fate.Fate == FateTaken {
			take = append(take, in)
		}
		fates = append(fates, fate)
	}
	return fates, take
}

func (in PersonIn) differs(old PersonHere) []string {
	p := in.Person
	pace := func(p *int) int {
		if p == nil {
			return 0
		}
		return *p
	}
	return differing([]differ{
		{"kind", p.Kind == old.Kind},
		{"heads", p.Heads == old.Heads},
		{"skills", (!p.FrenchSeam || old.FrenchSeam) && (!p.Overlocker || old.Overlocker)},
		{"beginner", !p.Beginner || old.Beginner},
		{"language", silent(p.Language, old.Language)},
		{"home", silent(string(p.Smoke), string(old.Smoke)) && silent(string(p.Pets), string(old.Pets))},
		{"agreed", in.Contacts.AgreedOn == nil || old.AgreedOn != nil},
		{"pace", p.Pace == nil || pace(p.Pace) == pace(old.Pace)},
		{"pickup", silent(p.Pickup, old.Pickup)},
		{"notes", silent(p.Note, old.Note)},
		{"contact", silent(in.Contacts.Contact, old.Contact)},
		{"e-mail", silent(in.Contacts.Email, old.Email)},
		{"phone", silent(in.Contacts.Phone, old.Phone)},
		{"address", silent(in.Contacts.Address, old.Address)},
	})
}

// JudgeDonors decides the fate of every row against the donors who are here, by
// name in lower case, and gives the rows to take.
func JudgeDonors(rows []Incoming[DonorIn], here map[string]DonorHere) (fates []RowFate, take []DonorIn) {
	names := seen{}
	for _, row := range rows {
		in := row.Value
		in.Donor, in.Contacts = in.Donor.Tidy(), in.Contacts.Tidy()
		fate := judge(row)
		refuseNamed(&fate, in.Columns, CheckDonor(in.Donor, &in.Contacts))
		refuseTwice(&fate, names, in.Columns, in.Donor.Name, row.Line)
		if old, ok := here[strings.ToLower(in.Donor.Name)]; ok && fate.Fate == FateTaken {
			fate.unchanged(differing([]differ{
				{"letter", !in.Donor.Letter || old.Letter},
				{"notes", silent(in.Donor.Note, old.Note)},
				{"e-mail", silent(in.Contacts.Email, old.Email)},
				{"phone", silent(in.Contacts.Phone, old.Phone)},
				{"address", silent(in.Contacts.Address, old.Address)},
			}), "the donor")
		}
		if fate.Fate == FateTaken {
			take = append(take, in)
		}
		fates = append(fates, fate)
	}
	return fates, take
}

// differ says whether a row agrees with what is here about one thing.
type differ struct {
	name string
	same bool
}

func differing(all []differ) []string {
	var names []string
	for _, d := range all {
		if !d.same {
			names = append(names, d.name)
		}
	}
	return names
}

// silent says whether a cell agrees with what is here; an empty one says nothing.
func silent(in, here string) bool { return in == "" || in == here }

// refuseTwice refuses the second row of one name.
func refuseTwice(fate *RowFate, names seen, columns map[string]string, name string, line int) {
	if name == "" {
		return
	}
	if first, again := names.again(name, line); again {
		fate.refuse(heading(columns, "name"), "This name stands on line %d already. Add something that tells the two apart, such as a street.", first)
	}
}

// refuseNamed turns messages by field into faults by the headings of the file.
func refuseNamed(fate *RowFate, columns map[string]string, err error) {
	e := apperr.As(err)
	if e == nil {
		return
	}
	for _, f := range e.Fields {
		column := heading(columns, f.Name)
		known := false
		for _, fault := range fate.Faults {
			known = known || fault.Column == column
		}
		if !known {
			fate.refuse(column, "%s", f.Why)
		}
	}
}

// heading is the heading of a field in the file, or where the file has none a
// heading that it could have.
func heading(columns map[string]string, field string) string {
	if h := columns[field]; h != "" {
		return h
	}
	words := strings.ReplaceAll(field, "_", " ")
	if words == "" {
		return ""
	}
	return strings.ToUpper(words[:1]) + words[1:]
}
