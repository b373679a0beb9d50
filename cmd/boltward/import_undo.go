package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"text/tabwriter"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// importBackHelp is part of the help of import.
const importBackHelp = `list tells which spreadsheets were brought in last, and undo takes the one of that NUMBER back: cloth by
counter-entries, whatever else nobody has touched as if it had not come. What was used or changed since stays, and is
named with the reason; it exits with 0 when nothing stays, with 2 when some does, with 1 when nothing can be taken back.
--json gives {"imports": [{"import", "list", "rows", "at", "who", "left", "undone"}]}, "left" and "undone" counting what it made,
and for undo {"import", "undone", "stays": [{"kind", "number", "name", "why"}]}; in a dry run "undone" is what would be.`

// broughtBack is what import list and import undo were told.
type broughtBack struct {
	drive          string
	dryRun, asJSON bool
}

// importBack lists what was brought in, or takes one of it back: words are list, or undo and a number. given are
// the flags of the command line.
func importBack(ctx context.Context, env Env, words []string, in broughtBack, given map[string]bool) error {
	undo, number := words[0] == "undo", int64(0)
	for _, flag := range slices.Sorted(maps.Keys(given)) {
		if flag != "drive" && flag != "json" && (flag != "dry-run" || !undo) {
			return usage("--%s has nothing to do with import %s", flag, words[0])
		}
	}
	if undo && len(words) == 2 {
		var err error
		if number, err = strconv.ParseInt(words[1], 10, 64); err != nil || number < 1 {
			return usage("%q is no number of an import; boltward import list shows them", words[1])
		}
	}
	switch {
	case undo && number == 0:
		return usage("say which: boltward import undo NUMBER --drive ID; boltward import list shows them")
	case !undo && len(words) > 1:
		return usage("%q is out of place: boltward import list --drive ID", words[1])
	case in.drive == "":
		return usage("import needs --drive; boltward drives lists them")
	}
	return withDrive(ctx, env, in.drive, func(store *postgres.Store, d drive.Drive) error {
		if undo {
			return in.takeBack(ctx, env, store, d, number)
		}
		return in.list(ctx, env, store, d)
	})
}

func (in broughtBack) list(ctx context.Context, env Env, store *postgres.Store, d drive.Drive) error {
	imports, err := store.Imports(ctx, d.ID)
	if err != nil {
		return err
	}
	type shown struct {
		Import int64  `json:"import"`
		List   string `json:"list"`
		Rows   int    `json:"rows"`
		At     string `json:"at"`
		Who    string `json:"who"` // empty: the command line
		Left   int    `json:"left"`
		Undone int    `json:"undone"`
	}
	lines := make([]shown, len(imports))
	for i, l := range imports {
		lines[i] = shown{l.Number, string(l.Kind), l.Taken, l.At.In(d.Location()).Format(time.RFC3339), l.Who, l.Left, l.Undone}
	}
	if in.asJSON {
		return json.NewEncoder(env.Stdout).Encode(map[string]any{"imports": lines})
	}
	if len(lines) == 0 {
		env.say("No spreadsheet was brought in yet.")
		return nil
	}
	w := tabwriter.NewWriter(env.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "number\tlist\trows\tbrought in\tby\tof what it made")
	for i, l := range lines {
		stands, who := "all here", l.Who
		switch {
		case l.Left == 0:
			stands = "taken back"
		case l.Undone > 0:
			stands = fmt.Sprintf("%d taken back, %d here", l.Undone, l.Left)
		}
		if who == "" {
			who = "the command line"
		}
		fmt.Fprintf(w, "%d\t%s\t%d\t%s\t%s\t%s\n", l.Import, l.List, l.Rows, imports[i].At.In(d.Location()).Format("2006-01-02 15:04"), who, stands)
	}
	return w.Flush()
}

// staying is what stays of an import, and why.
type staying struct {
	Kind   string `json:"kind"`
	Number int64  `json:"number"`
	Name   string `json:"name"`
	Why    string `json:"why"`
}

// takeBack takes an import back, or says what would be, and tells what stays. Where nothing goes that is the
// error of the store.
func (in broughtBack) takeBack(ctx context.Context, env Env, store *postgres.Store, d drive.Drive, number int64) error {
	undone, refused := 0, error(nil)
	if !in.dryRun {
		done, err := store.UndoImport(ctx, commandAct(env, d.ID), number)
		if err != nil && !apperr.Is(err, apperr.KindConflict) {
			return err
		}
		undone, refused = done.Undone, err
	}
	_, all, err := store.ImportMade(ctx, d.ID, number)
	if err != nil {
		return err
	}
	stays := []staying{}
	for _, b := range all {
		if in.dryRun && b.Why == "" {
			undone++
			continue
		}
		stays = append(stays, staying{string(b.Kind), b.Number, b.Name, b.Why})
	}
	if in.asJSON {
		err = json.NewEncoder(env.Stdout).Encode(map[string]any{"import": number, "undone": undone, "stays": stays})
	} else {
		err = in.tell(env, undone, stays)
	}
	if in.dryRun && undone == 0 {
		refused = apperr.Conflict("Nothing of it would be taken back.")
	}
	switch {
	case err != nil || refused != nil:
		return errors.Join(err, refused)
	case len(stays) > 0:
		return &apperr.Error{Kind: apperr.KindInvalid, Text: "Not all of it goes: what was used or changed since stays."}
	}
	return nil
}

func (in broughtBack) tell(env Env, undone int, stays []staying) error {
	taken := "taken back"
	if in.dryRun {
		taken = "would be taken back"
	}
	if _, err := fmt.Fprintf(env.Stdout, "%d %s, %d stay.\n", undone, taken, len(stays)); err != nil {
		return fmt.Errorf("tell what was taken back: %w", err)
	}
	called := map[string]string{string(drive.BroughtSize): "size of lot", string(drive.BroughtAsked): "line"}
	for _, s := range stays {
		what := s.Kind
		if called[what] != "" {
			what = called[what]
		}
		if s.Name != "" {
			s.Name = ", " + s.Name
		}
		if _, err := fmt.Fprintf(env.Stdout, "%s %d%s: %s\n", what, s.Number, s.Name, s.Why); err != nil {
			return fmt.Errorf("tell what stays: %w", err)
		}
	}
	return nil
}
