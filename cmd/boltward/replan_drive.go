package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// driveChange is how a drive's plan is changed from the command line.
type driveChange struct {
	drive string
	plan  int64 // 0: the newest that stands
	keep  bool
	whole bool // no kit is given up that can stay
	json  bool
	out   string
	kept  string
	o     planning.Options
}

// replanned is what --json prints for a drive: the same as for files, and which plans it is about.
type replanned struct {
	Of     int64 `json:"of"`
	Number int64 `json:"number,omitempty"` // of the plan that was kept, to be accepted
	*planning.Replanned
}

func (d driveChange) run(ctx context.Context, env Env) error {
	return withDrive(ctx, env, d.drive, func(store *postgres.Store, _ drive.Drive) error {
		if d.plan == 0 {
			var err error
			if d.plan, err = newestPlan(ctx, store, d.drive); err != nil {
				return err
			}
		}
		out := replanned{Of: d.plan}
		problem, stands, err := store.ChangeOf(ctx, d.drive, d.plan)
		if err != nil {
			return err
		}
		if d.keep {
			if out.Number, problem, stands, err = d.request(ctx, env, store); err != nil {
				return err
			}
		}
		stands.Settled.Whole = d.whole
		out.Replanned, err = planning.Replan(ctx, problem, stands.Plan, stands.Settled, d.o)
		if err != nil {
			return err
		}
		if d.keep {
			kept, err := store.FinishChange(context.WithoutCancel(ctx), d.drive, out.Number, out.Problem, out.Plan)
			if err != nil {
				return err
			}
			if !kept {
				return apperr.Conflict("Plan %d was put away while it was worked out. Nothing of it is kept.", out.Number)
			}
		}
		return d.tell(ctx, env, store, out, stands)
	})
}

func newestPlan(ctx context.Context, store *postgres.Store, driveID string) (int64, error) {
	plans, _, err := store.Plans(ctx, driveID, 0, 0)
	if err != nil {
		return 0, err
	}
	for _, p := range plans {
		if p.State == drive.PlanAccepted {
			return p.Number, nil
		}
	}
	return 0, apperr.Conflict("No plan of %s stands, so there is nothing to change. Make a plan and accept it first.", driveID)
}

// request keeps a plan to be accepted, and takes it to be worked out here; a server that works
// on plans may do the same, and whoever is first has done it.
func (d driveChange) request(ctx context.Context, env Env, store *postgres.Store) (int64, *planning.Problem, drive.PlanStands, error) {
	number, err := store.RequestChange(ctx, commandAct(env, d.drive), d.plan, d.whole)
	if err != nil {
		return 0, nil, drive.PlanStands{}, err
	}
	problem, err := store.BeginPlan(ctx, d.drive, number)
	if err != nil {
		return 0, nil, drive.PlanStands{}, err
	}
	if problem == nil {
		return 0, nil, drive.PlanStands{}, apperr.Conflict("Plan %d was worked out by somebody else meanwhile; look at it on its page.", number)
	}
	stands, err := store.PlanStands(ctx, d.drive, number)
	if err != nil {
		return 0, nil, drive.PlanStands{}, err
	}
	return number, problem, *stands, nil
}

func (d driveChange) tell(ctx context.Context, env Env, store *postgres.Store, r replanned, stands drive.PlanStands) error {
	if d.out != "" {
		if err := writePlan(d.out, r.Plan); err != nil {
			return err
		}
	}
	if d.kept != "" {
		if err := writeJSON(d.kept, r.Problem); err != nil {
			return err
		}
	}
	if d.json {
		return json.NewEncoder(env.Stdout).Encode(r)
	}
	// Whoever stopped it wants the best so far, and what is kept is told.
	lines, err := store.AskedLines(context.WithoutCancel(ctx), d.drive)
	if err != nil {
		return err
	}
	names := map[string]string{}
	for _, l := range lines {
		names[drive.NumberID(l.Number)] = l.RecipientName + ", " + strings.Join(l.SizeNames, " or ")
	}
	var text strings.Builder
	t := drive.TellChange(r.Problem, r.Plan, stands)
	fmt.Fprintln(&text, planning.Words(r.Plan))
	if t.Nothing() {
		among := ""
		if stands.Settled.Whole {
			among = " with every kit left as it is"
		}
		fmt.Fprintf(&text, "Nothing would change: plan %d is still the best there is%s.\n", r.Of, among)
	} else {
		fmt.Fprintf(&text, "Kits that stay: %d. Change: %s. Fall away: %s. New: %d.\n", len(t.Stay), kitNumbers(t.Change), kitNumbers(t.Gone), len(t.New))
	}
	for _, k := range t.Change {
		fmt.Fprintf(&text, "Kit %d: %s\n", k.Number, strings.Join(k.How, "; "))
	}
	for _, l := range t.Lines {
		if l.From != l.To {
			fmt.Fprintf(&text, "%s: %d, was %d\n", names[l.ID], l.To, l.From)
		}
	}
	for _, sheets := range []struct {
		what    string
		numbers []int64
	}{{"laid out anew", t.SheetsAnew}, {"not cut any more", t.SheetsGone}} {
		if len(sheets.numbers) > 0 {
			fmt.Fprintf(&text, "Sheets %s: %s\n", sheets.what, numbersText(sheets.numbers))
		}
	}
	if r.Number > 0 {
		fmt.Fprintf(&text, "Kept as plan %d, to be looked at and accepted.\n", r.Number)
	}
	_, err = fmt.Fprint(env.Stdout, text.String())
	return err
}

func kitNumbers(list []drive.KitChange) string {
	var numbers []int64
	for _, k := range list {
		numbers = append(numbers, k.Number)
	}
	return numbersText(numbers)
}

func numbersText(list []int64) string {
	words := make([]string, len(list))
	for i, n := range list {
		words[i] = strconv.FormatInt(n, 10)
	}
	return orNone(words)
}
