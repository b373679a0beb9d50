package localpg

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"
	"time"

	"boltward/internal/apperr"
)

// ServeLock is held by the one process that serves an installation's pages.
type ServeLock struct{ file *os.File }

// LockServe takes the lock of the data folder, and says under which address
// this process can be reached. A second call, by any process, is refused with
// the address of the first. The system lets the lock go when its process ends.
func LockServe(data, address string) (*ServeLock, error) {
	f, err := openFolder(data)
	if err != nil {
		return nil, err
	}
	file, err := os.OpenFile(f.serve(), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, folderError(f.root, err)
	}
	l := &ServeLock{file}
	err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		defer file.Close()
		return nil, apperr.Conflict("Boltward already serves the data in %s%s: use that one, or stop it first.", f.root, l.where())
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("lock %s: %w", f.serve(), err), file.Close())
	}
	if err := l.Announce(address); err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return l, nil
}

// Announce changes the address, for one that is known only later.
func (l *ServeLock) Announce(address string) error {
	if err := l.file.Truncate(0); err != nil {
		return fmt.Errorf("write %s: %w", l.file.Name(), err)
	}
	if _, err := l.file.WriteAt([]byte(address+"\n"), 0); err != nil {
		return fmt.Errorf("write %s: %w", l.file.Name(), err)
	}
	return nil
}

// Release lets another process serve this data.
func (l *ServeLock) Release() error { return l.file.Close() }

// where reads the address that the holder wrote, which it does right after it
// has taken the lock.
func (l *ServeLock) where() string {
	for range 20 {
		text, err := io.ReadAll(io.NewSectionReader(l.file, 0, 1000))
		if address := strings.TrimSpace(string(text)); err == nil && address != "" {
			return " at " + address
		}
		time.Sleep(10 * time.Millisecond)
	}
	return ""
}
