package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"boltward/internal/cutting"
)

// published runs the instances of Beasley (1985) at any depth of cuts.
func published(ctx context.Context, cfg config) error {
	folder := filepath.Join(cfg.shared, "data", "cutting", "gcut")
	if _, err := os.Stat(folder); err != nil {
		fmt.Println("Published guillotine instances: LEFT OUT, they are not in", folder)
		return nil
	}
	fmt.Printf("Published guillotine instances (Beasley 1985), any depth of cuts.\n%8s | %10s %9s | %10s %9s\n", "instance", "fixed", "ms", "rotated", "ms")
	for n := 1; n <= 13; n++ {
		data, err := os.ReadFile(filepath.Join(folder, fmt.Sprintf("gcut%d.txt", n)))
		if err != nil {
			return err
		}
		fmt.Printf("%8s |", fmt.Sprintf("gcut%d", n))
		for _, rotated := range []bool{false, true} {
			forms, value, width, length, err := instance(data, rotated)
			if err != nil {
				return err
			}
			if ctx.Err() != nil {
				return ctx.Err()
			}
			start := time.Now()
			best, _, err := cutting.Guillotine(forms, value, width, length)
			if err != nil {
				return err
			}
			fmt.Printf(" %10d %9.2f |", best, float64(time.Since(start).Microseconds())/1000)
		}
		fmt.Println()
	}
	return nil
}

func instance(data []byte, rotated bool) (forms []cutting.Form, value []int64, width, length int64, err error) {
	var v []int64
	for _, f := range strings.Fields(string(data)) {
		n, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			return nil, nil, 0, 0, err
		}
		v = append(v, n)
	}
	for i := 3; i+2 < len(v); i += 3 {
		forms, value = append(forms, cutting.Form{W: v[i], H: v[i+1]}), append(value, v[i+2])
		if rotated && v[i] != v[i+1] {
			forms, value = append(forms, cutting.Form{W: v[i+1], H: v[i]}), append(value, v[i+2])
		}
	}
	return forms, value, v[1], v[2], nil
}
