package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"

	"boltward/internal/apperr"
	"boltward/internal/planning/proof"
)

// runProve has the second checker confirm or refute the bounds of a plan.
func runProve(ctx context.Context, env Env, words []string, asJSON bool) error {
	if len(words) != 2 {
		return usage("say which problem and which plan: boltward plan --prove problem.json plan.json")
	}
	var files [2]*os.File
	for i, name := range words {
		file, err := os.Open(name)
		if err != nil {
			return apperr.Invalid(name, "cannot be opened; look at its name and whether you may read it.")
		}
		defer file.Close()
		files[i] = file
	}
	v, err := proof.Check(ctx, files[0], files[1])
	if ctx.Err() != nil {
		return errors.New("not proven: stopped before the end")
	}
	if err != nil {
		return fmt.Errorf("not proven: %w", err)
	}
	weight, _ := v.WeightBound.Float64()
	if asJSON {
		return json.NewEncoder(env.Stdout).Encode(map[string]any{"proven": true, "weight_bound": weight, "cases_bound": v.CasesBound, "leaves": v.Leaves, "work": v.Work})
	}
	_, err = fmt.Fprintf(env.Stdout, "Proven: no plan is worth more than %s, none makes more than %s pillowcases.\n", v.WeightBound.RatString(), v.CasesBound)
	return err
}
