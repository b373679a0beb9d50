package localpg

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"boltward/internal/apperr"
)

// longestPath leaves Postgres room for its own file names within its limit of 1024.
const longestPath = 900

// folder is the data folder of an installation, and where each thing lies in it.
type folder struct{ root string }

func (f folder) database() string   { return filepath.Join(f.root, "postgres") }
func (f folder) unfinished() string { return filepath.Join(f.root, "postgres.new") }
func (f folder) secrets() string    { return filepath.Join(f.root, "postgres.json") }
func (f folder) log() string        { return filepath.Join(f.root, "postgres.log") }
func (f folder) gate() string       { return filepath.Join(f.root, "postgres.gate") }
func (f folder) use() string        { return filepath.Join(f.root, "postgres.use") }
func (f folder) fifo() string       { return filepath.Join(f.root, "postgres.keeper") }
func (f folder) programs() string   { return filepath.Join(f.root, "postgres-programs") }
func (f folder) serve() string      { return filepath.Join(f.root, "serve.lock") }

// openFolder makes the data folder where it is missing. Others may pass through
// it, which the user that Postgres runs as under root needs, but not list it.
func openFolder(data string) (folder, error) {
	root, err := filepath.Abs(data)
	if err != nil {
		return folder{}, fmt.Errorf("find data folder %s: %w", data, err)
	}
	if len(root) > longestPath {
		return folder{}, apperr.Conflict("The path of the data folder is longer than Postgres can take (%d bytes, at most %d): choose a shorter one with BOLTWARD_DATA.", len(root), longestPath)
	}
	if err := os.MkdirAll(root, 0o711); err != nil {
		return folder{}, folderError(root, err)
	}
	return folder{root}, nil
}

// folderError is about a file of the data folder that could not be made or opened.
func folderError(root string, err error) error {
	why := err
	if pathErr, ok := errors.AsType[*fs.PathError](err); ok {
		why = pathErr.Err
	}
	if errors.Is(err, syscall.ENOSPC) {
		return apperr.Conflict("There is no room left for the data folder %s: free some, or choose another with BOLTWARD_DATA.", root)
	}
	return apperr.Conflict("Boltward cannot write to its data folder %s (%v): make it writable, or choose another with BOLTWARD_DATA.", root, why)
}

// lockGate is held by whoever starts or stops Postgres; closing it lets the next in.
func (f folder) lockGate(ctx context.Context, log func(string)) (*os.File, error) {
	gate, err := os.OpenFile(f.gate(), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, folderError(f.root, err)
	}
	const tellAfter = 50
	for tries := 0; ; tries++ {
		err := syscall.Flock(int(gate.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if err == nil {
			return gate, nil
		}
		if !errors.Is(err, syscall.EWOULDBLOCK) && !errors.Is(err, syscall.EINTR) {
			gate.Close()
			return nil, fmt.Errorf("lock %s: %w", f.gate(), err)
		}
		if tries == tellAfter {
			log("Another boltward is starting or stopping the database; waiting for it…")
		}
		if err := pause(ctx, 20*time.Millisecond); err != nil {
			gate.Close()
			return nil, fmt.Errorf("wait for %s: %w", f.gate(), err)
		}
	}
}

// lockUse says that Postgres is needed until the file is closed, and whether
// nobody else has said so. The caller holds the gate.
func (f folder) lockUse() (use *os.File, alone bool, err error) {
	use, err = os.OpenFile(f.use(), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, false, folderError(f.root, err)
	}
	fd := int(use.Fd())
	err = syscall.Flock(fd, syscall.LOCK_EX|syscall.LOCK_NB)
	alone = err == nil
	if alone || errors.Is(err, syscall.EWOULDBLOCK) {
		err = syscall.Flock(fd, syscall.LOCK_SH|syscall.LOCK_NB)
	}
	if err != nil {
		use.Close()
		return nil, false, fmt.Errorf("lock %s: %w", f.use(), err)
	}
	return use, alone, nil
}

// pause sleeps, or returns the error of a context that ends first.
func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return context.Cause(ctx)
	case <-t.C:
		return nil
	}
}
