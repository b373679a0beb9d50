package site

import "context"

// turns lets so many at once do what takes much of the machine; the others wait.
type turns chan struct{}

func newTurns(atOnce int) turns { return make(turns, atOnce) }

// take waits for a turn and gives how to end it; it fails when whoever waits has gone.
func (t turns) take(ctx context.Context) (end func(), err error) {
	select {
	case t <- struct{}{}:
		return func() { <-t }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}
