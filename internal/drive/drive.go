package drive

import (
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// Drive is one sewing drive with the rules it decided for itself.
type Drive struct {
	ID         string        `db:"id"`
	Name       string        `db:"name"`
	Zone       string        `db:"zone"` // IANA time zone
	Unit       length.Unit   `db:"unit"` // inches or centimetres, how its people measure
	Washing    string        `db:"washing"`
	KitCases   int           `db:"kit_cases"`   // most pillowcases in a kit
	SpareShare int           `db:"spare_share"` // percent planned on top for kits that never come back
	KeepWidth  length.Length `db:"keep_width"`  // least sides of a remnant worth keeping
	KeepLength length.Length `db:"keep_length"`
	Ask        string        `db:"ask"`         // whom volunteers ask, with how to reach them
	SecondStep bool          `db:"second_step"` // organisers must have a second step of signing in
	CreatedAt  time.Time     `db:"created_at"`
	ClosedAt   *time.Time    `db:"closed_at" json:",omitempty"` // when an organiser said that it is over; nil: it goes on
	Version    int           `db:"version"`
}

// NewDrive gives a drive with the rules that most begin with: fabric washed
// first, kits of four, no spares, and remnants kept from 9 × 18 in or 23 × 46 cm up.
func NewDrive(id, name, zone string, unit length.Unit) Drive {
	d := Drive{ID: id, Name: name, Zone: zone, Unit: unit, Washing: WashedFirst, KitCases: 4}
	d.KeepWidth, d.KeepLength = 9*length.Inch, 18*length.Inch
	if unit.Metric() {
		d.KeepWidth, d.KeepLength = 23*length.Centimetre, 46*length.Centimetre
	}
	return d
}

// Location is the drive's time zone; a zone that is not known is refused by Check,
// so one that was kept always loads, and UTC stands in where the zone data is gone.
func (d Drive) Location() *time.Location {
	if zone, known := zones.Load(d.Zone); known {
		return zone.(*time.Location)
	}
	zone, err := time.LoadLocation(d.Zone)
	if err != nil {
		return time.UTC
	}
	zones.Store(d.Zone, zone)
	return zone
}

// zones are those loaded before, by name: loading one reads a file, and pages ask for it many times.
// What a name stands for never changes while the program runs.
var zones sync.Map // of string: *time.Location

// Washing rules: decided once for a drive.
const (
	WashedFirst = "washed first"
	CutLarger   = "cut larger"
)

// Check says what is wrong with a drive before it is kept, by field.
func (d Drive) Check() error {
	var bad []apperr.Field
	if name := strings.TrimSpace(d.Name); name == "" || utf8.RuneCountInString(name) > 120 {
		bad = append(bad, apperr.Field{Name: "name", Why: "Say what the drive is called, in up to 120 characters."})
	}
	if _, err := time.LoadLocation(d.Zone); err != nil || d.Zone == "" {
		bad = append(bad, apperr.Field{Name: "zone", Why: "Give a time zone such as Europe/Dublin or America/Chicago."})
	}
	if d.Unit != length.In && d.Unit != length.CM {
		bad = append(bad, apperr.Field{Name: "unit", Why: "Choose inches or centimetres."})
	}
	if d.Washing != WashedFirst && d.Washing != CutLarger {
		bad = append(bad, apperr.Field{Name: "washing", Why: "Choose whether fabric is washed before cutting or cut larger."})
	}
	if d.KitCases < 1 || d.KitCases > 50 {
		bad = append(bad, apperr.Field{Name: "kit_cases", Why: "A kit holds 1 to 50 pillowcases."})
	}
	if d.SpareShare < 0 || d.SpareShare > 50 {
		bad = append(bad, apperr.Field{Name: "spare_share", Why: "Give a share from 0 to 50 percent."})
	}
	if d.KeepWidth <= 0 || d.KeepWidth > 10*length.Metre {
		bad = append(bad, apperr.Field{Name: "keep_width", Why: "Give a width above zero and up to 10 m."})
	}
	if d.KeepLength <= 0 || d.KeepLength > 10*length.Metre {
		bad = append(bad, apperr.Field{Name: "keep_length", Why: "Give a length above zero and up to 10 m."})
	}
	bad = append(bad, tooLong("ask", d.Ask, 200)...)
	return apperr.InvalidFields(bad)
}

// besideLatin are letters that no accent comes off of, as those write them who have only plain ones.
var besideLatin = strings.NewReplacer("ø", "o", "æ", "ae", "œ", "oe", "ß", "ss", "ł", "l", "đ", "d", "ð", "d", "þ", "th", "ı", "i")

// Address makes a drive's id from its name: small letters without accents, digits and
// single dashes, at most 40. It is empty for a name without any of them.
func Address(name string) string {
	var b strings.Builder
	dash := false
	for _, r := range norm.NFD.String(besideLatin.Replace(strings.ToLower(name))) {
		if unicode.Is(unicode.Mn, r) {
			continue
		}
		if r < 128 && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			if dash && b.Len() > 0 {
				b.WriteByte('-')
			}
			dash = false
			b.WriteRune(r)
		} else {
			dash = true
		}
		if b.Len() >= 38 {
			break
		}
	}
	return strings.Trim(b.String(), "-")
}
