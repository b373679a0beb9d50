package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/sizing"
	"boltward/internal/workbook"
)

// spreadsheets are the flags by which a problem comes from what an organiser
// keeps in spreadsheets.
type spreadsheets struct {
	fabric, quota, sizes, unit, problem *string
}

func spreadsheetFlags(fs flagSet) spreadsheets {
	return spreadsheets{
		fabric:  fs.String("fabric", "", "a spreadsheet of fabric, one lot a line (`FILE`)"),
		quota:   fs.String("quota", "", "a spreadsheet of what is asked for, one line a line (`FILE`)"),
		sizes:   fs.String("sizes", "", "the sizes as the cases of a problem (`FILE`), else the built-in ones"),
		unit:    fs.String("unit", "in", "`UNIT` of numbers that stand without one: in or cm"),
		problem: fs.String("problem-out", "", "where the problem made of them is written (`FILE`)"),
	}
}

// given says whether the problem comes from spreadsheets.
func (s spreadsheets) given() bool { return *s.fabric != "" || *s.quota != "" }

// read makes the problem by the rules that a drive plans by. Rows that cannot be
// taken are refused all at once, each by its file, line and column.
func (s spreadsheets) read(ctx context.Context, env Env) (*planning.Problem, error) {
	if *s.fabric == "" || *s.quota == "" {
		return nil, usage("a plan from spreadsheets needs both: boltward plan --fabric fabric.csv --quota quota.csv")
	}
	d := drive.NewDrive("plan", "Plan", "UTC", length.Unit(*s.unit))
	if err := d.Check(); err != nil {
		return nil, usage("--unit is in or cm, not %q", *s.unit)
	}
	// Whether cloth is washed parts its groups; nothing here waits for a wash.
	d.Washing = drive.CutLarger
	terms := workbook.Terms{Drive: d, Today: drive.Day(env.Now(), time.UTC)}
	fabric, err := readList(ctx, env, drive.BringFabric, *s.fabric, terms)
	if err != nil {
		return nil, err
	}
	asked, err := readList(ctx, env, drive.BringAsked, *s.quota, terms)
	if err != nil {
		return nil, err
	}
	sizes, err := s.readSizes(asked)
	if err != nil {
		return nil, err
	}
	in, fabricFates, askedFates := drive.PlanFromRows(d, fabric.Fabric, asked.Asked, sizes)
	bad := append(refusedRows(*s.fabric, fabricFates), refusedRows(*s.quota, askedFates)...)
	if err := apperr.InvalidFields(bad); err != nil {
		return nil, err
	}
	tellNotes(env.Stderr, *s.fabric, fabricFates)
	tellNotes(env.Stderr, *s.quota, askedFates)
	problem, left := in.Problem()
	for _, l := range left {
		fmt.Fprintf(env.Stderr, "%s is %s and not planned with\n", l.ID, l.Why)
	}
	if err := problem.Validate(); err != nil {
		return nil, err
	}
	return problem, s.keep(problem)
}

func readList(ctx context.Context, env Env, kind drive.BringKind, name string, terms workbook.Terms) (workbook.Brought, error) {
	content, err := readImport(ctx, env, name)
	if err != nil {
		return workbook.Brought{}, err
	}
	list, err := workbook.Read(kind, content, terms)
	if e := apperr.As(err); e != nil && e.Kind == apperr.KindInvalid {
		for i := range e.Fields {
			e.Fields[i].Name = filepath.Base(name)
		}
	}
	return list, err
}

// readSizes gives the sizes of the file, or the built-in ones that are asked for.
func (s spreadsheets) readSizes(asked workbook.Brought) ([]drive.PlanSize, error) {
	if *s.sizes != "" {
		return readSizesFile(*s.sizes)
	}
	var sizes []drive.PlanSize
	for _, row := range asked.Asked {
		for _, name := range row.Value.SizeNames {
			built, known := sizing.CaseNamed(name)
			if !known || slices.ContainsFunc(sizes, func(z drive.PlanSize) bool { return strings.EqualFold(z.ID, name) }) {
				continue
			}
			panels, _, err := sizing.Cuts(built.Spec)
			if err != nil {
				return nil, fmt.Errorf("built-in size %s: %w", name, err)
			}
			sizes = append(sizes, drive.PlanSize{ID: strings.ToLower(name), Panels: panels})
		}
	}
	return sizes, nil
}

// readSizesFile reads the unit and the cases of a problem; the rest of one may
// stand beside them.
func readSizesFile(name string) ([]drive.PlanSize, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, apperr.Invalid(name, "cannot be opened; look at its name and whether you may read it.")
	}
	var file struct {
		Unit  json.RawMessage `json:"unit"`
		Cases json.RawMessage `json:"cases"`
	}
	if err := json.Unmarshal(bytes.TrimPrefix(text, []byte("\ufeff")), &file); err != nil {
		return nil, apperr.Invalid(name, "is no problem file: %v", err)
	}
	whole, err := json.Marshal(map[string]any{
		"unit": file.Unit, "cases": file.Cases, "fabrics": []any{}, "quotas": []any{}, "trims": map[string]any{}, "kit": map[string]any{"cases": 1},
	})
	if err != nil {
		return nil, apperr.Invalid(name, "is no problem file: %v", err)
	}
	problem, err := planning.ReadProblem(bytes.NewReader(whole))
	if err != nil {
		return nil, err
	}
	var sizes []drive.PlanSize
	for _, c := range problem.Cases {
		size := drive.PlanSize{ID: c.ID}
		for _, p := range c.Panels {
			panel := sizing.Panel{Role: p.Role, Pieces: p.Pieces}
			if panel.Around, err = length.Parse(p.Around.String(), length.Unit(problem.Unit), length.Up); err == nil {
				panel.Along, err = length.Parse(p.Along.String(), length.Unit(problem.Unit), length.Up)
			}
			if err != nil {
				return nil, apperr.Invalid(name, "case %s: %v", c.ID, err)
			}
			size.Panels = append(size.Panels, panel)
		}
		sizes = append(sizes, size)
	}
	return sizes, nil
}

// refusedRows gives what is wrong with the rows of a file, by line and column.
func refusedRows(name string, fates []drive.RowFate) []apperr.Field {
	var bad []apperr.Field
	for _, f := range fates {
		for _, fault := range f.Faults {
			bad = append(bad, apperr.Field{Name: fmt.Sprintf("%s line %d, %s", filepath.Base(name), f.Line, fault.Column), Why: fault.Why})
		}
	}
	return bad
}

// tellNotes says what was taken for granted about rows.
func tellNotes(w io.Writer, name string, fates []drive.RowFate) {
	for _, f := range fates {
		for _, note := range f.Notes {
			fmt.Fprintf(w, "%s line %d: %s\n", filepath.Base(name), f.Line, note)
		}
	}
}

func (s spreadsheets) keep(problem *planning.Problem) error {
	if *s.problem == "" {
		return nil
	}
	text, err := json.MarshalIndent(problem, "", " ")
	if err != nil {
		return fmt.Errorf("write problem: %w", err)
	}
	return writeWhole(*s.problem, append(text, '\n'))
}
