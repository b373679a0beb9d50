package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

func askCommand() command {
	return command{
		name:    "ask",
		summary: "which fabric to ask donors for: what one more piece would bring",
		example: `boltward ask problem.json --plan plan.json
boltward ask problem.json --json
boltward ask --drive spring --json`,
		more: `Each figure comes from planning again with one more yard (half a metre in metric problems), or two or three where one brings
nothing. Without --plan the
problem is planned first. --json: a list, best first, of {"group", "length", "width", "gained", "weight",
"quotas": [{"id", "from", "to"}]}.
--drive asks for a drive as its shelf stands now, also for cloth of which none is there; nothing is kept. Below what helps most it
says what all that is short takes, line by line and together, as if none of it came from the shelf. Its --json:
{"wishes": [{"fabric", "fibre", "kind", "washed", "print", "turn", "colours", "themes", "length", "width", "gained", "weight",
"lines": [{"id", "from", "to"}]}], "short": [{"line", "missing", "kind", "cloth": [{"role", "length", "width"}]}], "whole": {"missing", "cloth"}};
lengths in words, what is short rounded up to quarters of a yard or tenths of a metre.
--json-progress writes one object a line to standard error, as plan does (boltward help plan).`,
		run: runAsk,
	}
}

func runAsk(ctx context.Context, env Env, args []string) error {
	fs := newFlags("ask")
	name := fs.String("plan", "", "a plan of the problem (`FILE`)")
	within := fs.Duration("within", usualWithin, "the most time for planning first; 0s for none (`DURATION`)")
	asJSON := fs.Bool("json", false, "a list for a program to read")
	progress := progressFlag(fs)
	driveID := fs.String("drive", "", "the drive that asks (`ID`); boltward drives lists them")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	o := planning.Options{Within: *within, Progress: progressFor(ctx, env, *progress), Now: env.Now}
	if *driveID != "" {
		if len(words) > 0 || *name != "" {
			return usage("say either a drive, or a problem")
		}
		return askOfDrive(ctx, env, *driveID, o, *asJSON)
	}
	if len(words) != 1 {
		return usage("say which problem: boltward ask problem.json --plan plan.json")
	}
	problem, plan, err := readOrPlan(ctx, env, words[0], *name, o)
	if err != nil {
		return err
	}
	wishes, err := planning.Ask(ctx, problem, plan)
	if err != nil {
		return err
	}
	if ctx.Err() != nil {
		if len(wishes) == 0 {
			return errors.New("stopped before it was known what one more piece would bring")
		}
		env.say(notAllTried)
	}
	if *asJSON {
		if wishes == nil {
			wishes = []planning.Wish{}
		}
		return json.NewEncoder(env.Stdout).Encode(wishes)
	}
	if len(wishes) == 0 {
		_, err = fmt.Fprintln(env.Stdout, "One more piece of any fabric on this shelf would make nothing more.")
		return err
	}
	for _, w := range wishes {
		if _, err = fmt.Fprintf(env.Stdout, "%s %s of %s, %s wide: %s\n", w.Length, problem.Unit, w.Group, w.Width, brings(w)); err != nil {
			return err
		}
	}
	return nil
}

// notAllTried is told where somebody stops what looks for the best: what is said can be made.
const notAllTried = "Stopped before all was tried: more may be possible than is said."

// brings says what a wish would bring; where it only lets more important ones be made, that.
func brings(w planning.Wish) string {
	if w.Gained > 0 {
		return fmt.Sprintf("%d more pillowcases", w.Gained)
	}
	return fmt.Sprintf("worth %s more, by making those that matter more", w.Weight)
}

// readOrPlan reads a problem and a plan of it, or makes one.
func readOrPlan(ctx context.Context, env Env, problemName, planName string, o planning.Options) (*planning.Problem, *planning.Plan, error) {
	problem, err := readProblem(ctx, env, problemName)
	if err != nil {
		return nil, nil, err
	}
	if planName == "" {
		plan, err := planning.Solve(ctx, problem, o)
		return problem, plan, err
	}
	plan, err := readPlan(planName)
	if err != nil {
		return nil, nil, err
	}
	if faults := planning.Check(problem, plan); len(faults) > 0 {
		return nil, nil, apperr.Invalid(planName, "is no valid plan of this problem: %s", faults[0])
	}
	return problem, plan, nil
}

func readPlan(name string) (*planning.Plan, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, apperr.Invalid(name, "cannot be opened; look at its name and whether you may read it.")
	}
	defer file.Close()
	return planning.ReadPlan(file)
}
