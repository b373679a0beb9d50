package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"text/tabwriter"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

func stocktakeCommand() command {
	return command{
		name:    "stocktake",
		summary: "count what lies on the shelves, and post the differences with a reason",
		example: `boltward stocktake begin --drive spring --shelf C2
boltward stocktake count 42 --drive spring
boltward stocktake count 43 --drive spring --length "1=2 1/2 yd" --length 2=0
boltward stocktake show --drive spring
boltward stocktake post --drive spring --why "counted; nobody knows where it went"`,
		more: `count without --length notes that the lot lies there as booked; forget LOT takes a count back, drop gives the stocktake up.
All but begin work on the stocktake that is open. show --json gives {"stocktake", "shelf", "state", "counted", "differ", "to_count"};
begin, count, forget, post and drop give {"stocktake"}, count also {"lot", "differs"} and post {"lots", "deeds"}.`,
		run: runStocktake,
	}
}

func runStocktake(ctx context.Context, env Env, args []string) error {
	var in, shelf, why string
	var lengths []string
	var asJSON, sure bool
	fs := newFlags("stocktake")
	fs.StringVar(&in, "drive", "", "the drive (`ID`); boltward drives lists them")
	fs.StringVar(&shelf, "shelf", "", "begin: only what lies on this `SHELF`")
	fs.StringVar(&why, "why", "", "post: why the books differ (`REASON`)")
	fs.BoolVar(&sure, "sure", false, "count: far more lies there than is booked, and the tape says so")
	fs.BoolVar(&asJSON, "json", false, "as JSON")
	fs.Func("length", "count: `PIECE=LENGTH` that lies there; once for each piece", func(s string) error {
		lengths = append(lengths, s)
		return nil
	})
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	ofLot := len(words) > 0 && (words[0] == "count" || words[0] == "forget")
	if len(words) == 0 || in == "" || ofLot != (len(words) == 2) || len(words) > 2 {
		return usage("say what to do: boltward stocktake begin, count LOT, forget LOT, show, post or drop, with --drive ID")
	}
	var lot int64
	if ofLot {
		if lot, _, err = lotAndPiece(words[1], false); err != nil {
			return err
		}
	}
	return withDrive(ctx, env, in, func(store *postgres.Store, d drive.Drive) error {
		act, tell := commandAct(env, d.ID), teller{env, asJSON}
		if words[0] == "begin" {
			take, err := store.BeginStocktake(ctx, act, shelf)
			if err != nil {
				return err
			}
			return tell.done(map[string]any{"stocktake": take}, "Stocktake %d is open.", take)
		}
		take, err := openStocktake(ctx, store, d.ID)
		if err != nil {
			return err
		}
		switch words[0] {
		case "count":
			counted, err := countedLengths(lengths, d)
			if err != nil {
				return err
			}
			version := 0
			for _, c := range take.Counted {
				if c.Lot == lot {
					version = c.Version
				}
			}
			done, err := store.CountLot(ctx, act, take.Number, lot, version, counted, sure)
			if err != nil {
				return answeredByFlag(err)
			}
			stands := "is as booked"
			if done.Differs {
				stands = "differs"
			}
			return tell.done(map[string]any{"stocktake": take.Number, "lot": lot, "differs": done.Differs}, "Lot %d %s.", lot, stands)
		case "forget":
			if _, err := store.ForgetCount(ctx, act, take.Number, lot); err != nil {
				return err
			}
			return tell.done(map[string]any{"stocktake": take.Number}, "The count of lot %d is taken back.", lot)
		case "show":
			return tell.stocktake(take, d)
		case "post":
			posted, err := store.PostStocktake(ctx, act, take.Number, why)
			if err != nil {
				return err
			}
			deeds := append([]int64{}, posted.Deeds...)
			return tell.done(map[string]any{"stocktake": take.Number, "lots": posted.Lots, "deeds": deeds}, "Stocktake %d is posted: %d lots counted, %d differed.", take.Number, posted.Lots, len(deeds))
		case "drop":
			if _, err := store.DropStocktake(ctx, act, take.Number); err != nil {
				return err
			}
			return tell.done(map[string]any{"stocktake": take.Number}, "Stocktake %d is given up: nothing of it is booked.", take.Number)
		}
		return usage("%q is nothing that can be done to a stocktake: begin, count, forget, show, post, drop", words[0])
	})
}

// openStocktake gives the one that is open, with all that was counted.
func openStocktake(ctx context.Context, store *postgres.Store, driveID string) (postgres.StocktakePage, error) {
	list, err := store.Stocktakes(ctx, driveID)
	if err != nil {
		return postgres.StocktakePage{}, err
	}
	for _, s := range list {
		if s.State == drive.StocktakeOpen {
			return store.Stocktake(ctx, driveID, s.Number, 50)
		}
	}
	return postgres.StocktakePage{}, apperr.Conflict("No stocktake is open. Begin one first.")
}

// countedLengths reads 1=2 1/2 yd, once for each piece.
func countedLengths(texts []string, d drive.Drive) (map[int]length.Length, error) {
	counted := map[int]length.Length{}
	for _, text := range texts {
		number, long, found := strings.Cut(text, "=")
		piece, err := strconv.Atoi(strings.TrimSpace(number))
		if !found || err != nil || piece < 1 {
			return nil, apperr.Invalid("--length", "%q does not say which piece: write 1=2 1/2 yd.", text)
		}
		if counted[piece], err = length.Parse(long, d.Yardage(), length.Down); err != nil {
			return nil, apperr.Invalid("--length", "%s", err.Error())
		}
	}
	return counted, nil
}

// teller says what was done, in words or as JSON.
type teller struct {
	env    Env
	asJSON bool
}

func (t teller) done(facts map[string]any, format string, args ...any) error {
	if t.asJSON {
		return json.NewEncoder(t.env.Stdout).Encode(facts)
	}
	_, err := fmt.Fprintf(t.env.Stdout, format+"\n", args...)
	return err
}

func (t teller) stocktake(take postgres.StocktakePage, d drive.Drive) error {
	if t.asJSON {
		return t.done(map[string]any{
			"stocktake": take.Number, "shelf": take.Shelf, "state": string(take.State), "counted": take.Lots, "differ": take.Differ, "to_count": take.ToCount,
		}, "")
	}
	w := tabwriter.NewWriter(t.env.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "Stocktake %d: %d lots counted, %d differ, %d to count.\n", take.Number, take.Lots, take.Differ, take.ToCount)
	for _, c := range take.Counted {
		for _, p := range c.Counts {
			if p.Differs() {
				fmt.Fprintf(w, "%s\tbooked %s\tlay there %s\n", drive.ClothID(c.Lot, p.Piece), drive.OnTape(p.Booked, d.Yardage()), drive.OnTape(p.Counted, d.Yardage()))
			}
		}
	}
	for _, l := range take.Missing {
		fmt.Fprintf(w, "%d\tnot scanned yet\n", l.Number)
	}
	return w.Flush()
}
