package main

import (
	"context"
	"encoding/json"
	"errors"
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
--json gives {"drives", "outside", "checksums", "differences"}: for each drive by its id {"counts": rows by table, "sums": areas in
square 1/1600 mm, pillowcases and kits by where they are}; in "outside" the rows that belong to no drive; in "checksums" a sum
over all rows by table, whatever their order; in "differences" an array of {"drive", "what"}. Nothing of time or place is in it: two databases that hold the same say the same.`,
		run: runCheck,
	}
}

func runCheck(ctx context.Context, env Env, args []string) (err error) {
	fs := newFlags("check")
	asJSON := fs.Bool("json", false, "as JSON")
	if err := fs.none(args); err != nil {
		return err
	}
	db, err := openDatabase(ctx, env)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	check := postgres.New(db.pool, env.Now).CheckBalances
	if *asJSON {
		check = postgres.New(db.pool, env.Now).CheckAll
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
		counted(len(found.Differences), "balance does", "balances do"))
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
	for _, d := range found.Differences {
		text += d.Drive + ": " + d.What + "\n"
	}
	if found.Agree() {
		text += "Every balance agrees with its ledger.\n"
	}
	if _, err := io.WriteString(w, text); err != nil {
		return fmt.Errorf("tell the balances: %w", err)
	}
	return nil
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
