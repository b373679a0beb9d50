package jobs

import (
	"context"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/task"
)

// holder is the process of Postgres that holds the lock of the one worker.
const holder = `SELECT pid FROM pg_locks WHERE locktype = 'advisory' AND granted AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`

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

	orphans, err := h.Orphans(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, orphans, "it lives")

	// A cut connection is taken up again, on another.
	var before int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), holder).Scan(&before))
	_, err = h.db.Pool.Exec(t.Context(), `SELECT pg_terminate_backend($1)`, before)
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		var now int
		return h.db.Pool.QueryRow(t.Context(), holder).Scan(&now) == nil && now != before
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
	orphans, err := h.Orphans(t.Context(), task.Worker+"gone")
	require.NoError(t, err)
	require.Empty(t, orphans, "nobody frees what is its own")
	orphans, err = h.Orphans(t.Context(), task.Worker+"other")
	require.NoError(t, err)
	require.Len(t, orphans, 1)
	none, err := h.FreeOrphans(t.Context(), []postgres.Orphan{{ID: orphans[0].ID, Attempt: orphans[0].Attempt - 1}})
	require.NoError(t, err)
	require.Empty(t, none, "it was tried again since")
	freed, err := h.FreeOrphans(t.Context(), orphans)
	require.NoError(t, err)
	require.Equal(t, orphans, freed)
	var state string
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT state::text FROM river.river_job WHERE kind = 'plan'`).Scan(&state))
	require.Equal(t, "discarded", state)
	failed, err := h.FailStrandedPlans(t.Context(), gaveUp)
	require.NoError(t, err)
	require.EqualValues(t, 1, failed, "and whoever waits is told")
}

// Work is only given away that was orphaned at every look for long enough: a worker
// that takes its lock anew meanwhile keeps its work, and its time begins again.
func TestOrphanedForLong(t *testing.T) {
	var seen sightings
	at := time.Date(2026, time.March, 2, 10, 0, 0, 0, time.UTC)
	plan := postgres.Orphan{ID: 1, Kind: "plan", Attempt: 1}
	again := postgres.Orphan{ID: 1, Kind: "plan", Attempt: 2}
	require.Empty(t, seen.see([]postgres.Orphan{plan}, at))
	require.Empty(t, seen.see([]postgres.Orphan{plan}, at.Add(orphanedFor-1)))
	require.Empty(t, seen.see(nil, at.Add(orphanedFor-1)), "it lives again")
	require.Empty(t, seen.see([]postgres.Orphan{plan}, at.Add(orphanedFor)))
	require.Empty(t, seen.see([]postgres.Orphan{again}, at.Add(2*orphanedFor)), "another try")
	require.Equal(t, []postgres.Orphan{again}, seen.see([]postgres.Orphan{again}, at.Add(3*orphanedFor)))
}

// A worker notices where the other end of its connection says nothing any more.
func TestSilentConnection(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	life, err := h.Live(t.Context(), task.Worker+"somebody")
	require.NoError(t, err)
	alive, die := context.WithCancel(t.Context())
	lost, died := make(chan error, 100), make(chan struct{})
	go func() {
		defer close(died)
		life.Stay(alive, func(err error) { lost <- err })
	}()
	var pid int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), holder).Scan(&pid))
	require.NoError(t, syscall.Kill(pid, syscall.SIGSTOP))
	t.Cleanup(func() { require.NoError(t, syscall.Kill(pid, syscall.SIGCONT)) })
	require.Error(t, <-lost)
	die()
	<-died
}

// Work that is tried again in a moment keeps its time; what waits for a clock that is
// ahead does not.
func TestMakeDue(t *testing.T) {
	h := newHouse(t)
	h.request(t)
	wait := func(seconds int) int64 {
		_, err := h.db.Pool.Exec(t.Context(), `UPDATE river.river_job SET state = 'available', scheduled_at = now() + make_interval(secs => $1)`, seconds)
		require.NoError(t, err)
		n, err := h.MakeDue(t.Context())
		require.NoError(t, err)
		return n
	}
	require.Zero(t, wait(4))
	require.EqualValues(t, 1, wait(90))
}
