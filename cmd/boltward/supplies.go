package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"strconv"
	"text/tabwriter"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

func suppliesCommand() command {
	return command{
		name:    "supplies",
		summary: "thread, bags and labels: what there is, and for how many kits it suffices",
		example: `boltward supplies list --drive spring
boltward supplies add "white thread" --drive spring --have 12 --unit spools --used 1 --kits 4
boltward supplies came 3 --drive spring --n 10
boltward supplies went 3 --drive spring --n 2
boltward supplies change 3 --drive spring --have 9
boltward supplies retire 3 --drive spring`,
		more: `list --json gives {"kits": kits planned or cut and not ready, "supplies": [{"number", "name", "unit", "have", "used", "kits", "enough_for", "short"}]};
enough_for is null where nobody said how much a kit uses. The others give {"number", "have"}.`,
		run: runSupplies,
	}
}

// supplyFlags are what the command takes; fs says which of them were given.
type supplyFlags struct {
	drive, unit, note   string
	have, used, kits, n int
	asJSON              bool
}

func runSupplies(ctx context.Context, env Env, args []string) error {
	var f supplyFlags
	fs := newFlags("supplies")
	fs.StringVar(&f.drive, "drive", "", "the drive (`ID`); boltward drives lists them")
	fs.IntVar(&f.have, "have", 0, "add, change: how many there are")
	fs.StringVar(&f.unit, "unit", "", "add, change: what is counted (`WORD`): spools, bags")
	fs.IntVar(&f.used, "used", 0, "add, change: how many are used …")
	fs.IntVar(&f.kits, "kits", 1, "… by so many kits")
	fs.StringVar(&f.note, "note", "", "add, change: a `NOTE`")
	fs.IntVar(&f.n, "n", 0, "came, went: how many")
	fs.BoolVar(&f.asJSON, "json", false, "as JSON")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if len(words) == 0 || f.drive == "" || len(words) > 2 || (words[0] == "list") != (len(words) == 1) {
		return usage("say what to do, and with which supply: boltward supplies list --drive ID")
	}
	var number int64
	if words[0] != "list" && words[0] != "add" {
		if number, err = strconv.ParseInt(words[1], 10, 64); err != nil || number < 1 {
			return usage("%q is no supply: boltward supplies list gives their numbers", words[1])
		}
	}
	return withDrive(ctx, env, f.drive, func(store *postgres.Store, d drive.Drive) error {
		act := commandAct(env, d.ID)
		var have int
		var err error
		switch words[0] {
		case "list":
			return listSupplies(ctx, env, store, d, f.asJSON)
		case "add":
			have = f.have
			number, err = store.SaveSupply(ctx, act, drive.Supply{Name: words[1], Unit: f.unit, Have: f.have, Used: f.used, PerKits: f.kits, Note: f.note})
		case "change":
			supply, lookErr := store.Supply(ctx, d.ID, number)
			if lookErr != nil {
				return lookErr
			}
			supply = f.changed(supply, fs.FlagSet)
			have = supply.Have
			_, err = store.SaveSupply(ctx, act, supply)
		case "came":
			have, err = store.MoveSupply(ctx, act, number, f.n)
		case "went":
			have, err = store.MoveSupply(ctx, act, number, -f.n)
		case "retire":
			supply, lookErr := store.Supply(ctx, d.ID, number)
			if lookErr != nil {
				return lookErr
			}
			have = supply.Have
			_, err = store.RetireSupply(ctx, act, number)
		default:
			return usage("%q is nothing that can be done to supplies: list, add, change, came, went, retire", words[0])
		}
		if err != nil {
			return err
		}
		if f.asJSON {
			return json.NewEncoder(env.Stdout).Encode(map[string]any{"number": number, "have": have})
		}
		text := fmt.Sprintf("Supply %d: there are %d.", number, have)
		if words[0] == "retire" {
			text = fmt.Sprintf("Supply %d is off the list.", number)
		}
		_, err = fmt.Fprintln(env.Stdout, text)
		return err
	})
}

// changed is the supply with what was given on the command line, and no more.
func (f supplyFlags) changed(s drive.Supply, given *flag.FlagSet) drive.Supply {
	given.Visit(func(g *flag.Flag) {
		switch g.Name {
		case "have":
			s.Have = f.have
		case "unit":
			s.Unit = f.unit
		case "used":
			s.Used = f.used
		case "kits":
			s.PerKits = f.kits
		case "note":
			s.Note = f.note
		}
	})
	return s
}

func listSupplies(ctx context.Context, env Env, store *postgres.Store, d drive.Drive, asJSON bool) error {
	list, kits, err := store.Supplies(ctx, d.ID)
	if err != nil {
		return err
	}
	if asJSON {
		rows := []map[string]any{}
		for _, s := range list {
			row := map[string]any{
				"number": s.Number, "name": s.Name, "unit": s.Unit, "have": s.Have, "used": s.Used, "kits": s.PerKits, "enough_for": nil, "short": s.ShortFor(kits),
			}
			if enough, told := s.EnoughFor(); told {
				row["enough_for"] = enough
			}
			rows = append(rows, row)
		}
		return json.NewEncoder(env.Stdout).Encode(map[string]any{"kits": kits, "supplies": rows})
	}
	w := tabwriter.NewWriter(env.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "supply\twhat\tthere are\tenough for")
	for _, s := range list {
		enough := "not told"
		if n, told := s.EnoughFor(); told {
			enough = fmt.Sprintf("%d kits", n)
			if s.ShortFor(kits) {
				enough += fmt.Sprintf(", and %d wait", kits)
			}
		}
		fmt.Fprintf(w, "%d\t%s\t%d %s\t%s\n", s.Number, s.Name, s.Have, s.Unit, enough)
	}
	return w.Flush()
}
