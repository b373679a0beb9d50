package backup

import (
	"bytes"
	"errors"
	"io"
	"os"
	"strings"
	"sync"

	"filippo.io/age"

	"boltward/internal/apperr"
)

// Seal is what a backup is encrypted to: a passphrase, or public keys.
type Seal struct{ recipients []age.Recipient }

// Passphrase seals by a passphrase of 12 characters or more.
func Passphrase(text string) (Seal, error) { return passphrase(text, 0) }

// passphrase takes another work factor than the usual one, for tests: 2 to the power of it.
func passphrase(text string, work int) (Seal, error) {
	if len([]rune(text)) < passphraseAt {
		return Seal{}, apperr.Invalid("BOLTWARD_PASSPHRASE", "A passphrase has %d characters or more: four words that do not belong together make a good one.", passphraseAt)
	}
	r, err := age.NewScryptRecipient(text)
	if err != nil {
		return Seal{}, err
	}
	if work > 0 {
		r.SetWorkFactor(work)
	}
	return Seal{[]age.Recipient{r}}, nil
}

// PublicKeys seals to public keys, age1…; whoever has the private key of one can read it.
// field is where they were given.
func PublicKeys(field string, keys []string) (Seal, error) {
	var s Seal
	for _, key := range keys {
		if strings.Contains(strings.ToUpper(key), "AGE-SECRET-KEY-") {
			return Seal{}, apperr.Invalid(field, "This is a private key, which must not lie here; give the public key that belongs to it, which begins with age1.")
		}
		found, err := age.ParseRecipients(strings.NewReader(key))
		if err != nil {
			return Seal{}, apperr.Invalid(field, "%q is no public key: one begins with age1, and boltward backup --new-identity FILE makes one.", key)
		}
		s.recipients = append(s.recipients, found...)
	}
	if len(s.recipients) == 0 {
		return Seal{}, apperr.Invalid(field, "It names no public key.")
	}
	return s, nil
}

// Opener is what reads a backup: a passphrase, or private keys.
type Opener struct{ identities []age.Identity }

// WithPassphrase opens by a passphrase.
func WithPassphrase(text string) (Opener, error) {
	id, err := age.NewScryptIdentity(text)
	if err != nil {
		return Opener{}, apperr.Invalid("BOLTWARD_PASSPHRASE", "No passphrase was given.")
	}
	return Opener{[]age.Identity{id}}, nil
}

// WithIdentities opens by the private keys in a file, one a line.
func WithIdentities(file string) (Opener, error) {
	in, err := os.Open(file)
	if err != nil {
		return Opener{}, apperr.Invalid("--identity", "The file cannot be read: %v.", reason(err))
	}
	defer in.Close()
	ids, err := age.ParseIdentities(in)
	if err != nil {
		// The library keeps what the file says out of this.
		return Opener{}, apperr.Invalid("--identity", "%s holds no private keys: %v. A line of one begins with AGE-SECRET-KEY-.", file, err)
	}
	return Opener{ids}, nil
}

// NewIdentity makes a private key, as a file holds it, and its public key.
func NewIdentity() (private, public string, err error) {
	id, err := age.GenerateX25519Identity()
	if err != nil {
		return "", "", err
	}
	return "# public key: " + id.Recipient().String() + "\n" + id.String() + "\n", id.Recipient().String(), nil
}

// For says how a backup wants to be opened: by a passphrase, or by an identity. A file that
// age did not write is refused.
func For(file string) (byPassphrase bool, err error) {
	in, err := openFile(file)
	if err != nil {
		return false, err
	}
	defer in.Close()
	header, err := age.ExtractHeader(in)
	if err != nil {
		return false, unreadable(file, in, err)
	}
	peek := &peeking{}
	if _, err := age.DecryptHeader(header, peek); !errors.Is(err, age.ErrIncorrectIdentity) {
		return false, damaged(file, err)
	}
	return peek.passphrase, nil
}

// unreadable tells a file of another program from one of ours that is damaged.
func unreadable(file string, in io.ReadSeeker, why error) error {
	const intro = "age-encryption.org/"
	start := make([]byte, len(intro))
	if _, err := in.Seek(0, io.SeekStart); err != nil {
		return err
	}
	n, err := io.ReadFull(in, start)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return err
	}
	if string(start[:n]) == intro[:n] {
		return damaged(file, why)
	}
	return apperr.Invalid(file, "This is no backup of Boltward.")
}

// peeking opens nothing; it looks at what would.
type peeking struct{ passphrase bool }

func (p *peeking) Unwrap(stanzas []*age.Stanza) ([]byte, error) {
	for _, s := range stanzas {
		p.passphrase = p.passphrase || s.Type == "scrypt"
	}
	return nil, age.ErrIncorrectIdentity
}

// remembering keeps the key of the one file that is being written, in memory alone, so
// that the file can be read back from the disk and decrypted whole although the private
// key is elsewhere. Who the file is for does not change by it.
type remembering struct {
	age.Recipient
	once sync.Once
	key  []byte
}

func (r *remembering) WrapWithLabels(key []byte) ([]*age.Stanza, []string, error) {
	r.once.Do(func() { r.key = bytes.Clone(key) })
	if labelled, ok := r.Recipient.(age.RecipientWithLabels); ok {
		return labelled.WrapWithLabels(key)
	}
	stanzas, err := r.Recipient.Wrap(key)
	return stanzas, nil, err
}

// opener opens the file that was written.
func (r *remembering) opener() Opener {
	return Opener{[]age.Identity{age.NewInjectedFileKeyIdentity(r.key)}}
}
