package backup

import (
	"archive/tar"
	"bufio"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"syscall"

	"filippo.io/age"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

// Verify reads a whole file and returns what it holds, or an apperr error that says what
// is wrong with it: KindConflict for a damaged one, KindInvalid for one that is no backup or
// that the opener does not open. It needs no database.
func Verify(ctx context.Context, file string, by Opener) (Contents, error) {
	in, err := openFile(file)
	if err != nil {
		return Contents{}, err
	}
	defer in.Close()
	return readWhole(ctx, in, by, nothing)
}

// openFile opens a file that is to be read.
func openFile(file string) (*os.File, error) {
	in, err := os.Open(file)
	if err != nil {
		return nil, apperr.Invalid(file, "It cannot be read: %v.", reason(err))
	}
	if info, err := in.Stat(); err != nil || info.IsDir() {
		in.Close()
		return nil, apperr.Invalid(file, "It is no file.")
	}
	return in, nil
}

// reason is what the system says, without repeating the name.
func reason(err error) error {
	if at, ok := errors.AsType[*fs.PathError](err); ok {
		return at.Err
	}
	return err
}

// errForeign is something that age has encrypted, and not for us.
var errForeign = errors.New("it is no backup")

// foreign tells what begins otherwise than a backup from one that ends too soon.
func foreign(err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) {
		return err
	}
	return errors.Join(errForeign, err)
}

// readBack reads what was just written, from the start.
func readBack(ctx context.Context, in *os.File, by Opener) (Contents, error) {
	return readWhole(ctx, in, by, nothing)
}

// each is told of the manifest first, and is then handed the lines of each table, in the
// manifest's order; it reads all of them.
type each struct {
	manifest func(Manifest) error
	table    func(postgres.TableForm, io.Reader) error
}

var nothing = each{
	manifest: func(Manifest) error { return nil },
	table: func(_ postgres.TableForm, lines io.Reader) error {
		_, err := io.Copy(io.Discard, lines)
		return err
	},
}

// readWhole reads a file from its start to its end and holds all of it against itself.
func readWhole(ctx context.Context, in *os.File, by Opener, to each) (Contents, error) {
	file := in.Name()
	if _, err := in.Seek(0, io.SeekStart); err != nil {
		return Contents{}, err
	}
	hash := sha256.New()
	raw := &following{ctx: ctx, r: io.TeeReader(in, hash)}
	c, err := read(raw, by, to)
	if ctx.Err() != nil {
		return Contents{}, ctx.Err()
	}
	var mismatch *age.NoIdentityMatchError
	switch {
	case errors.As(err, &mismatch):
		return Contents{}, notOpened(file, mismatch)
	case errors.Is(err, syscall.EIO):
		return Contents{}, apperr.Conflict("%s cannot be read: the disk reports an error.", file)
	case errors.Is(err, errForeign):
		return Contents{}, apperr.Invalid(file, "It can be decrypted, but what is inside is no backup of Boltward.")
	case err != nil:
		return Contents{}, unreadable(file, in, err)
	}
	c.Bytes, c.SHA256 = raw.n, hex.EncodeToString(hash.Sum(nil))
	return c, nil
}

func notOpened(file string, why *age.NoIdentityMatchError) error {
	for _, kind := range why.StanzaTypes {
		if kind == "scrypt" {
			return apperr.Invalid(file, "The passphrase does not open it: it is another one, or the head of the file is damaged.")
		}
	}
	return apperr.Invalid(file, "The private key does not open it: it was made for another one, or the head of the file is damaged.")
}

func read(raw io.Reader, by Opener, to each) (Contents, error) {
	// age reads ahead by itself; the buffer lets what is behind its end be seen.
	buffered := bufio.NewReaderSize(raw, 1<<16)
	plain, err := age.Decrypt(buffered, by.identities...)
	if err != nil {
		return Contents{}, err
	}
	opened := &decrypted{r: plain}
	c, err := readOpened(opened, buffered, to)
	if opened.broken != nil { // whatever was made of what came before it
		err = opened.broken
	}
	return c, err
}

// decrypted remembers what keeps the rest from being decrypted: a file that is cut off within the
// first 64 KiB gives nothing at all, and is none of another program for that.
type decrypted struct {
	r      io.Reader
	broken error
}

