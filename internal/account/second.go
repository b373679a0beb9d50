package account

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"encoding/base32"
	"fmt"
	"net/url"
	"strings"
	"time"
	"unicode"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/hotp"
)

// The second step of signing in is a code of six digits that changes every thirty
// seconds (TOTP, RFC 6238 with SHA-1, as every authenticator app takes it), or one
// of RecoveryCodes codes that each work once.
const (
	RecoveryCodes = 10

	secretBytes   = 20 // as long as the hash of the codes (RFC 4226, section 4)
	stepSeconds   = 30
	codeDigits    = 6
	recoveryBytes = 10 // 80 bits, as of a link
	issuer        = "Boltward"
)

// skew is how many steps a phone's clock may be ahead or behind (RFC 6238, section
// 5.2 advises at most one).
const skew = 1

// NewSecret gives the secret of a new second step.
func NewSecret() ([]byte, error) {
	secret := make([]byte, secretBytes)
	if _, err := rand.Read(secret); err != nil {
		return nil, fmt.Errorf("random secret: %w", err)
	}
	return secret, nil
}

// SecretText writes a secret as an app takes it by hand: base32 in groups of four.
func SecretText(secret []byte) string { return inGroups(secretEncoding().EncodeToString(secret), 4) }

// SecretAddress gives what the QR code of a secret holds, an otpauth address
// (Key URI Format; from memory), for the person of this e-mail address.
func SecretAddress(secret []byte, email string) string {
	u := url.URL{
		Scheme: "otpauth", Host: "totp", Path: "/" + issuer + ":" + email,
		RawQuery: "secret=" + secretEncoding().EncodeToString(secret) + "&issuer=" + issuer,
	}
	return u.String()
}

// CodeStep gives the step of time, counted since 1970 in thirty seconds, whose
// code was typed: one about now that is later than last. ok is false for any
// other text, and for a code of a step that was taken already.
func CodeStep(secret []byte, typed string, now time.Time, last int64) (step int64, ok bool, err error) {
	typed = bare(typed)
	if !areDigits(typed, codeDigits) {
		return 0, false, nil
	}
	text := secretEncoding().EncodeToString(secret)
	about := now.Unix() / stepSeconds
	for step := max(last+1, about-skew); step <= about+skew; step++ {
		fits, err := hotp.ValidateCustom(typed, uint64(step), text, hotp.ValidateOpts{Digits: otp.DigitsSix, Algorithm: otp.AlgorithmSHA1})
		if err != nil {
			return 0, false, fmt.Errorf("check a code: %w", err)
		}
		if fits {
			return step, true, nil
		}
	}
	return 0, false, nil
}

// RecoveryCodes gives the recovery codes of somebody that one wish asks for, as they
// are shown, once. They follow from the wish's key and the installation's, so that a
// form that was sent twice shows the codes that count.
func (k Key) RecoveryCodes(id int64, wish string) []string {
	codes := make([]string, RecoveryCodes)
	for i := range codes {
		code := k.mac(fmt.Sprintf("recovery code %d of %d", i, id), wish)[:recoveryBytes]
		codes[i] = inGroups(encoding().EncodeToString(code), 4)
	}
	return codes
}

// RecoveryHash gives what is kept of a recovery code of somebody, however it was
// typed: a fingerprint under the key.
func (k Key) RecoveryHash(id int64, typed string) []byte {
	return k.Fingerprint(fmt.Sprintf("recovery %d", id), strings.ToLower(bare(typed)))
}

// Seal closes a secret of somebody, so that only this key opens it, and only as theirs.
func (k Key) Seal(id int64, secret []byte) ([]byte, error) {
	box, err := k.box()
	if err != nil {
		return nil, err
	}
	nonce := make([]byte, box.NonceSize())
	if _, err := rand.Read(nonce); err != nil {
		return nil, fmt.Errorf("seal: %w", err)
	}
	return box.Seal(nonce, nonce, secret, fmt.Appendf(nil, "account %d", id)), nil
}

// Unseal opens what Seal closed. It fails where another key closed it, or for
// somebody else, or where a byte has changed.
func (k Key) Unseal(id int64, sealed []byte) ([]byte, error) {
	box, err := k.box()
	if err != nil {
		return nil, err
	}
	if len(sealed) < box.NonceSize() {
		return nil, fmt.Errorf("unseal: %d bytes are too few", len(sealed))
	}
	secret, err := box.Open(nil, sealed[:box.NonceSize()], sealed[box.NonceSize():], fmt.Appendf(nil, "account %d", id))
	if err != nil {
		return nil, fmt.Errorf("unseal with the installation's key: %w", err)
	}
	return secret, nil
}

func (k Key) box() (cipher.AEAD, error) {
	block, err := aes.NewCipher(k.mac("seal", "")) // 32 bytes: AES-256
	if err != nil {
		return nil, fmt.Errorf("seal: %w", err)
	}
	return cipher.NewGCM(block)
}

func secretEncoding() *base32.Encoding { return base32.StdEncoding.WithPadding(base32.NoPadding) }

func inGroups(text string, size int) string {
	var b strings.Builder
	for i, r := range text {
		if i > 0 && i%size == 0 {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// bare takes out what people put between the groups of a code.
func bare(typed string) string {
	return strings.Map(func(r rune) rune {
		if r == '-' || unicode.IsSpace(r) {
			return -1
		}
		return r
	}, typed)
}

func areDigits(text string, n int) bool {
	return len(text) == n && !strings.ContainsFunc(text, func(r rune) bool { return r < '0' || r > '9' })
}
