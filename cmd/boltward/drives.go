package main

import (
	"context"
	"encoding/json"
	"fmt"
	"text/tabwriter"

	"boltward/internal/postgres"
)

func drivesCommand() command {
	return command{
		name:    "drives",
		summary: "list the drives with the ids that --drive and addresses use",
		example: `boltward drives
boltward drives --json`,
		more: `--json gives an array of {"id", "name"}.`,
		run:  runDrives,
	}
}

func runDrives(ctx context.Context, env Env, args []string) error {
	fs := newFlags("drives")
	asJSON := fs.Bool("json", false, "as JSON")
	if err := fs.none(args); err != nil {
		return err
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		drives, err := store.Drives(ctx)
		if err != nil {
			return err
		}
		if *asJSON {
			type line struct {
				ID   string `json:"id"`
				Name string `json:"name"`
			}
			lines := make([]line, len(drives))
			for i, d := range drives {
				lines[i] = line{d.ID, d.Name}
			}
			return json.NewEncoder(env.Stdout).Encode(lines)
		}
		if len(drives) == 0 {
			env.say("There is no drive yet. boltward serve leads through the first, boltward demo loads an invented one.")
			return nil
		}
		w := tabwriter.NewWriter(env.Stdout, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "id\tname")
		for _, d := range drives {
			fmt.Fprintf(w, "%s\t%s\n", d.ID, d.Name)
		}
		return w.Flush()
	})
}
