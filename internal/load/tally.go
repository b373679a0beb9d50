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

// table prints pages beside the bare handler, the slowest first, and says of the slowest
// where its time goes. A kind that either side never met has no figures to compare.
func table(out io.Writer, pages, bare *tally, costs map[string]cost, lasted time.Duration) {
	const form = "%-44s %7s %7s %8s %8s %7s | %10s %8s %8s | %9s | %8s %11s\n"
	fmt.Fprintf(out, form, "page", "n", "each s", "p50 ms", "p99 ms", "errors", "statements", "p50 ms", "p99 ms", "p99 times", "alone ms", "in Postgres")
	kinds := slices.Collect(maps.Keys(pages.took))
	slices.SortFunc(kinds, func(a, b string) int { return cmp.Compare(pages.quantile(b, .99), pages.quantile(a, .99)) })
	figure := func(n int, format string, value float64) string {
		if n == 0 {
			return "-"
		}
		return fmt.Sprintf(format, value)
	}
	row := func(name, kind string, n, beside, errors int, c cost) {
		fmt.Fprintf(out, form, name, fmt.Sprint(n), figure(n, "%.1f", float64(n)/lasted.Seconds()), figure(n, "%.1f", ms(pages.quantile(kind, .5))),
			figure(n, "%.1f", ms(pages.quantile(kind, .99))), fmt.Sprint(errors), fmt.Sprint(c.statements),
			figure(beside, "%.1f", ms(bare.quantile(kind, .5))), figure(beside, "%.1f", ms(bare.quantile(kind, .99))),
			figure(min(n, beside), "%.2f", times(pages, bare, kind)), figure(n, "%.1f", ms(c.alone)), figure(n, "%.1f", ms(c.database)))
	}
	var all cost
	for _, kind := range kinds {
		n, c := len(pages.took[kind]), costs[kind]
		all.statements += n * c.statements
		all.alone += time.Duration(n) * c.alone
		all.database += time.Duration(n) * c.database
		row(kind, kind, n, len(bare.took[kind]), pages.bad[kind], c)
	}
	n := max(1, pages.count())
	row("all", "", pages.count(), bare.count(), pages.errors(), cost{all.statements / n, all.alone / time.Duration(n), all.database / time.Duration(n)})
	if len(kinds) > 0 {
		c := costs[kinds[0]]
		fmt.Fprintf(out, "\nThe slowest is %s: where nobody else asks for anything it takes %.1f ms, %.1f of them waiting for Postgres, in %d statements.\n",
			kinds[0], ms(c.alone), ms(c.database), c.statements)
	}
}

// times is how many times as long pages of a kind took as the bare handler, at the 99th of 100.
func times(pages, bare *tally, kind string) float64 {
	return float64(pages.quantile(kind, .99)) / float64(max(1, bare.quantile(kind, .99)))
}
