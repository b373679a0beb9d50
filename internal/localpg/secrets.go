package localpg

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"boltward/internal/apperr"
)

// secrets are the passwords of the three logins.
type secrets struct {
	Admin  string `json:"admin"`
	Owner  string `json:"owner"`
	Server string `json:"server"`
}

// ensureSecrets reads the passwords, or makes them where there is no file yet.
func ensureSecrets(path string) (secrets, error) {
	s, err := readSecrets(path)
	if !errors.Is(err, fs.ErrNotExist) {
		return s, err
	}
	s = secrets{Admin: rand.Text(), Owner: rand.Text(), Server: rand.Text()}
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return secrets{}, fmt.Errorf("write passwords: %w", err)
	}
	if err := writeWhole(path, append(text, '\n')); err != nil {
		return secrets{}, folderError(filepath.Dir(path), err)
	}
	return s, nil
}

// readSecrets returns fs.ErrNotExist where there is no file.
func readSecrets(path string) (secrets, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return secrets{}, fmt.Errorf("read passwords: %w", err)
	}
	var s secrets
	if err := json.Unmarshal(text, &s); err != nil || s.Admin == "" || s.Owner == "" || s.Server == "" {
		return secrets{}, apperr.Conflict("The database passwords in %s cannot be read: restore that file, or the whole folder, from a backup.", path)
	}
	return s, nil
}

// writeWhole leaves either no file or all of it, also after a power cut; only
// its owner may read it.
func writeWhole(path string, text []byte) error {
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*") // mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	if _, err := tmp.Write(text); err != nil {
		tmp.Close()
		return err
	}
	if err := tmp.Sync(); err != nil {
		tmp.Close()
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}
