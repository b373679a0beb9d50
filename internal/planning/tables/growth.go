package main

import (
	"context"
	"fmt"
)

// growth prints drives of one seed as they grow.
func growth(ctx context.Context, cfg config) error {
	if why := missing(cfg); why != "" {
		fmt.Println("Growing drives: LEFT OUT,", why)
		return nil
	}
	fmt.Println("Growing drives. MiB: the most memory held by a process that makes this one plan.")
	fmt.Printf("%7s %4s | %9s %9s %8s %6s | %-7s %7s %5s  %s\n", "fabrics", "seed", "made", "bound", "gap %", "cases", "stopped", "s", "MiB", "both checks")
	for _, n := range cfg.grow {
		p, err := generate(ctx, cfg, cfg.seeds[0], n, false)
		if err != nil {
			return err
		}
		s, err := solve(ctx, cfg, p)
		if err != nil {
			return err
		}
		sum := s.Plan.Summary
		fmt.Printf("%7s %4s | %9s %9s %8.4f %6d | %-7s %7.2f %5d  %s\n",
			n, cfg.seeds[0], sum.WeightMade, sum.WeightBound, gap(s.Plan), gapInCases(s.Plan), sum.Stopped, s.Seconds, s.MiB, s.verdict)
		s.remove()
	}
	return nil
}
