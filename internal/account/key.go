package account

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// keyBytes is the length of the installation's key, idBytes of a link's id and
// macBytes of its signature: 80 and 128 bits, so that a link still fits a small QR code.
const (
	keyBytes = 32
	idBytes  = 10
	macBytes = 16
)

// Key is the installation's secret. Links and the fingerprints of sign-in
// attempts are made with it; it is part of a backup and never printed.
type Key struct{ secret []byte }

// ParseKey reads a key written as 64 hexadecimal digits.
func ParseKey(text string) (Key, error) {
	secret, err := hex.DecodeString(strings.TrimSpace(text))
	if err != nil || len(secret) != keyBytes {
		return Key{}, fmt.Errorf("the key must be %d hexadecimal digits", 2*keyBytes)
	}
	return Key{secret}, nil
}

// LoadKey reads the key in the file, or makes one there the first time, readable
// by its owner alone. Two processes that start at once end with the same key.
func LoadKey(file string) (Key, error) {
	text, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		if err = makeKey(file); err == nil {
			text, err = os.ReadFile(file)
		}
	}
	if err != nil {
		return Key{}, fmt.Errorf("the installation's key: %w", err)
	}
	key, err := ParseKey(string(text))
	if err != nil {
		return Key{}, fmt.Errorf("%s: %w", file, err)
	}
	return key, nil
}

// Written gives the key as ParseKey reads it, for a backup, which is encrypted, and for
// nothing else.
func (k Key) Written() string { return hex.EncodeToString(k.secret) }

// PutKey makes a key that was written the one of the file. Where a key lies there already it
// stays, and made is false: it is for the caller to compare.
func PutKey(file, written string) (made bool, err error) {
	key, err := ParseKey(written)
	if err != nil {
		return false, err
	}
	made, err = placeKey(file, key.secret)
	if err != nil {
		return false, fmt.Errorf("the installation's key: %w", err)
	}
	return made, nil
}

// Same says whether two keys are one.
func (k Key) Same(other Key) bool { return hmac.Equal(k.secret, other.secret) }

// Format keeps the secret out of every log and message.
func (Key) Format(f fmt.State, _ rune) { fmt.Fprint(f, "[key]") }

// NewLinkID gives the id of a new link: 16 letters and digits from a cryptographic source.
func NewLinkID() (string, error) {
	id := make([]byte, idBytes)
	if _, err := rand.Read(id); err != nil {
		return "", fmt.Errorf("random id: %w", err)
	}
	return encoding().EncodeToString(id), nil
}

// Sign gives the token of a link: its id, a dot, and the signature.
func (k Key) Sign(id string) string {
	return id + "." + encoding().EncodeToString(k.mac("link", id)[:macBytes])
}

// PersonalPath gives the path of the page that a personal link of this id opens.
func (k Key) PersonalPath(id string) string { return "/v/" + k.Sign(id) }

// ReceiverPath gives the path of the page that a recipient's link of this id opens.
func (k Key) ReceiverPath(id string) string { return "/r/" + k.Sign(id) }

// Open gives the id in a token that this key has signed; false for any other text.
// Capitals are taken too, since a QR code may hold them.
func (k Key) Open(token string) (id string, ok bool) {
	token = strings.ToLower(token)
	id, _, found := strings.Cut(token, ".")
	if !found || len(id) != encoding().EncodedLen(idBytes) {
		return "", false
	}
	if !hmac.Equal([]byte(k.Sign(id)), []byte(token)) {
		return "", false
	}
	return id, true
}

// Fingerprint turns something personal into bytes that count and compare but
// cannot be read back without the key. Purpose keeps different uses apart.
func (k Key) Fingerprint(purpose, text string) []byte {
	return k.mac("fingerprint "+purpose, text)
}

func (k Key) mac(purpose, text string) []byte {
	m := hmac.New(sha256.New, k.secret)
	m.Write([]byte(purpose + "\n" + text))
	return m.Sum(nil)
}

func makeKey(file string) error {
	secret := make([]byte, keyBytes)
	if _, err := rand.Read(secret); err != nil {
		return err
	}
	_, err := placeKey(file, secret)
	return err
}

// placeKey writes a new key beside its place and links it there, so that no
// reader ever sees half a key and the first writer wins.
func placeKey(file string, secret []byte) (made bool, err error) {
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return false, err
	}
	draft, err := os.CreateTemp(filepath.Dir(file), ".key-*")
	if err != nil {
		return false, err
	}
	defer os.Remove(draft.Name())
	_, err = fmt.Fprintln(draft, hex.EncodeToString(secret))
	if err = errors.Join(err, draft.Sync(), draft.Close()); err != nil {
		return false, err
	}
	if err = os.Link(draft.Name(), file); errors.Is(err, fs.ErrExist) {
		return false, nil
	}
	return err == nil, err
}

func encoding() *base32.Encoding {
	return base32.NewEncoding("abcdefghijkmnpqrstuvwxyz23456789").WithPadding(base32.NoPadding)
}

// FirstLinkLife and AccountLinkLife are how long the link for the first
// organiser, and one that lets a person choose a password, can be used.
const (
	FirstLinkLife   = 7 * 24 * time.Hour
	AccountLinkLife = 3 * 24 * time.Hour
)

// PersonalLinkLife is how long the link of somebody who sews, or of a recipient,
// can be used after it was last shown to the drive: a year of sewing and some weeks.
const PersonalLinkLife = 400 * 24 * time.Hour
