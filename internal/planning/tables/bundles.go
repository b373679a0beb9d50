package main

import (
	"context"
	"fmt"
	"strconv"

	"boltward/internal/planning"
	"boltward/internal/planning/invent"
)

// bundles prints how few bundles kits take, beside what is proven that they take at least, and
// how often a kit holds a print again.
func bundles(ctx context.Context, cfg config) error {
	fmt.Println("Bundles of kits. least: proven, of these panels in kits of these sizes. again: pillowcases whose print their kit holds already.")
	fmt.Printf("%-12s %7s %4s | %11s %5s | %7s %7s %6s | %5s | %7s  %s\n",
		"kind", "fabrics", "seed", "pillowcases", "kits", "bundles", "least", "over %", "again", "s", "both checks")
	kits, least := 0, 0
	for _, name := range []string{"centimetres", "identical", "sparse", "dense", "scraps", "sizes", "steep"} {
		k, ok := invent.Named(name)
		if !ok {
			return fmt.Errorf("there is no kind %q", name)
		}
		for _, n := range k.Sizes {
			if n > cfg.most {
				continue
			}
			for _, seed := range cfg.seeds {
				s, err := bundleRow(ctx, cfg, k, n, seed)
				if err != nil {
					return err
				}
				kits, least = kits+s.Bundles, least+s.BundlesLeast
			}
		}
	}
	fmt.Printf("Together %d bundles; no fewer than %d: %.2f %% over.\n", kits, least, over(kits, least))
	return nil
}

func bundleRow(ctx context.Context, cfg config, k invent.Kind, n int, seed string) (planning.Summary, error) {
	number, err := strconv.ParseUint(seed, 10, 64)
	if err != nil {
		return planning.Summary{}, fmt.Errorf("seed: %w", err)
	}
	p := k.Make(number, n).Problem
	s, err := solve(ctx, cfg, p)
	if err != nil {
		return planning.Summary{}, fmt.Errorf("%s, %d fabrics, seed %s: %w", k.Name, n, seed, err)
	}
	defer s.remove()
	sum := s.Plan.Summary
	fmt.Printf("%-12s %7d %4s | %11d %5d | %7d %7d %6.2f | %5d | %7.2f  %s\n",
		k.Name, n, seed, sum.CasesMade, len(s.Plan.Kits), sum.Bundles, sum.BundlesLeast, over(sum.Bundles, sum.BundlesLeast),
		planning.Repeats(p, s.Plan), s.Seconds, s.verdict)
	return sum, nil
}

// over gives by how much more a number is than the least, in hundredths of that.
func over(n, least int) float64 {
	if least == 0 {
		return 0
	}
	return 100 * float64(n-least) / float64(least)
}
