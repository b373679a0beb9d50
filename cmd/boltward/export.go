package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

func exportCommand() command {
	return command{
		name:    "export",
		summary: "write the books of a drive as a workbook",
		example: `boltward export books --drive spring --out books.xlsx
boltward export books --drive spring --from 2026-01-01 --to 2026-12-31 --out books-2026.xlsx`,
		more: `Both days count; without them the books run from the day the drive was started to today.
The file is written beside its name first and put in its place when it is whole.`,
		run: runExport,
	}
}

func runExport(ctx context.Context, env Env, args []string) (err error) {
	fs := newFlags("export")
	driveID := fs.String("drive", "", "the drive (`ID`); boltward drives lists them")
	from := fs.String("from", "", "the first day (`YYYY-MM-DD`)")
	to := fs.String("to", "", "the last day (`YYYY-MM-DD`)")
	out := fs.String("out", "", "the workbook to write (`FILE.xlsx`)")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	switch {
	case len(words) != 1 || words[0] != "books":
		return usage("say what to export: books")
	case *driveID == "":
		return usage("export books needs --drive; boltward drives lists them")
	case *out == "" || filepath.Ext(*out) != ".xlsx":
		return usage("export books needs --out with a name that ends in .xlsx")
	}
	days := map[string]*time.Time{"--from": nil, "--to": nil}
	for name, typed := range map[string]string{"--from": *from, "--to": *to} {
		if typed == "" {
			continue
		}
		day, err := time.Parse(time.DateOnly, typed)
		if err != nil {
			return apperr.Invalid(name, "%q is no day; write it as 2026-12-31.", typed)
		}
		days[name] = &day
	}
	db, err := openDatabase(ctx, env)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return exportBooks(ctx, env, postgres.New(db.pool, env.Now), *driveID, days["--from"], days["--to"], *out)
}

func exportBooks(ctx context.Context, env Env, store *postgres.Store, driveID string, from, to *time.Time, out string) error {
	d, err := store.Drive(ctx, driveID)
	if err != nil {
		return err
	}
	first, last := drive.Day(d.CreatedAt, d.Location()), drive.Day(env.Now(), d.Location())
	if from != nil {
		first = *from
	}
	if to != nil {
		last = *to
	}
	books, err := store.Books(ctx, driveID, first, last)
	if err != nil {
		return err
	}
	var whole bytes.Buffer
	if err := workbook.WriteBooks(&whole, books); err != nil {
		return err
	}
	if err := writeWhole(out, whole.Bytes()); err != nil {
		return err
	}
	env.say(fmt.Sprintf("The books of %s from %s to %s are in %s.", d.Name, first.Format(time.DateOnly), last.Format(time.DateOnly), out))
	return nil
}
