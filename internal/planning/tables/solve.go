package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"boltward/internal/planning"
	"boltward/internal/planning/proof"
)

// oneSolve is what the process of one plan does.
type oneSolve struct {
	problem, plan string
	effort        int64
	within        time.Duration
}

// spent is what it tells of itself.
type spent struct {
	Seconds float64
	MiB     uint64
}

func (o oneSolve) run(ctx context.Context) error {
	file, err := os.Open(o.problem)
	if err != nil {
		return err
	}
	defer file.Close()
	p, err := planning.ReadProblem(file)
	if err != nil {
		return err
	}
	start := time.Now()
	plan, err := planning.Solve(ctx, p, planning.Options{Effort: o.effort, Within: o.within})
	if err != nil {
		return err
	}
	took := spent{Seconds: time.Since(start).Seconds(), MiB: peakMiB()}
	text, err := json.Marshal(plan)
	if err != nil {
		return err
	}
	if err := os.WriteFile(o.plan, text, 0o600); err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(took)
}

// peakMiB gives the most memory this process ever held, as the system counts it; where it does
// not tell, what Go has taken from it.
func peakMiB() uint64 {
	if status, err := os.Open("/proc/self/status"); err == nil {
		defer status.Close()
		for lines := bufio.NewScanner(status); lines.Scan(); {
			if kb, ok := strings.CutPrefix(lines.Text(), "VmHWM:"); ok {
				if n, err := strconv.ParseUint(strings.TrimSpace(strings.TrimSuffix(kb, "kB")), 10, 64); err == nil {
					return n >> 10
				}
			}
		}
	}
	var mem runtime.MemStats
	runtime.ReadMemStats(&mem)
	return mem.Sys >> 20
}

// solved is a plan made in a process of its own, and what both checkers say of it.
type solved struct {
	*planning.Plan
	spent
	verdict    string
	processors time.Duration // that the process took, reading and writing too
	folder     string        // holds problem.json and plan.json
}

func (s *solved) remove() { os.RemoveAll(s.folder) }

// solve plans a problem in a process of its own.
func solve(ctx context.Context, cfg config, p *planning.Problem) (*solved, error) {
	folder, err := os.MkdirTemp("", "boltward-tables-")
	if err != nil {
		return nil, err
	}
	s := &solved{folder: folder}
	text, err := json.Marshal(p)
	if err != nil {
		return s, err
	}
	problem, plan := filepath.Join(folder, "problem.json"), filepath.Join(folder, "plan.json")
	if err := os.WriteFile(problem, text, 0o600); err != nil {
		return s, err
	}
	self, err := os.Executable()
	if err != nil {
		return s, err
	}
	cmd := exec.CommandContext(ctx, self, "-solve", problem, "-out", plan, "-effort", strconv.FormatInt(cfg.effort, 10), "-within", cfg.within.String())
	var said bytes.Buffer
	cmd.Stderr = &said
	out, err := cmd.Output()
	if err != nil && ctx.Err() == nil {
		// A planner that fails is a row of the table, not its end.
		why, _, _ := strings.Cut(strings.TrimSpace(said.String()), "\n")
		s.Plan, s.verdict = &planning.Plan{}, "FAILED: "+why
		return s, nil
	}
	if err != nil {
		return s, ctx.Err()
	}
	if err := json.Unmarshal(out, &s.spent); err != nil {
		return s, err
	}
	s.processors = cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	made, err := os.ReadFile(plan)
	if err != nil {
		return s, err
	}
	if s.Plan, err = planning.ReadPlan(bytes.NewReader(made)); err != nil {
		return s, err
	}
	s.verdict = verdict(p, s.Plan, text, made)
	return s, nil
}

// verdict has both checks judge a plan: whether it is valid, and whether its bounds are proven.
func verdict(p *planning.Problem, plan *planning.Plan, problem, made []byte) string {
	if faults := planning.Check(p, plan); len(faults) > 0 {
		return fmt.Sprintf("INVALID: %s %s", faults[0].Where, faults[0].Why)
	}
	if _, err := proof.Check(context.Background(), bytes.NewReader(problem), bytes.NewReader(made)); err != nil {
		return "REFUTED: " + err.Error()
	}
	return "valid, proven"
}

// gap gives by how much the bound is above what is made, in hundredths of the bound.
func gap(plan *planning.Plan) float64 {
	made, bound := plan.Summary.WeightMade.Float(), plan.Summary.WeightBound.Float()
	if bound == 0 {
		return 0
	}
	return 100 * (bound - made) / bound
}

// gapInCases gives how many pillowcases the bound of pillowcases is above what is made.
func gapInCases(plan *planning.Plan) int { return plan.Summary.CasesBound - plan.Summary.CasesMade }
