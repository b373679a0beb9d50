// Command tables prints how good and how fast the planner is, in three tables: beside the
// general-purpose peer on invented drives, on the published guillotine instances, and as
// drives grow. It needs the shared folder beside the project (generator, peer, instances);
// what is not there is said and left out. Times are wall clock of this machine.
//
//	go run ./internal/planning/tables [-seeds 1,2,3,4,5] [-grow 30,100,300,1000,3000,30000] [-peer] [-steep] [-shared ../shared]
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"boltward/internal/cutting"
	"boltward/internal/planning"
	"boltward/internal/planning/proof"
)

type config struct {
	shared string
	seeds  []string
	sizes  []string
	grow   []string
	peer   bool
	steep  bool
}

func main() {
	shared := flag.String("shared", "../shared", "the shared `FOLDER`")
	seeds := flag.String("seeds", "1,2,3,4,5", "seeds of the drives")
	sizes := flag.String("sizes", "10,20,40,60,100,300", "fabrics of the drives beside the peer")
	grow := flag.String("grow", "30,300,3000,30000", "fabrics of the growing drives")
	peer := flag.Bool("peer", false, "run the peer too, which takes minutes")
	steep := flag.Bool("steep", false, "weights of 100, 10 and 1")
	flag.Parse()
	cfg := config{*shared, split(*seeds), split(*sizes), split(*grow), *peer, *steep}
	if err := run(cfg); err != nil {
		fmt.Fprintln(os.Stderr, "tables:", err)
		os.Exit(1)
	}
}

func split(list string) []string {
	return strings.FieldsFunc(list, func(r rune) bool { return r == ',' })
}

func run(cfg config) error {
	if _, err := os.Stat(cfg.shared); err != nil {
		fmt.Printf("The shared folder is not at %s: no table can be made without it.\n", cfg.shared)
		return nil
	}
	if err := drives(cfg); err != nil {
		return err
	}
	if err := published(cfg); err != nil {
		return err
	}
	return growth(cfg)
}

func drives(cfg config) error {
	fmt.Printf("%8s %4s | %9s %9s %6s %9s %7s %7s | %9s %7s\n", "fabrics", "seed", "made", "bound", "gap %", "cases", "s", "proof", "peer", "s")
	for _, n := range cfg.sizes {
		for _, seed := range cfg.seeds {
			p, name, err := generate(cfg, seed, n)
			if err != nil {
				return err
			}
			plan, took, err := solve(p)
			if err != nil {
				return err
			}
			s := plan.Summary
			fmt.Printf("%8s %4s | %9s %9s %6.2f %4d/%-4d %7.2f %7s |", n, seed, s.WeightMade, s.WeightBound, gap(plan), s.CasesMade, s.CasesBound, took.Seconds(), verdict(p, plan))
			if cfg.peer {
				made, seconds, err := runPeer(cfg, name)
				if err != nil {
					return err
				}
				fmt.Printf(" %9.1f %7.1f", made, seconds)
			}
			fmt.Println()
			os.Remove(name)
		}
	}
	return nil
}

func gap(plan *planning.Plan) float64 {
	made, bound := plan.Summary.WeightMade.Float(), plan.Summary.WeightBound.Float()
	if bound == 0 {
		return 0
	}
	return 100 * (bound - made) / bound
}

// verdict has both checks judge a plan.
func verdict(p *planning.Problem, plan *planning.Plan) string {
	if faults := planning.Check(p, plan); len(faults) > 0 {
		return "INVALID"
	}
	problem, err1 := json.Marshal(p)
	text, err2 := json.Marshal(plan)
	if err1 != nil || err2 != nil {
		return "UNREAD"
	}
	if _, err := proof.Check(bytes.NewReader(problem), bytes.NewReader(text)); err != nil {
		return "REFUTED"
	}
	return "proven"
}

func generate(cfg config, seed, n string) (*planning.Problem, string, error) {
	args := []string{filepath.Join(cfg.shared, "peer", "gen.py"), seed, n, "4"}
	if cfg.steep {
		args = append(args, "steep")
	}
	text, err := exec.Command("python3", args...).Output()
	if err != nil {
		return nil, "", fmt.Errorf("generate drive %s of %s fabrics: %w", seed, n, err)
	}
	file, err := os.CreateTemp("", "drive-*.json")
	if err != nil {
		return nil, "", err
	}
	if _, err := file.Write(text); err != nil {
		return nil, "", err
	}
	if err := file.Close(); err != nil {
		return nil, "", err
	}
	p, err := planning.ReadProblem(bytes.NewReader(text))
	return p, file.Name(), err
}

func solve(p *planning.Problem) (*planning.Plan, time.Duration, error) {
	start := time.Now()
	plan, err := planning.Solve(context.Background(), p, planning.Options{})
	return plan, time.Since(start), err
}

func runPeer(cfg config, name string) (made, seconds float64, err error) {
	out, err := exec.Command("/usr/bin/python3", filepath.Join(cfg.shared, "peer", "ref.py"), name, "60").Output()
	if err != nil {
		return 0, 0, fmt.Errorf("run the peer: %w", err)
	}
	var r struct{ Made, Seconds float64 }
	err = json.Unmarshal(out, &r)
	return r.Made, r.Seconds, err
}

// published runs the instances of Beasley (1985) at any depth of cuts.
func published(cfg config) error {
	fmt.Printf("\n%8s | %10s %9s | %10s %9s\n", "instance", "fixed", "ms", "rotated", "ms")
	for n := 1; n <= 13; n++ {
		data, err := os.ReadFile(filepath.Join(cfg.shared, "data", "cutting", "gcut", fmt.Sprintf("gcut%d.txt", n)))
		if err != nil {
			fmt.Println("The published instances are not here.")
			return nil
		}
		fmt.Printf("%8s |", fmt.Sprintf("gcut%d", n))
		for _, rotated := range []bool{false, true} {
			forms, value, width, length, err := instance(data, rotated)
			if err != nil {
				return err
			}
			start := time.Now()
			best, _ := cutting.Guillotine(forms, value, width, length)
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

func growth(cfg config) error {
	fmt.Printf("\n%8s | %9s %9s %7s %7s %9s\n", "fabrics", "made", "bound", "gap %", "s", "heap MiB")
	for _, n := range cfg.grow {
		p, name, err := generate(cfg, cfg.seeds[0], n)
		if err != nil {
			return err
		}
		os.Remove(name)
		plan, took, err := solve(p)
		if err != nil {
			return err
		}
		var mem runtime.MemStats
		runtime.ReadMemStats(&mem)
		fmt.Printf("%8s | %9s %9s %7.3f %7.2f %9d\n", n, plan.Summary.WeightMade, plan.Summary.WeightBound, gap(plan), took.Seconds(), mem.Sys>>20)
	}
	return nil
}
