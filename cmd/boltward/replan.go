package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/planning"
)

func replanCommand() command {
	return command{
		name:    "replan",
		summary: "change a plan after fabric, kits or quotas have changed, keeping what is settled",
		example: `boltward replan problem.json plan.json --settled settled.json --out new.json
boltward replan problem.json plan.json --out new.json --kept kept.json && boltward plan --prove kept.json new.json
boltward replan problem.json plan.json --json
boltward replan problem.json plan.json --leave-kits --out new.json
boltward replan --drive spring
boltward replan --drive spring --plan 3 --keep --json`,
		more: `problem.json is the problem as it is now, plan.json the plan made before. settled.json names what cannot change:
{"kits": ["K1"], "pieces": [{"fabric": "F1", "piece": 1}]}: kits cut or handed out, whose panels stay where they lie, and pieces cut. The new file holds the plan.
It makes no less than a plan made anew and changes few kits; with --leave-kits ("whole": true in settled.json) it changes none that can stay
as it is, and may make less. Its bound speaks of the problem with what was kept, which --kept writes.
--drive changes the newest accepted plan of a drive, or the one --plan names, as everything stands now: what is cut, at the table
or with a volunteer stays. Nothing is kept but with --keep; then the changed plan waits on its page to be accepted.
--json: {"plan", "problem" (with what was kept as fixed), "kept", "changed", "gone", "new", "quotas": [{"id", "from", "to"}], "recut", "tries"},
with --drive also {"of": 3, "number": 5}: the plan that is changed and, with --keep, the one that was kept; kits have their numbers as ids.
--json-progress writes one object a line to standard error, as plan does (boltward help plan).`,
		run: runReplan,
	}
}

func runReplan(ctx context.Context, env Env, args []string) error {
	fs := newFlags("replan")
	out := fs.String("out", "", "where the changed plan is written (`FILE`)")
	settledName := fs.String("settled", "", "what cannot change any more (`FILE`)")
	kept := fs.String("kept", "", "where the problem with what was kept is written, for --prove (`FILE`)")
	effort := fs.Int64("effort", 0, "how much work at most; the same effort gives the same plan (`N`)")
	within := fs.Duration("within", usualWithin, "the most time; 0s for none (`DURATION`)")
	asJSON := fs.Bool("json", false, "all that changed, for a program to read")
	progress := progressFlag(fs)
	driveID := fs.String("drive", "", "the drive whose plan is changed (`ID`); boltward drives lists them")
	number := fs.Int64("plan", 0, "which plan of the drive (`N`); the newest accepted one where none is given")
	keep := fs.Bool("keep", false, "keep the changed plan of the drive, to be accepted")
	whole := fs.Bool("leave-kits", false, "leave every kit as it is that is still whole, also where that makes less")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	o := planning.Options{Effort: *effort, Within: *within, Progress: progressFor(ctx, env, *progress), Now: env.Now}
	if err := errors.Join(mayWrite("--out", *out), mayWrite("--kept", *kept)); err != nil {
		return err
	}
	switch {
	case *driveID != "" && (len(words) > 0 || *settledName != ""):
		return usage("say either a drive, or a problem and a plan")
	case *driveID != "" && *effort >= 0 && *within >= 0 && *number >= 0:
		return driveChange{drive: *driveID, plan: *number, keep: *keep, whole: *whole, json: *asJSON, out: *out, kept: *kept, o: o}.run(ctx, env)
	case *keep || *number != 0:
		return usage("--plan and --keep go with --drive")
	}
	if len(words) != 2 || *effort < 0 || *within < 0 {
		return usage("say which problem and which plan: boltward replan problem.json plan.json --out new.json")
	}
	problem, err := readProblem(ctx, env, words[0])
	if err != nil {
		return err
	}
	old, err := readPlan(words[1])
	if err != nil {
		return err
	}
	settled, err := readSettled(*settledName, old)
	if err != nil {
		return err
	}
	settled.Whole = settled.Whole || *whole
	r, err := planning.Replan(ctx, problem, old, settled, o)
	if err != nil {
		return err
	}
	if *out != "" {
		if err := writePlan(*out, r.Joined(problem)); err != nil {
			return err
		}
	}
	if *kept != "" {
		if err := writeJSON(*kept, r.Problem); err != nil {
			return err
		}
	}
	if *asJSON {
		return json.NewEncoder(env.Stdout).Encode(r)
	}
	var text strings.Builder
	fmt.Fprintln(&text, planning.Words(r.Plan))
	fmt.Fprintf(&text, "Kits kept: %d. Changed: %s. Fallen away: %s. New: %s.\n", len(r.Kept), orNone(r.Changed), orNone(r.Gone), orNone(r.New))
	for _, q := range r.Quotas {
		fmt.Fprintf(&text, "%s: %d, was %d\n", q.ID, q.To, q.From)
	}
	_, err = io.WriteString(env.Stdout, text.String())
	return err
}

func orNone(ids []string) string {
	if len(ids) == 0 {
		return "none"
	}
	return strings.Join(ids, ", ")
}

// readSettled reads what cannot change any more of a plan. A word that it does not know, or a kit
// or piece that the plan does not have, is a fault: what was meant would be changed otherwise.
func readSettled(name string, old *planning.Plan) (planning.Settled, error) {
	s := planning.Settled{Lie: true}
	if name == "" {
		return s, nil
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return s, apperr.Invalid(name, "cannot be opened; look at its name and whether you may read it.")
	}
	d := json.NewDecoder(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return s, apperr.Invalid(name, `must be {"kits": ["K1"], "pieces": [{"fabric": "F1", "piece": 1}]}: %v`, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return s, apperr.Invalid(name, "something follows after the end of the JSON object")
	}
	return s, apperr.InvalidFields(unknownSettled(s, old))
}

// unknownSettled lists what is settled and yet not in the plan.
func unknownSettled(s planning.Settled, old *planning.Plan) []apperr.Field {
	var bad []apperr.Field
	for i, id := range s.Kits {
		if !slices.ContainsFunc(old.Kits, func(k planning.Kit) bool { return k.ID == id }) {
			bad = append(bad, apperr.Field{Name: fmt.Sprintf("kits[%d]", i), Why: fmt.Sprintf("the plan has no kit %q", id)})
		}
	}
	uncut := func(list string, pieces []planning.PieceName) {
		for i, at := range pieces {
			if old.LayoutOf(at.Fabric, at.Piece) == nil {
				bad = append(bad, apperr.Field{Name: fmt.Sprintf("%s[%d]", list, i), Why: fmt.Sprintf("the plan cuts nothing from piece %d of %q", at.Piece, at.Fabric)})
			}
		}
	}
	uncut("pieces", s.Pieces)
	uncut("laid", s.Laid)
	return bad
}
