package jobs

import (
	"context"
	"sync"
	"time"

	"boltward/internal/postgres"
)

// lookEvery is how often a worker looks for work whose worker died, or that waits
// for somebody's clock: a person may be waiting for it.
const lookEvery = 2 * time.Second

// orphanedFor is how long work must have been without a living worker before it is
// given to others. A worker whose connection broke takes its lock anew sooner; one
// that is only waiting to do so keeps its work.
const orphanedFor = 6 * time.Second

// lookout lets others see that this worker lives, and gives the work of those
// that live no more to whoever is free, until it is told to rest.
func (c Config) lookout(ctx context.Context, name string) (rest func(), err error) {
	life, err := c.Store.Live(ctx, name)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(ctx)
	var at sync.WaitGroup
	at.Go(func() {
		life.Stay(ctx, func(err error) {
			c.Log.Warn("others cannot see that this worker lives", "error", err.Error())
		})
	})
	at.Go(func() { c.look(ctx, name) })
	return func() {
		cancel()
		at.Wait()
	}, nil
}

// look looks until ctx ends. What fails is seen again at the next look.
func (c Config) look(ctx context.Context, name string) {
	ticks := time.NewTicker(lookEvery)
	defer ticks.Stop()
	var seen sightings
	for {
		freed, err := c.freeOrphans(ctx, name, &seen)
		if err == nil {
			_, err = c.Store.MakeDue(ctx)
		}
		for _, o := range freed {
			c.Log.Warn("a worker died over a job: another takes it up", "kind", o.Kind, "job", o.ID, "attempt", o.Attempt)
		}
		if err != nil && ctx.Err() == nil {
			c.Log.Warn("work that waits for no reason was not looked for", "error", err.Error())
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}

func (c Config) freeOrphans(ctx context.Context, name string, seen *sightings) ([]postgres.Orphan, error) {
	orphans, err := c.Store.Orphans(ctx, name)
	if err != nil {
		// Nothing is known of the time in between.
		*seen = nil
		return nil, err
	}
	long := seen.see(orphans, time.Now())
	if len(long) == 0 {
		return nil, nil
	}
	return c.Store.FreeOrphans(ctx, long)
}

// sightings are since when work was found orphaned at every look.
type sightings map[postgres.Orphan]time.Time

// see notes what is orphaned now and gives what has been for orphanedFor.
func (s *sightings) see(orphans []postgres.Orphan, now time.Time) (long []postgres.Orphan) {
	next := sightings{}
	for _, o := range orphans {
		since, before := (*s)[o]
		if !before {
			since = now
		}
		next[o] = since
		if now.Sub(since) >= orphanedFor {
			long = append(long, o)
		}
	}
	*s = next
	return long
}
