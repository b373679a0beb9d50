package jobs

import (
	"context"
	"sync"
	"time"
)

// lookEvery is how often a worker looks for work whose worker died, or that waits
// for somebody's clock: a person may be waiting for it.
const lookEvery = 2 * time.Second

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
	at.Go(func() { c.look(ctx) })
	return func() {
		cancel()
		at.Wait()
	}, nil
}

// look looks until ctx ends. What fails is seen again at the next look.
func (c Config) look(ctx context.Context) {
	ticks := time.NewTicker(lookEvery)
	defer ticks.Stop()
	for {
		orphans, err := c.Store.FreeOrphans(ctx)
		if err == nil {
			_, err = c.Store.MakeDue(ctx)
		}
		for _, o := range orphans {
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
