package backup

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// ErasedFile is the list of who was erased, in the folder of backups that are made by themselves.
// A backup cannot know who is erased after it; the list does, by number and without a name.
const ErasedFile = "boltward-erased.txt"

// noDrive stands where an account, which is of no drive, has none.
const noDrive = "-"

// mostErased is how large a list may be, and erasedLine how long a line of it.
const (
	mostErased = 64 << 20
	erasedLine = 4096
)

// The marks of the times of a line: since when somebody had the number, which a person who writes
// the line cannot know, and when they were erased.
const (
	sinceMark  = "since="
	erasedMark = "erased="
)

const erasedHead = `# Who was erased, by number: boltward restore erases them again. Keep it with the newest backups.
# what, drive, number, since when it had the number (may be left out by hand), when it was erased
`

// WriteErased writes a list of who was erased, one a line, as ReadErased reads it. It refuses
// somebody of whom it is not known when they were erased.
func WriteErased(w io.Writer, list []postgres.Erased) error {
	var text strings.Builder
	text.WriteString(erasedHead)
	for _, e := range list {
		where := e.Drive
		if where == "" {
			where = noDrive
		}
		if e.At.IsZero() {
			return fmt.Errorf("list who was erased: it is not known when %s %s %d was", e.Kind, where, e.Number)
		}
		fmt.Fprintf(&text, "%s %s %d", e.Kind, where, e.Number)
		if !e.Created.IsZero() {
			text.WriteString(" " + sinceMark + e.Created.UTC().Format(time.RFC3339Nano))
		}
		text.WriteString(" " + erasedMark + e.At.UTC().Format(time.RFC3339Nano) + "\n")
	}
	_, err := io.WriteString(w, text.String())
	return err
}

// ReadErased reads such a list. Who writes down what the log says leaves out since when somebody
// had the number, and never when they were erased: without it somebody who was given the number
// later would be erased. A line that says nothing of the kind is an invalid "erased".
func ReadErased(r io.Reader) ([]postgres.Erased, error) { return readErased(r, time.Time{}) }

// ahead is how far the clock by which somebody was erased may be before this machine's.
const ahead = 24 * time.Hour

func readErased(r io.Reader, now time.Time) ([]postgres.Erased, error) {
	var list []postgres.Erased
	limited := &io.LimitedReader{R: r, N: mostErased + 1}
	lines := bufio.NewScanner(limited)
	lines.Buffer(nil, erasedLine)
	n := 0
	for lines.Scan() {
		n++
		words := strings.Fields(lines.Text())
		if len(words) == 0 || strings.HasPrefix(words[0], "#") {
			continue
		}
		e, trouble := erasedOf(words)
		if trouble != "" {
			return nil, apperr.Invalid("erased", "Line %d of the list %s.", n, trouble)
		}
		if !now.IsZero() && e.Created.IsZero() && e.At.After(now.Add(ahead)) {
			return nil, apperr.Invalid("erased", "Line %d of the list says that they were erased on %s, more than a day after the clock of this machine (%s): whoever is given the number until then would be erased too. Mend the line, or the clock.",
				n, e.At.UTC().Format(time.RFC3339), now.UTC().Format(time.RFC3339))
		}
		list = append(list, e)
	}
	if err := lines.Err(); err != nil {
		return nil, apperr.Invalid("erased", "Line %d of the list cannot be read: %v.", n+1, err)
	}
	if limited.N == 0 {
		return nil, apperr.Invalid("erased", "The list is larger than %d MiB: it is another file.", mostErased>>20)
	}
	return list, nil
}

// erasedOf reads a line, or says what is wrong with it.
func erasedOf(words []string) (e postgres.Erased, trouble string) {
	const nobody = "says not who was erased: write person spring 57, donor spring 3, or account - 12, and then when"
	if len(words) < 3 {
		return e, nobody
	}
	e = postgres.Erased{Kind: words[0], Drive: words[1]}
	if e.Drive == noDrive {
		e.Drive = ""
	}
	isAccount := e.Kind == postgres.ErasedAccount
	if !isAccount && e.Kind != postgres.ErasedDonor && e.Kind != postgres.ErasedPerson || isAccount != (e.Drive == "") {
		return e, nobody
	}
	var err error
	if e.Number, err = strconv.ParseInt(words[2], 10, 64); err != nil || e.Number < 1 {
		return e, nobody
	}
	who, times := strings.Join(words[:3], " "), words[3:]
	for _, word := range times {
		at, said := &e.At, strings.TrimPrefix(word, erasedMark)
		if strings.HasPrefix(word, sinceMark) {
			at, said = &e.Created, strings.TrimPrefix(word, sinceMark)
		}
		switch {
		case said == word && isTime(word):
			return e, fmt.Sprintf("says not what its time is: mark when they were erased, as in %s %s%s", who, erasedMark, word)
		case said == word || !at.IsZero():
			return e, fmt.Sprintf("has %q where nothing more is read: write %s %s2026-11-28T10:00:00Z", word, who, erasedMark)
		case !isTime(said):
			return e, fmt.Sprintf("has %q, which is no time: write it as the log does, as in %s %s2026-11-28T10:00:00Z", word, who, erasedMark)
		}
		if *at, err = time.Parse(time.RFC3339Nano, said); err != nil {
			return e, err.Error()
		}
	}
	if e.At.IsZero() {
		return e, fmt.Sprintf("says not when they were erased, and the number may be somebody else's by now: add the time of the line of the log, as in %s %s2026-11-28T10:00:00Z", who, erasedMark)
	}
	return e, ""
}

