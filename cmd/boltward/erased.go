package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/backup"
	"boltward/internal/postgres"
)

func erasedCommand() command {
	return command{
		name:    "erased",
		summary: "list who was erased, by number, for after a restore",
		example: `boltward erased > /media/stick/erased.txt
boltward restore old.boltward --identity key.txt --erased /media/stick/erased.txt`,
		more: `A backup cannot know who is erased after it was made. Where BOLTWARD_BACKUPS names a folder, this list is kept there by
itself, as ` + backup.ErasedFile + `; else write it now and then, and keep it with your newest backup. It holds numbers and times,
and nothing of who it was. Lines of the log that say "erased" tell the same, and may be added by hand, one a line, each with
the time of its line of the log, since the number may be somebody else's by now:
person spring 57 erased=2026-11-28T10:00:00Z
donor spring 3 erased=2026-11-28T10:00:00Z
account - 12 erased=2026-11-28T10:00:00Z`,
		run: runErased,
	}
}

func runErased(ctx context.Context, env Env, args []string) error {
	if err := newFlags("erased").none(args); err != nil {
		return err
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		list, err := store.Erased(ctx)
		if err != nil {
			return err
		}
		return backup.WriteErased(env.Stdout, list)
	})
}

// noList in place of a file restores without erasing anybody.
const noList = "none"

// erasedList reads who is to be erased again: from the file that is named, or else from the list
// beside the backup, where there is one. from is empty where there is none.
func erasedList(env Env, named, file string) (list []postgres.Erased, from string, err error) {
	switch {
	case named == noList:
		return nil, "", nil
	case named != "":
		from = named
	default:
		from = filepath.Join(filepath.Dir(file), backup.ErasedFile)
	}
	list, err = backup.ReadErasedFile(from, env.Now())
	if errors.Is(err, fs.ErrNotExist) && named == "" {
		return nil, "", nil
	}
	if problem := apperr.As(err); problem != nil && apperr.Fields(err) != nil {
		return nil, "", apperr.Invalid("erased", "%s: %s", from, apperr.Fields(err)["erased"])
	}
	if err != nil {
		return nil, "", apperr.Invalid("erased", "%s cannot be read: %v.", from, err)
	}
	return list, from, nil
}

// eraseAgain erases those of a list, where one is named, in a database that was restored before, and
// whoever is still to be erased since that was cut off.
func eraseAgain(ctx context.Context, env Env, named string) error {
	var list []postgres.Erased
	from := "the list of the restore that was cut off"
	if named != "" {
		var err error
		if list, from, err = erasedList(env, named, ""); err != nil {
			return err
		}
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		again, err := backup.EraseAgain(ctx, store, list)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(env.Stdout, strings.Join(erasedWords(again, from), "\n"))
		return err
	})
}

// erasedWords says what came of erasing those of a list again, and what is left to do.
func erasedWords(a backup.Again, from string) []string {
	said := fmt.Sprintf("Erased again: %d, by %s", a.Erased, from)
	if a.Before > 0 {
		said += fmt.Sprintf("; %d were erased before the backup was made", a.Before)
	}
	if a.NotHere > 0 {
		said += fmt.Sprintf("; of %d nobody has the number, so nothing of them is in it", a.NotHere)
	}
	if a.Another > 0 {
		said += fmt.Sprintf("; of %d somebody else has the number now, who was left as they are", a.Another)
	}
	lines := []string{said + "."}
	if len(a.Kits) > 0 {
		lines = append(lines, "Kits that stand with them, as on that day: "+strings.Join(a.Kits, ", ")+". Take them back, or book them as lost.")
	}
	for _, d := range a.NoOrganiser {
		lines = append(lines, fmt.Sprintf("%s has no organiser now: boltward user add, with --drive %s --role organiser, makes one.", d, d))
	}
	return lines
}
