package drive

import (
	"strings"
	"time"

	"boltward/internal/apperr"
)

// LongestTag is how many letters the number on a printed tag may have.
const LongestTag = 40

// Tagging is a lot as it comes through the door: enough to find it again and to
// thank for it, nothing that makes the queue wait.
type Tagging struct {
	Donor      string // as typed; a name that is not known yet makes a new donor, nothing: unknown
	Tag        string // the number on a printed tag; may be empty
	Pieces     int
	Kind       string
	SetAside   string
	Shelf      string
	Note       string
	ReceivedOn time.Time
	Photo      string // the fingerprint of a photo that is kept; may be empty
	Make       Make   // as far as it is known already
}

// Tidy gives the tagging without stray spaces.
func (t Tagging) Tidy() Tagging {
	t.Donor = TidyName(t.Donor)
	if NoDonor(t.Donor) {
		t.Donor = ""
	}
	t.Tag = strings.Join(strings.Fields(t.Tag), " ")
	for _, text := range []*string{&t.Kind, &t.SetAside, &t.Shelf, &t.Note} {
		*text = strings.TrimSpace(*text)
	}
	return t
}

// Check says what is wrong with a tagging, by field; today is the day in the
// drive's zone.
func (t Tagging) Check(today time.Time) error {
	var bad []apperr.Field
	if t.Donor != "" {
		for _, f := range wrongDonorName(t.Donor) {
			bad = append(bad, apperr.Field{Name: "donor", Why: f.Why})
		}
	}
	if t.Pieces < 1 || t.Pieces > mostPieces {
		bad = append(bad, apperr.Field{Name: "pieces", Why: "Say how many pieces, 1 to 500."})
	}
	bad = append(bad, wrongReceivedOn("received_on", t.ReceivedOn, today)...)
	bad = append(bad, tooLong("tag", t.Tag, LongestTag)...)
	bad = append(bad, t.Make.Tidy().check(false)...)
	return apperr.InvalidFields(append(bad, wrongLotTexts(t.Kind, t.SetAside, t.Shelf, t.Note)...))
}

// Lot gives the lot as it stands once it is tagged under a number.
func (t Tagging) Lot(number int64, donor *int64, at time.Time) Lot {
	return Lot{
		Number: number, Donor: donor, Tag: tidyTag(t.Tag), ReceivedOn: t.ReceivedOn, PiecesTold: t.Pieces,
		Kind: t.Kind, SetAside: t.SetAside, Shelf: t.Shelf, Note: t.Note, Photo: PhotoHash(t.Photo),
		Make: t.Make.Tidy(), Ends: EndsCut, CreatedAt: at, Version: 1,
	}
}

// PhotoHash gives a fingerprint as a lot has it, nil for none.
func PhotoHash(hash string) *string {
	if hash == "" {
		return nil
	}
	return &hash
}

// Tagged is the first entry of a lot. No cloth moves: nobody knows how much it is.
func Tagged(lot int64) FabricEntry {
	return FabricEntry{Lot: lot, Piece: 0, Kind: FabricTagged, From: Outside, To: Outside}
}

// LotChange is what may be corrected about a lot at any time: words about it and
// what it is made of. Its size, whether it is washed and its borders were
// measured with the cloth in hand, and change by measuring again.
type LotChange struct {
	Donor  string
	Tag    string
	Kind   string
	Shelf  string
	Note   string
	Fibre  string
	Weight string
	Print  string
	Turn   string
	TrimOK bool

	Colours, Themes []string
}

// Apply gives the lot as it stands after the change, or what is wrong, by field.
// donor is the donor of that name.
func (c LotChange) Apply(lot Lot, donor *int64) (Lot, error) {
	lot.Donor, lot.Tag = donor, tidyTag(c.Tag)
	lot.Kind, lot.Shelf, lot.Note = strings.TrimSpace(c.Kind), strings.TrimSpace(c.Shelf), strings.TrimSpace(c.Note)
	lot.Fibre, lot.Weight, lot.Print, lot.Turn, lot.TrimOK = c.Fibre, c.Weight, c.Print, c.Turn, c.TrimOK
	lot.Colours, lot.Themes = c.Colours, c.Themes
	lot.Make = lot.Make.Tidy()
	bad := lot.Make.check(lot.Measured())
	if lot.Tag != nil {
		bad = append(bad, tooLong("tag", *lot.Tag, LongestTag)...)
	}
	bad = append(bad, wrongLotTexts(lot.Kind, "", lot.Shelf, lot.Note)...)
	return lot, apperr.InvalidFields(bad)
}

// SetAside keeps a lot from planning and says why: smell, mildew, pet hair. Cloth
// that is promised already stays promised.
func SetAside(lot Lot, why string) (Lot, error) {
	why = strings.TrimSpace(why)
	if why == "" {
		return lot, apperr.Invalid("set_aside", "Say why it is set aside: smell, mildew, pet hair or in your own words.")
	}
	if bad := tooLong("set_aside", why, 200); bad != nil {
		return lot, apperr.InvalidFields(bad)
	}
	lot.SetAside = why
	return lot, nil
}

func wrongLotTexts(kind, setAside, shelf, note string) []apperr.Field {
	bad := tooLong("kind", kind, 120)
	bad = append(bad, tooLong("set_aside", setAside, 200)...)
	bad = append(bad, tooLong("shelf", shelf, 40)...)
	return append(bad, tooLong("note", note, 2000)...)
}

// wrongReceivedOn refuses days on which nothing can have come in.
func wrongReceivedOn(field string, day, today time.Time) []apperr.Field {
	switch {
	case day.After(today):
		return []apperr.Field{{Name: field, Why: "That day is still to come. Give the day it came in."}}
	case day.Before(today.AddDate(-30, 0, 0)):
		return []apperr.Field{{Name: field, Why: "That is more than thirty years ago. Look at the year again."}}
	}
	return nil
}