// isTime says whether a word is a moment at which somebody can have been erased, and which can be
// written again.
func isTime(word string) bool {
	at, err := time.Parse(time.RFC3339Nano, word)
	return err == nil && at.UTC().Year() >= 1970 && at.UTC().Year() <= 9999
}

// ReadErasedFile reads the list in a file, by which somebody wants to erase now. Where there is none,
// it is an fs.ErrNotExist. A line by which the number alone tells who it is, and which says that they
// are erased later than ahead from now, is an invalid "erased": it would reach whoever is given the
// number until then. Clocks that differ by less are no reason to leave somebody in.
func ReadErasedFile(name string, now time.Time) ([]postgres.Erased, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readErased(f, now)
}

// NoteErased brings the list in a folder of backups up to what the database says. Nobody is taken
// off it: after a restore the database knows less than the list, and of another installation, which
// may put its backups there too, nothing. Where nobody was erased there is no list.
func NoteErased(ctx context.Context, store *postgres.Store, folder string) error {
	now, err := store.Erased(ctx)
	if err != nil {
		return err
	}
	name := filepath.Join(folder, ErasedFile)
	was, err := os.ReadFile(name)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return notWritten(name, err)
	}
	list, err := ReadErased(bytes.NewReader(was))
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	all := together(list, now)
	if len(all) == len(together(list)) { // which may name somebody twice
		return nil
	}
	return putErased(name, all)
}

// together gives everybody of the lists once, in an order that stays. Who was erased again after a
// restore is the same by when they were given the number; where that is not known, by when they
// were erased.
func together(lists ...[]postgres.Erased) []postgres.Erased {
	all := slices.Concat(lists...)
	slices.SortStableFunc(all, func(a, b postgres.Erased) int {
		if by := strings.Compare(a.Kind+" "+a.Drive, b.Kind+" "+b.Drive); by != 0 {
			return by
		}
		if a.Number != b.Number {
			return int(max(-1, min(1, a.Number-b.Number)))
		}
		return cmp.Or(a.Created.Compare(b.Created), a.At.Compare(b.At))
	})
	return slices.CompactFunc(all, func(a, b postgres.Erased) bool {
		return a.Kind == b.Kind && a.Drive == b.Drive && a.Number == b.Number && a.Created.Equal(b.Created) && (!a.Created.IsZero() || a.At.Equal(b.At))
	})
}

// putErased writes the whole list beside the old one, which it then takes the place of.
func putErased(name string, list []postgres.Erased) (err error) {
	part, letGo, err := makePart(name)
	if err != nil {
		return notWritten(name, err)
	}
	defer func() { err = errors.Join(err, letGo()) }()
	err = WriteErased(part, list)
	if err == nil {
		err = part.Sync()
	}
	if err = errors.Join(err, part.Close()); err == nil {
		err = os.Rename(part.Name(), name)
	}
	if err != nil {
		return notWritten(name, errors.Join(err, gone(part.Name())))
	}
	return syncFolder(filepath.Dir(name))
}

// Again says what came of erasing those of a list again.
type Again struct {
	Erased      int // that were here, and are not any more
	Before      int // that were erased already
	NotHere     int // whose number nobody has
	Another     int // whose number somebody else has
	Kits        []string
	NoOrganiser []string
}

// EraseAgain erases everybody of a list in a database that was restored from a backup of before, and
// whoever is still to be erased there since a restore was cut off.
func EraseAgain(ctx context.Context, store *postgres.Store, list []postgres.Erased) (Again, error) {
	var all Again
	due, err := store.StillToErase(ctx)
	if err != nil {
		return all, err
	}
	for _, e := range together(list, due) {
		act := drive.Act{Drive: e.Drive, Key: rand.Text(), At: store.Now(), Request: "command line"}
		got, err := store.EraseAgain(ctx, act, e)
		if err != nil {
			return all, fmt.Errorf("erase %s %d again: %w", e.Kind, e.Number, err)
		}
		switch {
		case got.Done:
			all.Erased++
		case got.Here:
			all.Before++
		case got.Other:
			all.Another++
		default:
			all.NotHere++
		}
		for _, k := range got.Kits {
			all.Kits = append(all.Kits, fmt.Sprintf("%s in %s", k, e.Drive))
		}
		all.NoOrganiser = append(all.NoOrganiser, got.NoOrganiser...)
	}
	return all, nil
}
