package main

import (
	"context"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"time"
)

// cost is what one request of a kind takes where nobody else asks for anything.
type cost struct {
	statements      int // with those for its session, begin and commit
	alone, database time.Duration
}

// counted is what the program counted of itself until now.
type counted struct {
	statements float64
	seconds    float64 // that they took
}

func (c counted) less(o counted) counted {
	return counted{c.statements - o.statements, c.seconds - o.seconds}
}

var aCount = regexp.MustCompile(`(?m)^boltward_(queries_total\{[^}]*\}|query_seconds_sum) (\S+)$`)

// count reads what the processes counted. Each read sends statements itself.
func (h *hall) count(ctx context.Context) (sum counted, err error) {
	asking := &person{client: http.DefaultClient}
	for _, at := range h.metrics {
		_, text, err := asking.ask(ctx, http.MethodGet, at, nil)
		if err != nil {
			return sum, err
		}
		found := aCount.FindAllStringSubmatch(text, -1)
		if len(found) < 2 {
			return sum, fmt.Errorf("the program at %s counts no statements", at)
		}
		for _, m := range found {
			n, err := strconv.ParseFloat(m[2], 64)
			if err != nil {
				return sum, err
			}
			if m[1] == "query_seconds_sum" {
				sum.seconds += n
			} else {
				sum.statements += n
			}
		}
	}
	return sum, nil
}

// How many visits it takes to have opened every kind a few times.
const (
	helperLearns    = 200
	volunteerLearns = 24
)

// learn opens every kind of page and sends every kind of form some times, one after the
// other, and gives what each costs: the middle of those times.
func (h *hall) learn(ctx context.Context) (map[string]cost, error) {
	seen := map[string][]cost{}
	for p, visits := range map[*person]int{h.helpers[0]: helperLearns, h.volunteers[0]: volunteerLearns} {
		for range visits {
			kind, c, err := h.learnOne(ctx, p)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", kind, err)
			}
			seen[kind] = append(seen[kind], c)
		}
	}
	costs := map[string]cost{}
	for kind, list := range seen {
		costs[kind] = cost{
			statements: middle(list, func(c cost) int { return c.statements }),
			alone:      middle(list, func(c cost) time.Duration { return c.alone }),
			database:   middle(list, func(c cost) time.Duration { return c.database }),
		}
	}
	return costs, nil
}

// learnOne is the next visit of somebody. What a read of the counters costs is seen by
// reading them twice.
func (h *hall) learnOne(ctx context.Context, p *person) (kind string, c cost, err error) {
	v := p.next()
	var at [3]counted
	for i := range 2 {
		if at[i], err = h.count(ctx); err != nil {
			return v.kind, c, err
		}
	}
	begun := time.Now()
	if _, _, err = h.visit(ctx, p, v); err != nil {
		return v.kind, c, err
	}
	c.alone = time.Since(begun)
	if at[2], err = h.count(ctx); err != nil {
		return v.kind, c, err
	}
	took := at[2].less(at[1]).less(at[1].less(at[0]))
	c.statements = int(took.statements + .5)
	c.database = max(0, time.Duration(took.seconds*float64(time.Second)))
	return v.kind, c, nil
}

func middle[T int | time.Duration](list []cost, of func(cost) T) T {
	var values []T
	for _, c := range list {
		values = append(values, of(c))
	}
	slices.Sort(values)
	return values[len(values)/2]
}
