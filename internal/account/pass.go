package account

import (
	"encoding/binary"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"boltward/internal/apperr"
)

// A pass lets one tablet work in one drive as one role until tonight. It is opened
// by its link, or within SpokenLife by digits that are said aloud across a room.
const (
	InviteLife = 7 * 24 * time.Hour
	SpokenLife = 30 * time.Minute

	spokenDigits = 9
	maxInitials  = 4
	maxPlace     = 40
)

// PassRoles lists the roles a pass may have: nobody organises by a tablet that
// lies on a table.
func PassRoles() []Role { return []Role{Desk, CuttingLead, Packer, Reader} }

// ParsePassRole reads the role of a pass. Anything else is an invalid "role".
func ParsePassRole(typed string) (Role, error) {
	for _, r := range PassRoles() {
		if Role(typed) == r {
			return r, nil
		}
	}
	return "", apperr.Invalid("role", "Choose what the tablet is for: desk, cutting, packing or reader.")
}

// Spoken gives the digits that open the pass with this link. They follow from the
// link and the key, so that a page that is sent again shows the same.
func (k Key) Spoken(link string) string {
	n := binary.BigEndian.Uint64(k.mac("spoken", link)) % 1_000_000_000
	return fmt.Sprintf("%0*d", spokenDigits, n)
}

// SpokenText writes the digits as they are said: in groups of three.
func SpokenText(digits string) string { return inGroups(digits, 3) }

// SpokenHash gives what is kept of the digits, however they were typed; nil
// where they are none.
func (k Key) SpokenHash(typed string) []byte {
	digits := bare(typed)
	if !areDigits(digits, spokenDigits) {
		return nil
	}
	return k.Fingerprint("spoken", digits)
}

// CleanInitials gives the initials of a helper in capitals. It fails with an
// invalid "initials" when there are none, or more than four letters and digits.
func CleanInitials(typed string) (string, error) {
	initials := strings.ToUpper(strings.Join(strings.FieldsFunc(typed, func(r rune) bool { return unicode.IsSpace(r) || r == '.' }), ""))
	other := strings.ContainsFunc(initials, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	switch n := utf8.RuneCountInString(initials); {
	case n == 0:
		return "", apperr.Invalid("initials", "Type your initials, such as RB.")
	case n > maxInitials || other || !utf8.ValidString(initials):
		return "", apperr.Invalid("initials", "Type one to four letters, such as RB.")
	}
	return initials, nil
}

// CleanPlace gives where the tablet of a pass lies, without spare blanks. It
// fails with an invalid "place".
func CleanPlace(typed string) (string, error) {
	place := strings.Join(strings.Fields(typed), " ")
	if n := utf8.RuneCountInString(place); n == 0 || n > maxPlace || strings.ContainsFunc(place, unicode.IsControl) {
		return "", apperr.Invalid("place", "Say where the tablet lies, such as cutting table, in up to %d letters.", maxPlace)
	}
	return place, nil
}
