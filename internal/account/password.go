package account

import (
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"github.com/trustelem/zxcvbn"
	"golang.org/x/crypto/argon2"

	"boltward/internal/apperr"
)

// MinPassword is the fewest characters of a password, maxPassword the most
// bytes, which keeps one request from hashing a book.
const (
	MinPassword = 12
	maxPassword = 1024
)

// Hasher makes and checks password hashes at one cost.
type Hasher struct {
	params argon2id.Params
	// nobody is written as a hash at the same cost, of random bytes: no password is known
	// that opens it, and checking against it takes as long as checking a real one.
	nobody string
}

// NewHasher gives a Hasher at the cost the program runs with: Argon2id with
// 19 MiB, two passes, one lane (OWASP Password Storage Cheat Sheet; from memory).
func NewHasher() *Hasher {
	return NewHasherAt(19*1024, 2)
}

// NewHasherAt is NewHasher at another cost, memory in KiB. Tests use little.
func NewHasherAt(memory, passes uint32) *Hasher {
	h := &Hasher{params: argon2id.Params{
		Memory: memory, Iterations: passes, Parallelism: 1, SaltLength: 16, KeyLength: 32,
	}}
	salt, key := make([]byte, h.params.SaltLength), make([]byte, h.params.KeyLength)
	rand.Read(salt) // crypto/rand ends the program rather than fail
	rand.Read(key)
	h.nobody = fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memory, passes, h.params.Parallelism,
		base64.RawStdEncoding.EncodeToString(salt), base64.RawStdEncoding.EncodeToString(key))
	return h
}

// leastGuesses is how many tries of whoever knows how people choose passwords one must stand, by the
// estimate of Wheeler, "zxcvbn: Low-Budget Password Strength Estimation", USENIX Security 2016, whose
// lists of the commonest passwords, words and names come with it. Signing in is limited, so that these
// take years; a thief of the hashes pays 19 MiB and two passes for each.
const leastGuesses = 1e8

// judged is how many characters of a password are looked at: the estimate takes long over long ones.
// One whose first 64 could be guessed is refused, however strong the rest of it is.
const judged = 64

// guessable says whether a password is among the first that somebody would try.
func guessable(password, email string) bool {
	if runes := []rune(password); len(runes) > judged {
		password = string(runes[:judged])
	}
	own := strings.FieldsFunc(strings.ToLower(email), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return zxcvbn.PasswordStrength(password, append(own, "boltward", "pillowcase", "pillowcases", "sewing")).Guesses < leastGuesses
}

// Hash gives the hash to keep. It fails with an invalid "password" when the
// password is too short, too long, all blanks, easily guessed or holds the e-mail address.
func (h *Hasher) Hash(password, email string) (string, error) {
	switch {
	case utf8.RuneCountInString(password) < MinPassword:
		return "", apperr.Invalid("password", "Use %d characters or more: three or four words that do not belong together are good.", MinPassword)
	case len(password) > maxPassword:
		return "", apperr.Invalid("password", "Keep the password under %d characters.", maxPassword)
	case !utf8.ValidString(password) || strings.TrimSpace(password) == "":
		return "", apperr.Invalid("password", "Use letters, digits or signs, not blanks alone.")
	case email != "" && strings.Contains(strings.ToLower(password), email):
		return "", apperr.Invalid("password", "Leave your e-mail address out of the password.")
	case guessable(password, email):
		return "", apperr.Invalid("password", "This is among the first that somebody would try: common passwords, rows of keys, names, dates and what repeats itself are. Take three or four words that do not belong together.")
	}
	hash, err := argon2id.CreateHash(password, &h.params)
	if err != nil {
		return "", fmt.Errorf("hash a password: %w", err)
	}
	return hash, nil
}

// Check says whether the password opens the hash. With no hash, as for an
// address nobody has, it takes the same time and says no.
func (h *Hasher) Check(password, hash string) (bool, error) {
	if len(password) > maxPassword {
		password = ""
	}
	known := hash != ""
	if !known {
		hash = h.nobody
	}
	fits, err := argon2id.ComparePasswordAndHash(password, hash)
	if err != nil {
		return false, fmt.Errorf("check a password: %w", err)
	}
	return fits && known, nil
}
