package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"sync"
	"time"
)

// tally is how long answers took, by kind of page.
type tally struct {
	mu    sync.Mutex
	took  map[string][]time.Duration
	bytes map[string]int
	bad   map[string]int
	wrong string // the first that went wrong
}

func newTally() *tally {
	return &tally{took: map[string][]time.Duration{}, bytes: map[string]int{}, bad: map[string]int{}}
}

func (t *tally) add(kind string, took time.Duration, bytes int, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.took[kind] = append(t.took[kind], took)
	t.bytes[kind] += bytes
	if err != nil {
		t.bad[kind]++
		t.wrong = cmp.Or(t.wrong, fmt.Sprintf("%s: %v", kind, err))
	}
}

func (t *tally) count() (n int) {
	for _, list := range t.took {
		n += len(list)
	}
	return n
}

func (t *tally) errors() (n int) {
	for _, bad := range t.bad {
		n += bad
	}
	return n
}

// size is how many bytes a page of a kind has.
func (t *tally) size(kind string) int {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.bytes[kind] / max(1, len(t.took[kind]))
}

// quantile gives the time within which that share of a kind was answered, of all
// where kind is empty.
func (t *tally) quantile(kind string, share float64) time.Duration {
	list := slices.Clone(t.took[kind])
	if kind == "" {
		for _, more := range t.took {
			list = append(list, more...)
		}
	}
	if len(list) == 0 {
		return 0
	}
	slices.Sort(list)
	return list[min(len(list)-1, int(share*float64(len(list))))]
}

// table prints pages beside the bare handler, the slowest first.
func table(out io.Writer, pages, bare *tally, queries map[string]int, lasted time.Duration) {
	fmt.Fprintf(out, "%-36s %7s %7s %8s %8s %7s | %10s %8s %8s | %9s\n",
		"page", "n", "each s", "p50 ms", "p99 ms", "errors", "statements", "p50 ms", "p99 ms", "p99 times")
	kinds := slices.Collect(maps.Keys(pages.took))
	slices.SortFunc(kinds, func(a, b string) int { return cmp.Compare(pages.quantile(b, .99), pages.quantile(a, .99)) })
	row := func(name, kind string, n, errors, statements int) {
		p99, beside := pages.quantile(kind, .99), bare.quantile(kind, .99)
		fmt.Fprintf(out, "%-36s %7d %7.1f %8.1f %8.1f %7d | %10d %8.1f %8.1f | %9.2f\n", name, n, float64(n)/lasted.Seconds(),
			ms(pages.quantile(kind, .5)), ms(p99), errors, statements, ms(bare.quantile(kind, .5)), ms(beside), float64(p99)/float64(max(beside, 1)))
	}
	all := 0
	for _, kind := range kinds {
		n := len(pages.took[kind])
		all += n * queries[kind]
		row(kind, kind, n, pages.bad[kind], queries[kind])
	}
	row("all", "", pages.count(), pages.errors(), all/max(1, pages.count()))
}
