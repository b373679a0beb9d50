package backup

import (
	"crypto/rand"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"boltward/internal/apperr"
)

// partMark is in the name of a file that is not whole yet. Whoever writes one holds its lock,
// which the system lets go when the process ends, however: so what was left is told from what
// another process, of another installation even, still writes into the same folder. Where a
// file system has no locks, nothing counts as left.
const partMark = ".part-"

// partTries is how often another name is taken where a sweeper was quicker than the lock.
const partTries = 5

// makePart makes the file that is to become another once it is whole, and gives how to let
// go of its lock, which is held beyond the file's being closed.
func makePart(file string) (part *os.File, letGo func() error, err error) {
	for range partTries {
		name := filepath.Join(filepath.Dir(file), "."+filepath.Base(file)+partMark+rand.Text())
		if part, err = os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600); err != nil {
			if at := (*fs.PathError)(nil); errors.As(err, &at) {
				err = at.Err // the name is another each time: a trouble that lasts would look like new ones
			}
			return nil, nil, err
		}
		held, err := os.OpenFile(name, os.O_RDWR, 0)
		if err == nil {
			if swept := errors.Is(lockFile(held), syscall.EWOULDBLOCK) || !isThere(held); !swept {
				return part, held.Close, nil
			}
			held.Close()
		}
		part.Close()
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, nil, errors.Join(err, gone(name))
		}
	}
	return nil, nil, apperr.Conflict("Something removes files from %s while they are written.", filepath.Dir(file))
}

// lockFile says EWOULDBLOCK where another has the lock.
func lockFile(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) }

// isThere says whether the file still has its name.
func isThere(f *os.File) bool {
	open, err := f.Stat()
	if err != nil {
		return false
	}
	there, err := os.Lstat(f.Name())
	return err == nil && os.SameFile(open, there)
}

// sweep removes what processes that were killed have left of backups by themselves, encrypted and
// of no use, and of the list of who was erased.
func sweep(folder string) (err error) {
	for _, of := range []string{runStart + "*" + runEnd, ErasedFile} {
		left, failed := filepath.Glob(filepath.Join(escaped(folder), "."+of+partMark+"*"))
		err = errors.Join(err, failed)
		for _, file := range left {
			err = errors.Join(err, sweepOne(file))
		}
	}
	return err
}

// sweepOne leaves what is being written, and what belongs to somebody else.
func sweepOne(file string) error {
	if info, err := os.Lstat(file); err != nil || !info.Mode().IsRegular() {
		return nil // gone meanwhile, or none of ours
	}
	left, err := os.OpenFile(file, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) {
		return nil
	}
	if err != nil {
		return err
	}
	defer left.Close()
	if lockFile(left) != nil {
		return nil
	}
	return gone(file)
}

// escaped keeps signs in a folder's name from being read as a pattern.
func escaped(folder string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(folder)
}
