package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"boltward/internal/planning"
)

// missing gives why tables of the shared drives cannot be printed, or nothing.
func missing(cfg config) string {
	if _, err := os.Stat(filepath.Join(cfg.shared, "peer", "gen.py")); err != nil {
		return fmt.Sprintf("no generator of drives in %s", cfg.shared)
	}
	if _, err := exec.LookPath("python3"); err != nil {
		return "no python3, which the generator of drives needs"
	}
	return ""
}

// generate has the shared generator invent a drive.
func generate(ctx context.Context, cfg config, seed, n string, steep bool) (*planning.Problem, error) {
	args := []string{filepath.Join(cfg.shared, "peer", "gen.py"), seed, n, "4"}
	if steep {
		args = append(args, "steep")
	}
	text, err := exec.CommandContext(ctx, "python3", args...).Output()
	if err != nil {
		return nil, fmt.Errorf("generate drive %s of %s fabrics: %w", seed, n, err)
	}
	return planning.ReadProblem(bytes.NewReader(text))
}
