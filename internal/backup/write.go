package backup

import (
	"archive/tar"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"

	"filippo.io/age"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
	"boltward/migrations"
)

// Order is a backup to be made.
type Order struct {
	File  string
	Force bool // a file that is there is replaced
	Seal  Seal
	Key   string // the installation's
	Row   int64  // as Manifest has it
	Now   func() time.Time
}

// Write makes a backup of everything as it stands at one moment, while others go on
// writing, and returns what is in it once the file has been read back from the disk, been
// decrypted, and agreed in every count and checksum. Until then it has another name; where
// anything fails, nothing is left.
//
// A file that is there already, a folder that is not, and a full disk are apperr errors.
func Write(ctx context.Context, store *postgres.Store, o Order) (found Contents, err error) {
	if err := o.mayWrite(); err != nil {
		return found, err
	}
	part, letGo, err := makePart(o.File)
	if err != nil {
		return found, notWritten(o.File, err)
	}
	defer func() { err = errors.Join(err, letGo()) }()
	defer func() {
		part.Close() // where it is closed already nothing happens
		if err != nil {
			err = errors.Join(notWritten(o.File, err), gone(part.Name()))
		}
	}()
	key := &remembering{Recipient: o.Seal.recipients[0]}
	written, err := o.write(ctx, store, part, key)
	if err != nil {
		return found, err
	}
	if found, err = readBack(ctx, part, key.opener()); err != nil {
		return found, err
	}
	if written.SHA256 != found.SHA256 || written.Bytes != found.Bytes {
		return found, damaged(o.File, errors.New("what was read back from the disk is not what was written"))
	}
	for _, t := range written.Tables {
		if written.Sums[t.Name] != found.Sums[t.Name] {
			return found, damaged(o.File, fmt.Errorf("of %s, %v was written and %v read back", t.Name, written.Sums[t.Name], found.Sums[t.Name]))
		}
	}
	if err = part.Close(); err != nil {
		return found, err
	}
	return found, o.settle(part.Name())
}

func (o Order) mayWrite() error {
	folder, err := os.Stat(filepath.Dir(o.File))
	if err != nil || !folder.IsDir() {
		return apperr.Invalid(o.File, "There is no folder %s to write it to.", filepath.Dir(o.File))
	}
	there, err := os.Lstat(o.File)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return notWritten(o.File, err)
	case !there.Mode().IsRegular():
		return apperr.Invalid(o.File, "It is there already and is no plain file.")
	case !o.Force:
		return apperr.Conflict("%s is there already: choose another name, or say --force to replace it.", o.File)
	}
	return nil
}

// settle gives the file its name. Without force it never replaces one that came meanwhile,
// where the file system has links; where it has none, it is looked for once more.
func (o Order) settle(part string) error {
	if !o.Force {
		if err := os.Link(part, o.File); err == nil {
			return errors.Join(os.Remove(part), syncFolder(filepath.Dir(o.File)))
		}
	}
	if err := o.mayWrite(); err != nil {
		return err
	}
	if err := os.Rename(part, o.File); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(o.File))
}

func syncFolder(name string) error {
	folder, err := os.Open(name)
	if err != nil {
		return err
	}
	defer folder.Close()
	// Some file systems cannot sync a folder, and say so.
	if err := folder.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

func gone(file string) error {
	if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// notWritten puts what a disk says into words.
func notWritten(file string, err error) error {
	switch {
	case apperr.As(err) != nil:
		return err
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return apperr.Conflict("There is no room left for the backup in %s. Nothing of it was kept.", filepath.Dir(file))
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return apperr.Conflict("This user may not write into %s.", filepath.Dir(file))
	}
	return fmt.Errorf("backup to %s: %w", file, err)
}

// write puts everything into the file and syncs it to the disk.
func (o Order) write(ctx context.Context, store *postgres.Store, part *os.File, key *remembering) (Contents, error) {
	hash := sha256.New()
	out := &counter{w: io.MultiWriter(part, hash)}
	sealed, err := age.Encrypt(out, append([]age.Recipient{key}, o.Seal.recipients[1:]...)...)
	if err != nil {
		return Contents{}, apperr.Invalid("--recipient", "These keys do not go together: %v.", err)
	}
	packed, err := gzip.NewWriterLevel(sealed, gzip.BestSpeed)
	if err != nil {
		return Contents{}, err
	}
	c := Contents{Sums: map[string]Sums{}}
	if err := o.archive(ctx, store, packed, &c); err != nil {
		return Contents{}, err
	}
	if err := errors.Join(packed.Close(), sealed.Close()); err != nil {
		return Contents{}, err
	}
	c.Bytes, c.SHA256 = out.n, hex.EncodeToString(hash.Sum(nil))
	return c, part.Sync()
}

// archive writes the tar.
func (o Order) archive(ctx context.Context, store *postgres.Store, w io.Writer, c *Contents) error {
	archive := tar.NewWriter(w)
	err := store.Snapshot(ctx, func(d *postgres.Snapshot) error {
		versions, err := d.Versions(ctx)
		if err != nil {
			return err
		}
		c.Manifest = Manifest{Format: format, Made: o.Now().UTC().Truncate(time.Second), Versions: migrations.Versions(versions), Form: d.Form, Key: o.Key, Row: o.Row}
		if err := c.check(); err != nil {
			return err
		}
		if err := writeNote(archive, manifestName, c.Manifest); err != nil {
			return err
		}
		for _, t := range d.Tables {
			sum := postgres.NewRowSum()
			parts := &parts{archive: archive, table: t.Name, at: c.Made}
			n, err := d.Copy(ctx, t, io.MultiWriter(sum, parts))
			if err == nil {
				err = parts.flush()
			}
			if err == nil && (n != sum.Rows || !sum.Whole()) {
				err = fmt.Errorf("%s: %d rows were announced and %d came", t.Name, n, sum.Rows)
			}
			if err != nil {
				return err
			}
			c.Sums[t.Name] = sumsOf(sum)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := writeNote(archive, sumsName, c.Sums); err != nil {
		return err
	}
	return archive.Close()
}

func writeNote(archive *tar.Writer, name string, note any) error {
	text, err := json.Marshal(note)
	if err != nil {
		return err
	}
	return writePart(archive, name, time.Time{}, text)
}

func writePart(archive *tar.Writer, name string, at time.Time, content []byte) error {
	if err := archive.WriteHeader(&tar.Header{Name: name, Mode: 0o600, Size: int64(len(content)), ModTime: at}); err != nil {
		return err
	}
	_, err := archive.Write(content)
	return err
}

// parts cuts a stream of unknown length into files of a tar, which names lengths first.
type parts struct {
	archive *tar.Writer
	table   string
	at      time.Time
	n       int
	buffer  []byte
}

func (p *parts) Write(lines []byte) (int, error) {
	for rest := lines; len(rest) > 0; {
		n := min(partBytes-len(p.buffer), len(rest))
		p.buffer, rest = append(slices.Grow(p.buffer, partBytes-len(p.buffer)), rest[:n]...), rest[n:]
		if len(p.buffer) == partBytes {
			if err := p.flush(); err != nil {
				return 0, err
			}
		}
	}
	return len(lines), nil
}

func (p *parts) flush() error {
	if len(p.buffer) == 0 {
		return nil
	}
	p.n++
	err := writePart(p.archive, partName(p.table, p.n), p.at, p.buffer)
	p.buffer = p.buffer[:0]
	return err
}

func partName(table string, n int) string { return fmt.Sprintf("%s/%06d", table, n) }

type counter struct {
	w io.Writer
	n int64
}

func (c *counter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += int64(n)
	return n, err
}
