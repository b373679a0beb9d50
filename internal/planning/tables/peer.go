package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
)

const python = "/usr/bin/python3" // Debian's, which has its own scipy

// peerMissing gives why the peer cannot run, or nothing.
func peerMissing(ctx context.Context, cfg config) string {
	if _, err := os.Stat(filepath.Join(cfg.shared, "peer", "ref.py")); err != nil {
		return fmt.Sprintf("no ref.py in %s", cfg.shared)
	}
	if _, err := exec.LookPath("gcc"); err != nil {
		return "no gcc, which it needs"
	}
	if exec.CommandContext(ctx, python, "-c", "import scipy").Run() != nil {
		return "no Debian python3-scipy, which it needs"
	}
	return ""
}

// peer prints drives beside the general-purpose peer.
func peer(ctx context.Context, cfg config) error {
	if why := missing(cfg); why != "" {
		fmt.Println("Beside the peer: LEFT OUT,", why)
		return nil
	}
	alone := cfg.peer == 0
	fmt.Printf("Beside the general-purpose peer, which may search %d s.", cfg.peer)
	if why := peerMissing(ctx, cfg); why != "" && !alone {
		alone = true
		fmt.Print(" The peer itself is LEFT OUT, ", why, ".")
	}
	fmt.Printf("\n%7s %4s %5s | %8s %8s %7s %5s | %-7s %7s %-14s | %8s %7s %7s\n", "fabrics", "seed", "steep", "made", "bound", "gap %", "cases", "stopped", "s", "both checks", "peer", "s", "faster")
	for _, steep := range steepness(cfg.steep) {
		for _, n := range cfg.sizes {
			for _, seed := range cfg.seeds {
				if err := peerRow(ctx, cfg, seed, n, steep, alone); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func steepness(which string) []bool {
	switch which {
	case "yes":
		return []bool{true}
	case "no":
		return []bool{false}
	}
	return []bool{false, true}
}

func peerRow(ctx context.Context, cfg config, seed, n string, steep, alone bool) error {
	p, err := generate(ctx, cfg, seed, n, steep)
	if err != nil {
		return err
	}
	s, err := solve(ctx, cfg, p)
	if err != nil {
		return err
	}
	defer s.remove()
	sum, word := s.Plan.Summary, "no"
	if steep {
		word = "yes"
	}
	fmt.Printf("%7s %4s %5s | %8s %8s %7.3f %5d | %-7s %7.2f %-14s |", n, seed, word, sum.WeightMade, sum.WeightBound, gap(s.Plan), gapInCases(s.Plan), sum.Stopped, s.Seconds, s.verdict)
	if !alone {
		made, seconds, err := runPeer(ctx, cfg, filepath.Join(s.folder, "problem.json"))
		if err != nil {
			fmt.Println()
			return err
		}
		fmt.Printf(" %8.1f %7.1f %7.1f", made, seconds, seconds/max(s.Seconds, 0.001))
		switch {
		case sum.WeightBound.Float() < made-1e-6:
			fmt.Print(" BOUND BELOW THE PEER'S")
		case sum.WeightMade.Float() < made-1e-6:
			fmt.Print(" less than the peer")
		}
	}
	fmt.Println()
	return nil
}

func runPeer(ctx context.Context, cfg config, problem string) (made, seconds float64, err error) {
	out, err := exec.CommandContext(ctx, python, filepath.Join(cfg.shared, "peer", "ref.py"), problem, strconv.Itoa(cfg.peer)).Output()
	if err != nil {
		return 0, 0, fmt.Errorf("run the peer: %w", err)
	}
	var r struct{ Made, Seconds float64 }
	err = json.Unmarshal(out, &r)
	return r.Made, r.Seconds, err
}
