package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

// usualWithin is the ceiling on planning time where nobody gives one.
const usualWithin = 10 * time.Second

func planCommand() command {
	return command{
		name:    "plan",
		summary: "work out which panel is cut from which piece, without a database",
		example: `boltward plan problem.json --out plan.json
boltward plan problem.json --out plan.json --within 60s
boltward plan problem.json --why
boltward plan - --json < problem.json
boltward plan --fabric fabric.csv --quota quota.csv --out plan.json
boltward plan --prove problem.json plan.json`,
		more: `What it makes and the most that could be made go to standard output in words, or with --json as the plan's summary:
{"weight_made", "weight_bound", "cases_made", "cases_bound", "seconds", "stopped", "area_used", "pieces_opened", "bundles", "bundles_least", "left_squares"}.
--json-progress writes one object a line to standard error and nothing else there: {"made", "bound", "cases", "cases_bound", "phase", "seconds"}
for progress, {"note"} for what else is worth knowing, {"error", "at"} for each fault, "at" being its field or path where it has one.
--why says of each quota that is not met the reason, and what cloth would help; with --json as "short" in the summary: a list of
{"quota", "missing", "text", "lacks": [{"why", "cases", "case", "groups", "needs": [{"role", "panels", "length", "width"}], "went"}]}.
--prove plans nothing: a second program holds the plan's certificate against the problem and says whether its
bounds are proven; exit code 1 when they are not.
--fabric and --quota take what an organiser keeps in spreadsheets, CSV or xlsx: code, length, width, fibre, print, turn,
colours, themes, pieces, washed, flaws; recipient, size, wanted, due, how much it matters, themes, kit size. The plan is in mm then.
Ctrl-C stops and keeps the best plan so far; a second one ends the program at once. A problem with faults is refused with each at its path; nothing is written then.
A field that is not read and seems misspelt, such as "peices", is named on standard error; fields of your own are passed over.`,
		run: runPlan,
	}
}

func runPlan(ctx context.Context, env Env, args []string) error {
	fs := newFlags("plan")
	out := fs.String("out", "", "where the plan is written (`FILE`)")
	effort := fs.Int64("effort", 0, "how much work at most, about thousandths of a second; the same effort gives the same plan (`N`)")
	within := fs.Duration("within", usualWithin, "the most time; 0s for none (`DURATION`)")
	asJSON := fs.Bool("json", false, "the summary as JSON")
	progress := progressFlag(fs)
	why := fs.Bool("why", false, "say why quotas are not met")
	prove := fs.Bool("prove", false, "check the bounds that a plan claims, instead of planning")
	sheets := spreadsheetFlags(fs)
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if *prove {
		return runProve(ctx, env, words, *asJSON)
	}
	switch {
	case len(words) != 1 && !sheets.given():
		return usage("say which problem: boltward plan problem.json --out plan.json")
	case len(words) != 0 && sheets.given():
		return usage("say either a problem, or --fabric and --quota")
	case *effort < 0:
		return usage("--effort is a whole number from 1")
	case *within < 0:
		return usage("--within is a time such as 30s")
	}
	if err := mayWrite("--out", *out); err != nil {
		return err
	}
	problem, err := problemOf(ctx, env, words, sheets)
	if err != nil {
		return err
	}
	meter := newPlanMeter(ctx, env, *progress)
	plan, err := planning.Solve(ctx, problem, planning.Options{Effort: *effort, Within: *within, Progress: meter.show, Now: env.Now})
	meter.end()
	if err != nil {
		return err
	}
	if *out != "" {
		if err := writePlan(*out, plan); err != nil {
			return err
		}
	}
	var short []planning.Reason
	if *why {
		if short, err = planning.WhyNot(ctx, problem, plan); err != nil {
			return err
		}
	}
	if *asJSON {
		return json.NewEncoder(env.Stdout).Encode(struct {
			planning.Summary
			Short []planning.Reason `json:"short,omitempty"`
		}{plan.Summary, short})
	}
	var text strings.Builder
	fmt.Fprintln(&text, planning.Words(plan), planning.Ended(plan.Summary.Stopped))
	fmt.Fprintln(&text, planning.Figures(plan))
	for _, r := range short {
		fmt.Fprintf(&text, "%s: %d short. %s\n", r.Quota, r.Missing, r.Text)
	}
	_, err = io.WriteString(env.Stdout, text.String())
	return err
}

func problemOf(ctx context.Context, env Env, words []string, sheets spreadsheets) (*planning.Problem, error) {
	if sheets.given() {
		return sheets.read(ctx, env)
	}
	return readProblem(ctx, env, words[0])
}

// errStoppedReading is what a person hears who stops before there is a problem: no plan of it
// could be kept.
var errStoppedReading = errors.New("stopped before the problem was read; there is no plan yet")

// readProblem reads a problem; - is standard input. Fields that seem misspelt are told of. It ends with ctx, also where nobody types.
func readProblem(ctx context.Context, env Env, name string) (*planning.Problem, error) {
	type answer struct {
		problem *planning.Problem
		notes   []string
		err     error
	}
	read := make(chan answer, 1)
	go func() {
		p, notes, err := openProblem(env, name)
		read <- answer{p, notes, err}
	}()
	select {
	case a := <-read:
		for _, note := range a.notes {
			env.say(note)
		}
		return a.problem, a.err
	case <-ctx.Done():
		return nil, errStoppedReading
	}
}

func openProblem(env Env, name string) (*planning.Problem, []string, error) {
	if name == "-" {
		return planning.ReadProblemNoted(env.Stdin)
	}
	file, err := os.Open(name)
	if err != nil {
		return nil, nil, apperr.Invalid(name, "cannot be opened; look at its name and whether you may read it.")
	}
	defer file.Close()
	return planning.ReadProblemNoted(file)
}

// indented is how many layouts of a plan somebody may still read line by line; larger plans are
// written without spaces, in half the time and size.
const indented = 5000

func writePlan(name string, plan *planning.Plan) error {
	if len(plan.Layouts) <= indented {
		return writeWholeBy(name, plan.WriteLines)
	}
	return writeWholeBy(name, plan.Write)
}

func writeJSON(name string, v any) error {
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(v); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	return writeWhole(name, text.Bytes())
}

// isTerminal says whether a person reads this as it is written.
func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0 && file.Name() != os.DevNull
}
