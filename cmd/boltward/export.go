package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

func exportCommand() command {
	lists := ""
	for _, l := range workbook.Lists() {
		lists += fmt.Sprintf("\n  %-20s %s", l.Name, l.About)
	}
	return command{
		name:    "export",
		summary: "write the books of a drive as a workbook, or one of their lists as CSV",
		example: `boltward export books --drive spring --out books.xlsx
boltward export books --drive spring --from 2026-01-01 --to 2026-12-31 --out books-2026.xlsx
boltward export kits --drive spring --out kits.csv`,
		more: `Both days count; without them the books run from the first day of which anything is noted to today, 50 years at most.
How to reach donors and people is left out with --without-addresses, as for those who may only read.
The file is written beside its name first and put in its place when it is whole.

Lists:` + lists,
		run: runExport,
	}
}

// exported is what somebody asks export for.
type exported struct {
	what      string // books, or the name of a list
	driveID   string
	from, to  *time.Time
	out       string
	addresses bool
}

func runExport(ctx context.Context, env Env, args []string) error {
	fs := newFlags("export")
	driveID := fs.String("drive", "", "the drive (`ID`); boltward drives lists them")
	from := fs.String("from", "", "the first day (`YYYY-MM-DD`)")
	to := fs.String("to", "", "the last day (`YYYY-MM-DD`)")
	without := fs.Bool("without-addresses", false, "leave out how to reach donors and people")
	out := fs.String("out", "", "the file to write (`FILE.xlsx` for the books, FILE.csv for a list)")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if err := sayWhatToExport(words, *driveID, *out); err != nil {
		return err
	}
	wish := exported{what: words[0], driveID: *driveID, out: *out, addresses: !*without}
	for _, day := range []struct {
		name, typed string
		day         **time.Time
	}{{"--from", *from, &wish.from}, {"--to", *to, &wish.to}} {
		if day.typed == "" {
			continue
		}
		at, err := time.Parse(time.DateOnly, day.typed)
		if err != nil {
			return apperr.Invalid(day.name, "%q is no day; write it as 2026-12-31.", day.typed)
		}
		*day.day = &at
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		return wish.write(ctx, env, store)
	})
}

func sayWhatToExport(words []string, driveID, out string) error {
	names := []string{"books"}
	for _, l := range workbook.Lists() {
		names = append(names, l.Name)
	}
	if len(words) != 1 || !slices.Contains(names, words[0]) {
		return usage("say what to export: %s", strings.Join(names, ", "))
	}
	ending := ".csv"
	if words[0] == "books" {
		ending = ".xlsx"
	}
	switch {
	case driveID == "":
		return usage("export %s needs --drive; boltward drives lists them", words[0])
	case out == "" || filepath.Ext(out) != ending:
		return usage("export %s needs --out with a name that ends in %s", words[0], ending)
	}
	return nil
}

func (e exported) write(ctx context.Context, env Env, store *postgres.Store) error {
	d, err := store.Drive(ctx, e.driveID)
	if err != nil {
		return err
	}
	began, err := store.BooksBegin(ctx, d)
	if err != nil {
		return err
	}
	today := drive.Day(env.Now(), d.Location())
	of := postgres.BooksOf{Drive: e.driveID, From: drive.BooksFrom(began, today), To: today, Contacts: e.addresses, Whole: e.what == "books"}
	if e.from != nil {
		of.From = *e.from
	}
	if e.to != nil {
		of.To = *e.to
	}
	err = store.Books(ctx, of, func(b drive.Books) error {
		var refused error
		err := writeWholeBy(e.out, func(w io.Writer) error {
			if e.what == "books" {
				refused = workbook.WriteBooks(w, b)
			} else {
				refused = workbook.WriteList(w, b, e.what)
			}
			return refused
		})
		if apperr.As(refused) != nil {
			return refused
		}
		return err
	})
	if err != nil {
		return err
	}
	what := "The books"
	if e.what != "books" {
		what = "The list " + e.what
	}
	env.say(fmt.Sprintf("%s of %s from %s to %s: in %s.", what, d.Name, of.From.Format(time.DateOnly), of.To.Format(time.DateOnly), e.out))
	return nil
}
