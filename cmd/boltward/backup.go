package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/backup"
	"boltward/internal/postgres"
)

func backupCommand() command {
	return command{
		name:    "backup",
		summary: "write everything into one encrypted file, while people go on working",
		example: `boltward backup drive-2026-03-14.boltward
boltward backup --new-identity /media/stick/boltward-key.txt
boltward backup drive.boltward --recipient age1…
BOLTWARD_PASSPHRASE='four words of your own' boltward backup drive.boltward`,
		more: `It holds every drive, the people who sign in, the links and the installation's key, as they stand at one moment. It is
encrypted by age: to a passphrase of 12 characters or more, asked for at the terminal or taken from BOLTWARD_PASSPHRASE, or
with --recipient to one or more public keys, so that nothing secret lies on this machine. It is done only once the file has
been read back from the disk, decrypted, and agreed in every count and checksum; until then nothing bears its name.
--new-identity writes a private key into a new file, to be kept away from this machine, and prints the public key.
Left out are sessions and tries at signing in: after a restore people sign in again.
--json gives {"file", "bytes", "sha256", "rows": number by table}.`,
		run: runBackup,
	}
}

// several is a flag that may be given more than once.
type several []string

func (s *several) String() string { return strings.Join(*s, ", ") }

func (s *several) Set(value string) error {
	*s = append(*s, value)
	return nil
}

func runBackup(ctx context.Context, env Env, args []string) error {
	fs := newFlags("backup")
	var recipients several
	fs.Var(&recipients, "recipient", "a public key `age1…` to encrypt to; may be given again")
	force := fs.Bool("force", false, "replace a file that is there")
	identity := fs.String("new-identity", "", "make a private key in this new `FILE`, print its public key, and end")
	asJSON := fs.Bool("json", false, "say as JSON what was written")
	words, err := fs.parse(args)
	switch {
	case err != nil:
		return err
	case *identity != "" && len(words)+len(recipients) == 0:
		return newIdentity(env, *identity)
	case *identity != "" || len(words) != 1:
		return usage("name the file to write, and nothing else")
	}
	seal, err := env.seal(ctx, recipients)
	if err != nil {
		return err
	}
	if err := keyIsSomewhere(env); err != nil {
		return err
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		key, err := installationKey(env)
		if err != nil {
			return err
		}
		if err := store.NobodyToErase(ctx); err != nil { // no backup says who: they would come back by it for good
			return err
		}
		began := env.Now()
		made, err := backup.Write(ctx, store, backup.Order{File: words[0], Force: *force, Seal: seal, Key: key.Written(), Now: env.Now})
		if err != nil {
			return err
		}
		if err := noteBackup(ctx, store, words[0], began, made); err != nil {
			env.say(fmt.Sprintf("Careful: the backup is good, but Settings will not name it: %v", err))
		}
		return told(env, words[0], made, *asJSON, "is written, read back and whole")
	})
}

// seal is a passphrase, or public keys where some are named.
func (e Env) seal(ctx context.Context, recipients []string) (backup.Seal, error) {
	if len(recipients) > 0 {
		return backup.PublicKeys("--recipient", recipients)
	}
	text, err := e.passphrase(ctx, true)
	if err != nil {
		return backup.Seal{}, err
	}
	return backup.Passphrase(text)
}

// keyThatIs gives the installation's key without making one that no link was signed by.
func keyThatIs(env Env) (account.Key, error) {
	if err := keyIsSomewhere(env); err != nil {
		return account.Key{}, err
	}
	return installationKey(env)
}

// keyIsSomewhere refuses a BOLTWARD_KEY that is none, and what names another Postgres without the key of who
// serves it: only of the private database may the key be yet to be made.
func keyIsSomewhere(env Env) error {
	file := filepath.Join(env.dataFolder(), "key")
	_, err := os.Stat(file)
	if errors.Is(err, fs.ErrNotExist) && env.Getenv("BOLTWARD_KEY") == "" && env.Getenv("DATABASE_URL") != "" {
		return apperr.Invalid("BOLTWARD_KEY", "A backup holds the installation's key, and there is none in %s either: set the one that the pages are served with.", file)
	}
	return checkKey(env)
}

func newIdentity(env Env, file string) error {
	private, public, err := backup.NewIdentity()
	if err != nil {
		return err
	}
	out, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return apperr.Conflict("%s is there already, and may be the only key to something: choose another name.", file)
	}
	if err != nil {
		return apperr.Invalid("--new-identity", "The file cannot be made: %v.", err)
	}
	_, err = out.WriteString(private)
	if err = errors.Join(err, out.Sync(), out.Close()); err != nil {
		return fmt.Errorf("write the private key: %w", errors.Join(err, os.Remove(file)))
	}
	env.say("The private key is in " + file + ". Keep it where this machine is not, and a copy of it somewhere else: without it no backup made for it can be read.")
	_, err = fmt.Fprintln(env.Stdout, public)
	return err
}

// noteBackup keeps that one was made by hand, for the Settings page.
func noteBackup(ctx context.Context, store *postgres.Store, file string, began time.Time, made backup.Contents) error {
	whole, err := filepath.Abs(file)
	if err != nil {
		return err
	}
	return store.NoteBackup(ctx, postgres.Backup{
		BeganAt: began, Folder: filepath.Dir(whole), File: filepath.Base(whole), Bytes: made.Bytes, SHA256: made.SHA256, Counts: made.Counts(),
	})
}

// told says what a file holds.
func told(env Env, file string, c backup.Contents, asJSON bool, how string) error {
	if asJSON {
		return json.NewEncoder(env.Stdout).Encode(struct {
			File   string           `json:"file"`
			Bytes  int64            `json:"bytes"`
			SHA256 string           `json:"sha256"`
			Rows   map[string]int64 `json:"rows"`
		}{file, c.Bytes, c.SHA256, c.Counts()})
	}
	_, err := fmt.Fprintf(env.Stdout, "%s %s: %s in %d tables, %s, made %s.\nSHA-256 %s\n", file, how,
		counted(int(c.Rows()), "row", "rows"), len(c.Tables), sizeOfFile(c.Bytes), c.Made.Format("2 January 2006 15:04 MST"), c.SHA256)
	return err
}

func sizeOfFile(n int64) string {
	if n < 1<<20 {
		return fmt.Sprintf("%.1f KiB", float64(n)/(1<<10))
	}
	return fmt.Sprintf("%.1f MiB", float64(n)/(1<<20))
}
