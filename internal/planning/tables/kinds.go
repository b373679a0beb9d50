package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"

	"boltward/internal/planning/invent"
)

// kinds prints drives that the shared generator does not make.
func kinds(ctx context.Context, cfg config) error {
	wanted := cfg.kinds
	if len(wanted) == 0 || wanted[0] == "all" {
		wanted = nil
		for _, k := range invent.Kinds() {
			wanted = append(wanted, k.Name)
		}
	}
	fmt.Println("Drives of other kinds. best: what a best plan is worth, where the drive was built from one. Pillowcases: made of at most.")
	fmt.Printf("%-12s %7s %4s | %10s %10s %7s %10s | %13s %4s | %-7s %7s %7s %5s  %s\n",
		"kind", "fabrics", "seed", "made", "bound", "gap %", "best", "pillowcases", "gap", "stopped", "s", "CPU s", "MiB", "both checks")
	for _, name := range wanted {
		k, ok := invent.Named(name)
		if !ok {
			return fmt.Errorf("there is no kind %q", name)
		}
		counts, err := countsOf(cfg, k)
		if err != nil {
			return err
		}
		for _, n := range counts {
			for _, seed := range cfg.seeds {
				if err := kindRow(ctx, cfg, k, n, seed); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// countsOf gives of how many fabrics drives of a kind are to be printed.
func countsOf(cfg config, k invent.Kind) ([]int, error) {
	var out []int
	for _, text := range cfg.counts {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return nil, fmt.Errorf("%q is no number of fabrics", text)
		}
		out = append(out, n)
	}
	if len(out) > 0 {
		return out, nil
	}
	for _, n := range k.Sizes {
		if n <= cfg.most {
			out = append(out, n)
		}
	}
	return out, nil
}

func kindRow(ctx context.Context, cfg config, k invent.Kind, n int, seed string) error {
	number, err := strconv.ParseUint(seed, 10, 64)
	if err != nil {
		return fmt.Errorf("seed: %w", err)
	}
	d := k.Make(number, n)
	s, err := solve(ctx, cfg, d.Problem)
	if err != nil {
		return fmt.Errorf("%s, %d fabrics, seed %s: %w", k.Name, n, seed, err)
	}
	defer s.remove()
	best, sum := "", s.Plan.Summary
	if d.Known {
		best = d.Best.String()
		if sum.WeightBound.Cmp(d.Best) < 0 {
			s.verdict = "BOUND BELOW THE BEST"
		}
	}
	fmt.Printf("%-12s %7d %4s | %10s %10s %7.3f %10s | %6d/%-6d %4d | %-7s %7.2f %7.2f %5d  %s\n",
		k.Name, n, seed, sum.WeightMade, sum.WeightBound, gap(s.Plan), best, sum.CasesMade, sum.CasesBound, gapInCases(s.Plan), sum.Stopped, s.Seconds, s.processors.Seconds(), s.MiB, s.verdict)
	return nil
}

// showDrive prints the problem of one drive.
func showDrive(words []string) error {
	if len(words) != 3 {
		return errors.New("-show takes a kind, a number of fabrics and a seed")
	}
	k, ok := invent.Named(words[0])
	if !ok {
		return fmt.Errorf("there is no kind %q", words[0])
	}
	n, err := strconv.Atoi(words[1])
	if err != nil || n < 1 {
		return fmt.Errorf("%q is no number of fabrics", words[1])
	}
	seed, err := strconv.ParseUint(words[2], 10, 64)
	if err != nil {
		return fmt.Errorf("seed: %w", err)
	}
	out := json.NewEncoder(os.Stdout)
	out.SetIndent("", " ")
	return out.Encode(k.Make(seed, n).Problem)
}
