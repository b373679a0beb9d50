package jobs

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/task"
)

// Work of a worker that lives stays its own; once it died another takes it up, long
// before any time is over.
func TestWorkOfTheDeadIsTakenUp(t *testing.T) {
	h := newHouse(t)
	number := h.request(t)
	_, err := h.BeginPlan(t.Context(), "spring", number)
	require.NoError(t, err)
	const taken = `UPDATE river.river_job SET state = 'running', attempt = 1, attempted_at = now(), attempted_by = ARRAY[$1] WHERE kind = 'plan'`
	const worker = task.Worker + "somebody"
	_, err = h.db.Pool.Exec(t.Context(), taken, worker)
	require.NoError(t, err)
	life, err := h.Live(t.Context(), worker)
	require.NoError(t, err)
	alive, die := context.WithCancel(t.Context())
	died := make(chan struct{})
	go func() {
		defer close(died)
		life.Stay(alive, func(err error) { t.Logf("lost: %v", err) })
	}()

	orphans, err := h.FreeOrphans(t.Context())
	require.NoError(t, err)
	require.Empty(t, orphans, "it lives")

	// A cut connection is taken up again.
	const cut = `SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory' AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`
	const held = `SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND granted AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`
	_, err = h.db.Pool.Exec(t.Context(), cut)
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		var n int
		return h.db.Pool.QueryRow(t.Context(), held).Scan(&n) == nil && n == 1
	}, time.Minute, 20*time.Millisecond)

	die()
	<-died
	halt, err := Start(t.Context(), Config{Store: h.Store, Solver: plain})
	require.NoError(t, err)
	defer func() { require.NoError(t, halt(context.Background())) }()
	h.until(t, number, drive.PlanReady)
	var errs, attempts int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT coalesce(cardinality(errors), 0), attempt FROM river.river_job WHERE kind = 'plan'`).Scan(&errs, &attempts))
	require.Zero(t, errs, "it was not rescued for its age")
	require.Equal(t, 2, attempts)
}

// Work over which each worker dies is given up, not begun for ever.
func TestWorkThatKillsIsGivenUp(t *testing.T) {
	h := newHouse(t)
	h.request(t)
	const taken = `UPDATE river.river_job SET state = 'running', attempt = max_attempts, attempted_at = now(), attempted_by = ARRAY[$1] WHERE kind = 'plan'`
	_, err := h.db.Pool.Exec(t.Context(), taken, task.Worker+"gone")
	require.NoError(t, err)
	orphans, err := h.FreeOrphans(t.Context())
	require.NoError(t, err)
	require.Len(t, orphans, 1)
	var state string
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT state::text FROM river.river_job WHERE kind = 'plan'`).Scan(&state))
	require.Equal(t, "discarded", state)
	failed, err := h.FailStrandedPlans(t.Context(), gaveUp)
	require.NoError(t, err)
	require.EqualValues(t, 1, failed, "and whoever waits is told")
}
