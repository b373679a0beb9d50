package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

func checkCommand() command {
	return command{
		name:    "check",
		summary: "add up every ledger anew and hold the balances against it",
		example: `boltward check
boltward check --json`,
		more: `It changes nothing, and exits with 0 when every balance agrees with its ledger, else with 1.
--json gives {"drives", "outside", "checksums", "differing", "differences"}: for each drive by its id {"counts": rows by table, "sums": areas in
square 1/1600 mm, pillowcases and kits by where they are}; in "outside" the rows that belong to no drive; in "checksums" a sum
over all rows by table, whatever their order; in "differing" how many balances do not agree, by drive, without those where none
does; in "differences" an array of {"drive", "what"}, the first 50 of each drive. Nothing of time or place is in it: two databases that hold the same say the same.`,
		run: runCheck,
	}
}

func runCheck(ctx context.Context, env Env, args []string) error {
	fs := newFlags("check")
	asJSON := fs.Bool("json", false, "as JSON")
	if err := fs.none(args); err != nil {
		return err
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		check := store.CheckBalances
		if *asJSON {
			check = store.CheckAll
		}
		found, err := check(ctx)
		if err != nil {
			return err
		}
		if *asJSON {
			err = json.NewEncoder(env.Stdout).Encode(found)
		} else {
			err = tellBalances(env.Stdout, found)
		}
		if err != nil || found.Agree() {
			return err
		}
		return apperr.Conflict("%s not agree. Change nothing more, keep a backup of what stands, and ask whoever looks after the program.",
			counted(found.Differ(), "balance does", "balances do"))
	})
}

func tellBalances(w io.Writer, found postgres.Balances) error {
	var text string
	for _, id := range slices.Sorted(maps.Keys(found.Drives)) {
		n := found.Drives[id].Counts
		text += fmt.Sprintf("%s: %s and %s of fabric, %s and %s of kits, %s of pillowcases.\n", id,
			counted(int(n["pieces"]), "piece", "pieces"), counted(int(n["fabric_entries"]), "entry", "entries"),
			counted(int(n["kits"]), "kit", "kits"), counted(int(n["kit_entries"]), "entry", "entries"),
			counted(int(n["case_entries"]), "entry", "entries"))
	}
	for _, line := range differenceLines(found) {
		text += line + "\n"
	}
	if found.Agree() {
		text += "Every balance agrees with its ledger.\n"
	}
	if _, err := io.WriteString(w, text); err != nil {
		return fmt.Errorf("tell the balances: %w", err)
	}
	return nil
}

// differenceLines names what differs, and of each drive how much more than is named.
func differenceLines(found postgres.Balances) []string {
	var lines []string
	for _, d := range found.Differences {
		if d.Drive == "" {
			lines = append(lines, "of no drive: "+d.What)
			continue
		}
		lines = append(lines, d.Drive+": "+d.What)
	}
	for _, id := range slices.Sorted(maps.Keys(found.Differing)) {
		if more := found.Differing[id] - postgres.DifferencesTold; more > 0 {
			lines = append(lines, fmt.Sprintf("%s: %s not agree", id, counted(more, "balance more does", "balances more do")))
		}
	}
	return lines
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