func (d *decrypted) Read(p []byte) (int, error) {
	n, err := d.r.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		d.broken = err
	}
	return n, err
}

func readOpened(plain, buffered io.Reader, to each) (Contents, error) {
	inner := bufio.NewReaderSize(plain, 1<<16) // gzip must not read beyond its end
	packed, err := gzip.NewReader(inner)
	if err != nil {
		return Contents{}, foreign(err)
	}
	packed.Multistream(false)
	c, err := readArchive(packed, to)
	if err != nil {
		return c, err
	}
	for _, end := range []struct {
		of string
		r  io.Reader
	}{{"the archive", packed}, {"the packed archive", inner}, {"the file", buffered}} {
		n, err := io.Copy(io.Discard, end.r)
		if err != nil {
			return c, err
		}
		if n > 0 {
			return c, fmt.Errorf("%d bytes are behind the end of %s", n, end.of)
		}
	}
	return c, nil
}

func readArchive(r io.Reader, to each) (Contents, error) {
	a := &archive{tar: tar.NewReader(r)}
	c := Contents{Sums: map[string]Sums{}}
	if err := a.note(manifestName, &c.Manifest); err != nil {
		return c, foreign(err)
	}
	if err := c.check(); err != nil {
		return c, err
	}
	if err := to.manifest(c.Manifest); err != nil {
		return c, err
	}
	if err := a.next(); err != nil {
		return c, err
	}
	for _, t := range c.Tables {
		sum := postgres.NewRowSum()
		if err := to.table(t, io.TeeReader(&table{archive: a, name: t.Name, n: 1}, sum)); err != nil {
			return c, err
		}
		if !sum.Whole() {
			return c, fmt.Errorf("the last row of %s is cut off", t.Name)
		}
		c.Sums[t.Name] = sumsOf(sum)
	}
	var said map[string]Sums
	if err := a.noteHere(sumsName, &said); err != nil {
		return c, err
	}
	if len(said) != len(c.Sums) {
		return c, fmt.Errorf("%d tables were announced and %d came", len(said), len(c.Sums))
	}
	for name, came := range c.Sums {
		if said[name] != came {
			return c, fmt.Errorf("of %s, %d rows with the checksum %.8s were announced, and %d with %.8s came", name,
				said[name].Rows, said[name].Checksum, came.Rows, came.Checksum)
		}
	}
	if _, err := a.tar.Next(); !errors.Is(err, io.EOF) {
		return c, errors.Join(errors.New("there is more behind the sums"), err)
	}
	return c, nil
}

// archive is a tar of which the next file is known.
type archive struct {
	tar  *tar.Reader
	here *tar.Header
}

// next goes on to the next file; there always is one before the sums.
func (a *archive) next() error {
	header, err := a.tar.Next()
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	a.here = header
	return err
}

func (a *archive) note(name string, note any) error {
	if err := a.next(); err != nil {
		return err
	}
	return a.noteHere(name, note)
}

func (a *archive) noteHere(name string, note any) error {
	if a.here.Name != name || a.here.Typeflag != tar.TypeReg {
		return fmt.Errorf("%q stands where %s belongs", a.here.Name, name)
	}
	if err := readNote(a.tar, note); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// table reads the parts of a table one after the other, as long as they are its own.
type table struct {
	archive *archive
	name    string
	n       int
}

func (t *table) Read(p []byte) (int, error) {
	for t.archive.here.Name == partName(t.name, t.n) {
		n, err := t.archive.tar.Read(p)
		if err == nil || !errors.Is(err, io.EOF) {
			return n, err
		}
		if err := t.archive.next(); err != nil {
			return n, noEnd(err)
		}
		t.n++
		if n > 0 {
			return n, nil
		}
	}
	return 0, io.EOF
}

// noEnd keeps an archive that ends too soon from looking like a table that ends.
func noEnd(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}

// following counts what is read, and stops where nobody wants it any more.
type following struct {
	ctx context.Context
	r   io.Reader
	n   int64
}

func (f *following) Read(p []byte) (int, error) {
	if err := f.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := f.r.Read(p)
	f.n += int64(n)
	return n, err
}
