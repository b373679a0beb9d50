// Command load finds out how many people the program serves on this machine, and
// where it is slow: helpers at tables and volunteers who report from home, with real
// forms and their keys, against two web processes and one worker on a private Postgres.
//
// It raises the pace by steps until answers come late, takes the most that it saw for
// the ceiling, and goes on at half of it, in turns with a bare gin handler, asked by as
// many people at the same pace. For a page it sends Postgres, one after the other, as
// many statements as that page does, each reading one value, and answers as many bytes. For a form it does
// the same in one transaction that writes a row of 200 letters into a table of its own
// and commits, as durably as the program does: begin, insert and commit count among the
// form's statements. It looks at no session, renders nothing, and waits for nobody's locks.
// How many statements each kind takes, and how long it takes where nobody else asks for
// anything, is found out before, one visit after the other.
//
// Figures of a machine that does other things meanwhile compare with each other and nothing else.
//
// Everything is on loopback and gone afterwards. Times are milliseconds.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"time"
)

// config is how much of everything.
type config struct {
	boltward            string // the program
	helpers, volunteers int
	step, lasts         time.Duration // of a step on the way up, and of the run at half the ceiling
	turn                time.Duration // how long each has before it is the other's turn
	most                float64       // the fastest pace tried
}

func main() {
	if len(os.Args) == 3 && os.Args[1] == "bare" {
		if err := serveBare(os.Args[2]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	cfg := config{}
	flag.StringVar(&cfg.boltward, "boltward", "bin/boltward", "the program")
	flag.IntVar(&cfg.helpers, "helpers", 50, "people at tables")
	flag.IntVar(&cfg.volunteers, "volunteers", 500, "people who report")
	flag.DurationVar(&cfg.step, "step", 10*time.Second, "how long each step takes")
	flag.DurationVar(&cfg.lasts, "lasts", 2*time.Minute, "how long the run at half the ceiling takes, without the bare handler's turns")
	flag.DurationVar(&cfg.turn, "turn", 10*time.Second, "how long a turn takes")
	flag.Float64Var(&cfg.most, "most", 64, "the fastest pace tried; 1 is how people work")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx, cfg, os.Stdout)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "load:", err)
		os.Exit(1)
	}
}

// run does it all and prints the table.
func run(ctx context.Context, cfg config, out io.Writer) (err error) {
	h, err := openHall(ctx, cfg)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, h.close()) }()
	fmt.Fprintf(out, "%d helpers, %d volunteers, two web processes, one worker. Load average before: %s\n", cfg.helpers, cfg.volunteers, loadAverage())
	if err := h.fill(ctx); err != nil {
		return err
	}
	if err := h.analyze(ctx); err != nil {
		return err
	}
	costs, err := h.learn(ctx)
	if err != nil {
		return err
	}
	ceiling, err := h.climb(ctx, out)
	if err != nil {
		return err
	}
	if err := h.analyze(ctx); err != nil { // tables are many times as large as before
		return err
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	pages, bare, doubles := newTally(), newTally(), h.double()
	for left := cfg.lasts; left > 0 && ctx.Err() == nil; left -= cfg.turn {
		h.work(ctx, ceiling.pace/2, cfg.turn, pages, h.visit)
		doubles.work(ctx, ceiling.pace/2, cfg.turn, bare, h.bareVisit(costs, pages))
	}
	fmt.Fprintf(out, "\nAt half the ceiling, %.1f times as fast as people work. Load average: %s\n", ceiling.pace/2, loadAverage())
	table(out, pages, bare, costs, cfg.lasts)
	said, err := h.boltward(ctx, "check")
	fmt.Fprintf(out, "\nboltward check: %s", lastLine(said))
	if err != nil {
		return err
	}
	if n := pages.errors(); n > 0 {
		return fmt.Errorf("%d requests went wrong: %s", n, pages.wrong)
	}
	return ctx.Err()
}

// analyze lets Postgres look at its tables, as it does by itself within a minute.
func (h *hall) analyze(ctx context.Context) error {
	return asOwner(ctx, h.database.OwnerURL(), `ANALYZE`)
}

// step is a pace that was tried and what came of it.
type step struct {
	pace float64
	rate float64 // answers a second
}

// lateAfter is from where on answers come late.
const lateAfter = time.Second

// climb doubles the pace until answers come late or no more come for it.
func (h *hall) climb(ctx context.Context, out io.Writer) (best step, err error) {
	fmt.Fprintf(out, "\n%6s %10s %10s %8s %8s %7s\n", "pace", "wanted/s", "answers/s", "p50 ms", "p99 ms", "errors")
	for pace := 1.0; pace <= h.cfg.most && ctx.Err() == nil; pace *= 2 {
		t := newTally()
		h.work(ctx, pace, h.cfg.step, t, h.visit)
		rate := float64(t.count()) / h.cfg.step.Seconds()
		wanted := pace * h.wanted()
		p50, p99 := t.quantile("", .5), t.quantile("", .99)
		fmt.Fprintf(out, "%6.0f %10.0f %10.1f %8.1f %8.1f %7d\n", pace, wanted, rate, ms(p50), ms(p99), t.errors())
		if n := t.errors(); n > 0 {
			return best, fmt.Errorf("on the way up %d requests went wrong: %s", n, t.wrong)
		}
		if rate > best.rate {
			best = step{pace: pace * min(1, rate/wanted), rate: rate}
		}
		if p99 > lateAfter || pace > 1 && rate < .6*wanted {
			break
		}
	}
	if best.rate == 0 {
		return best, errors.New("nothing was answered")
	}
	fmt.Fprintf(out, "The ceiling: %.1f answers a second.\n", best.rate)
	return best, nil
}

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// loadAverage is what the machine is busy with, where it says so.
func loadAverage() string {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "unknown"
	}
	return strings.Join(strings.Fields(string(text))[:2], " ")
}

func lastLine(text string) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	return lines[len(lines)-1] + "\n"
}

// newFolder gives a folder that Postgres may reach as another user.
func newFolder() (string, error) {
	folder, err := os.MkdirTemp("", "boltward-load-")
	if err != nil {
		return "", err
	}
	return filepath.Join(folder, "var"), os.Chmod(folder, 0o711)
}
