// Package account holds people who sign in and what they may do: roles and the
// table of areas, passwords, links signed with the installation's key. It knows
// no SQL and no HTTP. Passwords are kept as Argon2id hashes; a link is an id and
// an HMAC over it, so that the key makes it again and the database alone does not.
package account

import (
	"net/mail"
	"strings"
	"unicode"
	"unicode/utf8"

	"boltward/internal/apperr"
)

// The longest name and address that are taken, in characters and bytes.
const (
	maxName  = 100
	maxEmail = 254
)

// Person is somebody who signs in.
type Person struct {
	ID       int64
	Name     string
	Initials string
	Email    string
	// Epoch counts up to end every session that began under an earlier one.
	Epoch int
	// Opens says whether this person may start a new drive.
	Opens bool
}

// CleanName gives the name without spare blanks. It fails with an invalid
// "name" when nothing is left, when it is too long or holds control characters.
func CleanName(typed string) (string, error) {
	name := strings.Join(strings.Fields(typed), " ")
	switch {
	case name == "":
		return "", apperr.Invalid("name", "Write the name people call you by.")
	case utf8.RuneCountInString(name) > maxName:
		return "", apperr.Invalid("name", "Keep the name to %d letters.", maxName)
	case strings.ContainsFunc(name, unicode.IsControl):
		return "", apperr.Invalid("name", "The name holds characters that cannot be shown.")
	}
	return name, nil
}

// CleanEmail gives the address in the form it is kept in: lower case, no blanks
// around it. It fails with an invalid "email" when it is not one bare address.
func CleanEmail(typed string) (string, error) {
	email := strings.ToLower(strings.TrimSpace(typed))
	if email == "" {
		return "", apperr.Invalid("email", "Write your e-mail address.")
	}
	at, err := mail.ParseAddress(email)
	if err != nil || at.Address != email || at.Name != "" || len(email) > maxEmail {
		return "", apperr.Invalid("email", "This is not an e-mail address, such as rosa@example.org.")
	}
	return email, nil
}

// Initials gives up to three letters for lists and sheets: "Rosa van der Berg" is RVB.
func Initials(name string) string {
	var out []rune
	words := strings.FieldsFunc(name, func(r rune) bool { return unicode.IsSpace(r) || r == '-' })
	for _, word := range words {
		for _, r := range word {
			if unicode.IsLetter(r) || unicode.IsDigit(r) {
				out = append(out, unicode.ToUpper(r))
				break
			}
		}
	}
	if len(out) > 3 {
		out = []rune{out[0], out[1], out[len(out)-1]}
	}
	if len(out) == 0 {
		return "?"
	}
	return string(out)
}
