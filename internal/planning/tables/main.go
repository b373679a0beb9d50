// Command tables prints how good and how fast the planner is, in five tables: drives of many
// kinds, the bundles of their kits, the published guillotine instances, drives as they grow, and
// drives beside the general-purpose peer. The last three need the shared folder beside the project (generator,
// instances, peer); what is not there is said and left out. Each plan is made in a process of
// its own, so that its memory can be told, and held against both checkers. Seconds are wall
// clock of this machine; CPU s are those of all its processors.
//
//	go run ./internal/planning/tables                       every table
//	go run ./internal/planning/tables -kinds sparse,depot   drives of these kinds, -kinds all for every kind
//	go run ./internal/planning/tables -only peer -peer 60   one table
//	go run ./internal/planning/tables -show typed,40,1      the problem of one drive: kind, fabrics, seed
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strings"
	"time"
)

type config struct {
	shared string
	only   []string
	kinds  []string
	seeds  []string
	sizes  []string
	grow   []string
	counts []string // of fabrics of drives of a kind, in place of its own
	most   int
	steep  string
	peer   int
	effort int64
	within time.Duration
}

// table is one of those that can be asked for.
type table struct {
	name  string
	print func(context.Context, config) error
}

func tables() []table {
	return []table{{"kinds", kinds}, {"bundles", bundles}, {"gcut", published}, {"growth", growth}, {"peer", peer}}
}

func main() {
	var cfg config
	var one oneSolve
	flag.StringVar(&cfg.shared, "shared", "../shared", "the shared `FOLDER`")
	only := flag.String("only", "", "tables to print: `LIST` of kinds, bundles, gcut, growth, peer; all of them if empty")
	kinds := flag.String("kinds", "", "print drives of these kinds alone: `LIST`, or all")
	seeds := flag.String("seeds", "", "seeds of the drives: `LIST`; 1,2,3 if empty")
	sizes := flag.String("sizes", "10,20,40,60,100,300", "fabrics of the drives beside the peer: `LIST`")
	grow := flag.String("grow", "30,100,300,1000,3000,10000,30000", "fabrics of the growing drives: `LIST`")
	counts := flag.String("counts", "", "fabrics of drives of a kind: `LIST`; what suits the kind if empty")
	flag.IntVar(&cfg.most, "most", 300, "most fabrics of drives of a kind where no counts are given, `N`")
	flag.StringVar(&cfg.steep, "steep", "both", "weights of 100, 10 and 1 beside the peer: yes, no or both")
	flag.IntVar(&cfg.peer, "peer", 20, "seconds that the peer may search, `N`; 0 leaves it out")
	flag.Int64Var(&cfg.effort, "effort", 0, "effort of each plan, 0 for the usual one")
	flag.DurationVar(&cfg.within, "within", 0, "most time for each plan, 0 for no ceiling")
	flag.StringVar(&one.problem, "solve", "", "solve one problem `FILE`, as the tables do in a process of its own")
	flag.StringVar(&one.plan, "out", "", "where its plan goes (`FILE`)")
	show := flag.String("show", "", "print the problem of one drive: `KIND,FABRICS,SEED`")
	flag.Parse()
	cfg.only, cfg.kinds, cfg.seeds, cfg.sizes, cfg.grow, cfg.counts = split(*only), split(*kinds), split(*seeds), split(*sizes), split(*grow), split(*counts)
	if len(cfg.seeds) == 0 {
		cfg.seeds = []string{"1", "2", "3"}
	}
	if len(cfg.kinds) > 0 && len(cfg.only) == 0 {
		cfg.only = []string{"kinds"}
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	run := func() error { return printed(ctx, cfg) }
	if *show != "" {
		run = func() error { return showDrive(split(*show)) }
	}
	if one.problem != "" {
		one.effort, one.within = cfg.effort, cfg.within
		run = func() error { return one.run(ctx) }
	}
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "tables:", err)
		os.Exit(1)
	}
}

func split(list string) []string {
	return strings.FieldsFunc(list, func(r rune) bool { return r == ',' })
}

func printed(ctx context.Context, cfg config) error {
	for _, name := range cfg.only {
		if !slices.ContainsFunc(tables(), func(t table) bool { return t.name == name }) {
			return fmt.Errorf("there is no table %q", name)
		}
	}
	for _, t := range tables() {
		if len(cfg.only) > 0 && !slices.Contains(cfg.only, t.name) {
			continue
		}
		if err := t.print(ctx, cfg); err != nil {
			return err
		}
		fmt.Println()
	}
	return nil
}
