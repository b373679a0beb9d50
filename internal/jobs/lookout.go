package jobs

import (
	"context"
	"sync"
	"time"
)

// lookEvery is how often a worker looks for work whose worker died: somebody may
// be waiting for it.
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
	at.Go(func() { c.freeOrphans(ctx) })
	return func() {
		cancel()
		at.Wait()
	}, nil
}

func (c Config) freeOrphans(ctx context.Context) {
	ticks := time.NewTicker(lookEvery)
	defer ticks.Stop()
	for {
		orphans, err := c.Store.FreeOrphans(ctx)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			// The next look sees the same.
			c.Log.Warn("work that others died over was not looked for", "error", err.Error())
		}
		for _, o := range orphans {
			c.Log.Warn("a worker died over a job: another takes it up", "kind", o.Kind, "job", o.ID, "attempt", o.Attempt)
		}
		select {
		case <-ctx.Done():
			return
		case <-ticks.C:
		}
	}
}
