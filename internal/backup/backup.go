// Package backup writes a whole database into one file, reads such a file again, and puts
// it into an empty database.
//
// The file is encrypted by age (https://age-encryption.org/v1) to a passphrase or to public
// keys; inside is a tar packed by gzip, so that "age -d FILE | tar -xz" opens it without this
// program:
//
//	manifest.json           versions of the schema, tables with their columns, sequences, the installation's key
//	public.lots/000001 …    the rows of a table in parts of a mebibyte, as COPY writes them: a line a row
//	sums.json               rows, bytes and a checksum of each table
//
// A file counts as whole only where every table that the manifest names has come, each sum
// agrees, and gzip and age have come to their ends with nothing behind. Rows are never held
// in memory but for a part of a mebibyte, and nothing unencrypted is written to a disk.
//
// Who has the passphrase or a private key can read a file. That it is whole says that it is
// as it was written; a file for a public key may have been written by anybody who has that key.
package backup

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
	"boltward/migrations"
)

const (
	format       = "boltward backup 1"
	manifestName = "manifest.json"
	sumsName     = "sums.json"

	partBytes    = 1 << 20
	longestNote  = 4 << 20 // of the manifest and of the sums
	passphraseAt = 12      // characters that a passphrase has at least
)

// Manifest says what a backup holds.
type Manifest struct {
	Format   string              `json:"format"`
	Made     time.Time           `json:"made"`
	Versions migrations.Versions `json:"versions"`
	postgres.Form
	Key string `json:"key"` // the installation's, 64 hexadecimal digits
	// Row is the row of this very backup in public.backups, where it says that it is being
	// made; 0 for one that is made by hand, which has no row yet.
	Row int64 `json:"row,omitempty"`
}

// Sums are how much came of a table.
type Sums struct {
	Rows     int64  `json:"rows"`
	Bytes    int64  `json:"bytes"`
	Checksum string `json:"checksum"` // as postgres.RowSum has it
}

func sumsOf(s *postgres.RowSum) Sums { return Sums{s.Rows, s.Bytes, s.String()} }

// Contents is what a file was found to hold.
type Contents struct {
	Manifest
	Sums   map[string]Sums // by table
	Bytes  int64           // of the file
	SHA256 string          // of the file
}

// Rows gives the rows of all tables.
func (c Contents) Rows() (n int64) {
	for _, s := range c.Sums {
		n += s.Rows
	}
	return n
}

// Counts gives the rows by table.
func (c Contents) Counts() map[string]int64 {
	counts := make(map[string]int64, len(c.Sums))
	for name, s := range c.Sums {
		counts[name] = s.Rows
	}
	return counts
}

func readNote(r io.Reader, note any) error {
	text, err := io.ReadAll(io.LimitReader(r, longestNote+1))
	if err != nil {
		return err
	}
	if len(text) > longestNote {
		return errors.New("it is too long")
	}
	return json.Unmarshal(text, note)
}

// check refuses a manifest that names nothing, or something twice.
func (m Manifest) check() error {
	if m.Format != format {
		return fmt.Errorf("it says that it is %q", m.Format)
	}
	if len(m.Tables) == 0 || len(m.Versions.Ours) == 0 {
		return errors.New("the manifest names no tables or no versions")
	}
	names := map[string]bool{}
	for _, t := range m.Tables {
		if names[t.Name] || len(t.Columns) == 0 || slices.Contains([]string{manifestName, sumsName, ""}, t.Name) {
			return fmt.Errorf("the manifest names the table %q without columns or twice", t.Name)
		}
		names[t.Name] = true
	}
	return nil
}

// damaged is a file that cannot be trusted, for whatever reason.
func damaged(file string, why error) error {
	if refused := apperr.As(why); refused != nil {
		return why
	}
	return &damage{apperr.Conflict("%s is damaged or cut short and was not used: %v.", file, why), why}
}

// damage keeps the reason beside what a person reads.
type damage struct{ told, why error }

func (d *damage) Error() string   { return d.told.Error() }
func (d *damage) Unwrap() []error { return []error{d.told, d.why} }
