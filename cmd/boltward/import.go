package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

func importCommand() command {
	return command{
		name:    "import",
		summary: "take a spreadsheet in: fabric, donors, volunteers or asked; or take a wrong one back",
		example: `boltward import fabric drop-off.csv --drive spring --dry-run
boltward import fabric drop-off.xlsx --drive spring --take-good --refused mend.xlsx
boltward import volunteers people.csv --drive spring --json
boltward import fabric --blank fabric.xlsx --drive spring
boltward import list --drive spring
boltward import undo 3 --drive spring --dry-run`,
		more: `The file is xlsx or CSV (comma, semicolon or tab); a line of it names the columns. What headings
mean that are not understood by themselves is said on the page "Bring a spreadsheet in" and kept.
With a row refused nothing is taken, unless --take-good; the same file twice changes nothing.
All rows are taken together: ended with Ctrl-C, nothing is.
--json gives {"rows", "taken", "unchanged", "refused": [{"line", "column", "why"}]}; line 1 is the heading,
and in a dry run "taken" is what would be.
It exits with 0 when no row is refused, else 2. FILE may be - for standard input. "people" is another word for volunteers.
` + importBackHelp,
		run: runImport,
	}
}

// importing is what the command was told.
type importing struct {
	kind             drive.BringKind
	drive            string
	sheet            string
	refused          string // where the refused rows go; empty for nowhere
	takeGood, dryRun bool
	asJSON           bool
}

func runImport(ctx context.Context, env Env, args []string) error {
	var in importing
	fs := newFlags("import")
	fs.StringVar(&in.drive, "drive", "", "the drive (`ID`); boltward drives lists them")
	fs.StringVar(&in.sheet, "sheet", "", "the sheet of a workbook (`NAME`), where several could be meant")
	fs.StringVar(&in.refused, "refused", "", "write the refused rows with the reason into `FILE` (.xlsx or .csv)")
	fs.BoolVar(&in.takeGood, "take-good", false, "take the good rows although others are refused")
	fs.BoolVar(&in.dryRun, "dry-run", false, "say what would be taken, or taken back, and change nothing")
	fs.BoolVar(&in.asJSON, "json", false, "as JSON")
	blank := fs.String("blank", "", "write a blank table to fill in into `FILE.xlsx`, and take nothing")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if len(words) > 0 && (words[0] == "list" || words[0] == "undo") {
		return importBack(ctx, env, words, broughtBack{in.drive, in.dryRun, in.asJSON}, fs.given())
	}
	if len(words) != 2 && (*blank == "" || len(words) != 1) {
		return usage("say what the file is a list of, and its name: boltward import fabric FILE --drive ID")
	}
	if in.kind, err = drive.ParseBringKind(words[0]); err != nil {
		return usage("%q is nothing that can be taken in: fabric, people, asked or donors; list and undo are of those that were", words[0])
	}
	switch ending := filepath.Ext(in.refused); {
	case in.drive == "":
		return usage("import needs --drive; boltward drives lists them")
	case in.refused != "" && ending != ".xlsx" && ending != ".csv":
		return usage("--refused needs a name that ends in .xlsx or .csv")
	case mayWrite("--refused", in.refused) != nil:
		return mayWrite("--refused", in.refused)
	case *blank != "" && filepath.Ext(*blank) != ".xlsx":
		return usage("--blank needs a name that ends in .xlsx")
	}
	var content []byte
	if *blank == "" {
		if content, err = readImport(ctx, env, words[1]); err != nil {
			return err
		}
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		if *blank != "" {
			return writeBlank(ctx, env, store, in, *blank)
		}
		report, list, err := in.take(ctx, env, store, content)
		if err != nil {
			return err
		}
		if in.asJSON {
			err = json.NewEncoder(env.Stdout).Encode(report)
		} else {
			err = tellImport(env.Stdout, report, in.dryRun)
		}
		if err != nil || len(report.Refused) == 0 {
			return err
		}
		// After what was taken is told: a file that cannot be written takes nothing back.
		if err := in.keepRefused(list, report); err != nil {
			return err
		}
		return &apperr.Error{Kind: apperr.KindInvalid, Text: refusedText(report, in.takeGood, in.dryRun)}
	})
}

// readImport reads the file, one byte past the limit at most. It ends with ctx, also where nobody types.
func readImport(ctx context.Context, env Env, name string) ([]byte, error) {
	type answer struct {
		content []byte
		err     error
	}
	read := make(chan answer, 1)
	go func() {
		content, err := openImport(env, name)
		read <- answer{content, err}
	}()
	select {
	case a := <-read:
		return a.content, a.err
	case <-ctx.Done():
		return nil, errors.New("stopped before the list was read; nothing is done")
	}
}

func openImport(env Env, name string) ([]byte, error) {
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

// take reads the list, and takes it or says what would be taken.
func (in importing) take(ctx context.Context, env Env, store *postgres.Store, content []byte) (report drive.ImportReport, list workbook.Brought, err error) {
	terms, err := store.ListTerms(ctx, in.drive, in.kind)
	if err != nil {
		return report, list, err
	}
	list, err = workbook.Read(in.kind, content, workbook.Terms{
		Drive: terms.Drive, Today: drive.Day(env.Now(), terms.Drive.Location()), BorderDepth: terms.BorderDepth,
		Choice: workbook.Choice{Sheet: in.sheet, Means: terms.Means},
	})
	if err != nil {
		return report, list, err
	}
	if list.Note != "" {
		env.say(list.Note)
	}
	if in.dryRun {
		report, err = store.Preview(ctx, in.drive, list.Bringing, in.takeGood)
	} else {
		meter := newRowMeter(env)
		report, err = store.ImportTold(ctx, commandAct(env, in.drive), list.Bringing, in.takeGood, meter.told)
		meter.end()
	}
	return report, list, err
}

// keepRefused writes the refused rows where they are wanted.
func (in importing) keepRefused(list workbook.Brought, report drive.ImportReport) error {
	if in.refused == "" {
		return nil
	}
	write := workbook.WriteRefused
	if filepath.Ext(in.refused) == ".xlsx" {
		write = workbook.WriteRefusedXLSX
	}
	var whole bytes.Buffer
	if err := write(&whole, list, report.Fates); err != nil {
		return err
	}
	return writeWhole(in.refused, whole.Bytes())
}

func writeBlank(ctx context.Context, env Env, store *postgres.Store, in importing, name string) error {
	d, err := store.Drive(ctx, in.drive)
	if err != nil {
		return err
	}
	sizes, err := store.Sizes(ctx, in.drive)
	if err != nil {
		return err
	}
	var whole bytes.Buffer
	if err := workbook.WriteBlank(&whole, in.kind, d, drive.SizesInUse(sizes)); err != nil {
		return err
	}
	if err := writeWhole(name, whole.Bytes()); err != nil {
		return err
	}
	env.say(fmt.Sprintf("A blank table for %s is in %s.", in.kind, name))
	return nil
}

// rowMeter shows on a terminal how many rows are written.
type rowMeter struct {
	out   io.Writer
	drawn bool
}

func newRowMeter(env Env) *rowMeter {
	if !isTerminal(env.Stderr) {
		return &rowMeter{}
	}
	return &rowMeter{out: env.Stderr}
}

func (m *rowMeter) told(done, total int) {
	if m.out != nil && done < total {
		m.drawn = true
		fmt.Fprintf(m.out, "\r%d of %d rows written", done, total)
	}
}

// end clears the line.
func (m *rowMeter) end() {
	if m.drawn {
		fmt.Fprint(m.out, "\r\033[K")
	}
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
