package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

func importCommand() command {
	return command{
		name:    "import",
		summary: "take a spreadsheet in: fabric, people, asked or donors",
		example: `boltward import fabric drop-off.csv --drive spring --dry-run
boltward import fabric drop-off.xlsx --drive spring --take-good
boltward import people volunteers.csv --drive spring --json`,
		more: `The file is xlsx or CSV (comma, semicolon or tab); its first line names the columns.
With a row refused nothing is taken, unless --take-good; the same file twice changes nothing.
--json gives {"rows", "taken", "unchanged", "refused": [{"line", "column", "why"}]}; line 1 is the heading.
It exits with 0 when no row is refused, else 2. FILE may be - for standard input.`,
		run: runImport,
	}
}

func runImport(ctx context.Context, env Env, args []string) (err error) {
	fs := newFlags("import")
	driveID := fs.String("drive", "", "the drive (`ID`); boltward drives lists them")
	takeGood := fs.Bool("take-good", false, "take the good rows although others are refused")
	dryRun := fs.Bool("dry-run", false, "say what would be taken and take nothing")
	asJSON := fs.Bool("json", false, "as JSON")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if len(words) != 2 {
		return usage("say what the file is a list of, and its name: boltward import fabric FILE --drive ID")
	}
	kind, err := drive.ParseBringKind(words[0])
	if err != nil {
		return usage("%q is nothing that can be taken in: fabric, people, asked or donors", words[0])
	}
	if *driveID == "" {
		return usage("import needs --drive; boltward drives lists them")
	}
	content, err := readImport(env, words[1])
	if err != nil {
		return err
	}
	db, err := openDatabase(ctx, env)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	report, err := importList(ctx, env, postgres.New(db.pool, env.Now), kind, content, *driveID, *takeGood, *dryRun)
	if err != nil {
		return err
	}
	if *asJSON {
		err = json.NewEncoder(env.Stdout).Encode(report)
	} else {
		err = tellImport(env.Stdout, report, *dryRun)
	}
	if err != nil || len(report.Refused) == 0 {
		return err
	}
	return &apperr.Error{Kind: apperr.KindInvalid, Text: refusedText(report, *takeGood, *dryRun)}
}

// readImport reads the file, one byte past the limit at most.
func readImport(env Env, name string) ([]byte, error) {
	file := env.Stdin
	if name != "-" {
		opened, err := os.Open(name)
		if err != nil {
			return nil, apperr.Invalid(name, "cannot be opened; look at its name and whether you may read it.")
		}
		defer opened.Close()
		file = opened
	}
	content, err := io.ReadAll(io.LimitReader(file, workbook.MaxBytes+1))
	if err != nil {
		return nil, apperr.Invalid(name, "cannot be read: %v.", err)
	}
	return content, nil
}

func importList(ctx context.Context, env Env, store *postgres.Store, kind drive.BringKind, content []byte, driveID string, takeGood, dryRun bool) (drive.ImportReport, error) {
	d, err := store.Drive(ctx, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	depth, err := store.BorderDepth(ctx, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	list, err := workbook.Read(kind, content, workbook.Terms{Drive: d, Today: drive.Day(env.Now(), d.Location()), BorderDepth: depth})
	if err != nil {
		return drive.ImportReport{}, err
	}
	if dryRun {
		return store.Preview(ctx, driveID, list.Bringing, takeGood)
	}
	return store.Import(ctx, commandAct(env, driveID), list.Bringing, takeGood)
}

func tellImport(w io.Writer, r drive.ImportReport, dryRun bool) error {
	taken := "taken"
	if dryRun {
		taken = "would be taken"
	}
	if _, err := fmt.Fprintf(w, "%d rows: %d %s, %d here already, %d refused.\n", r.Rows, r.Taken, taken, r.Unchanged, len(r.Refused)); err != nil {
		return fmt.Errorf("tell what was taken: %w", err)
	}
	for _, f := range r.Refused {
		if _, err := fmt.Fprintf(w, "line %d, %s: %s\n", f.Line, f.Column, f.Why); err != nil {
			return fmt.Errorf("tell what was refused: %w", err)
		}
	}
	for _, f := range r.Fates {
		for _, note := range f.Notes {
			if f.Fate == drive.FateRefused {
				break
			}
			if _, err := fmt.Fprintf(w, "line %d, note: %s\n", f.Line, note); err != nil {
				return fmt.Errorf("tell what was noted: %w", err)
			}
		}
	}
	return nil
}

func refusedText(r drive.ImportReport, takeGood, dryRun bool) string {
	switch {
	case r.Good() == 0:
		return fmt.Sprintf("%d of %d rows are refused.", len(r.Refused), r.Rows)
	case takeGood && dryRun:
		return fmt.Sprintf("%d of %d rows are refused; the %d good ones would be taken.", len(r.Refused), r.Rows, r.Good())
	case takeGood:
		return fmt.Sprintf("%d of %d rows are refused; the %d good ones are taken.", len(r.Refused), r.Rows, r.Good())
	}
	return fmt.Sprintf("%d of %d rows are refused, so nothing is taken. --take-good takes the %d good ones.", len(r.Refused), r.Rows, r.Good())
}
