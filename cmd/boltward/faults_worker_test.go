package main

import (
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// largeShelf lays out a shelf over whose plan a worker is busy for about a second of
// processor time, always the same: far longer than its first word of it takes.
func largeShelf(t testing.TB, store *postgres.Store, act func(string) drive.Act, size int64) {
	t.Helper()
	ward, err := store.CreateRecipient(t.Context(), act("ward"), drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4"})
	require.NoError(t, err)
	_, err = store.CreateAsked(t.Context(), act("asked"), drive.Asked{Recipient: ward.Number, Sizes: []int64{size}, Wanted: 9000, Matter: drive.MatterMust})
	require.NoError(t, err)
	const cloth = `
		INSERT INTO lots (drive_id, number, received_on, fibre, weight, washed, print, colours, themes, raw_length, raw_width, created_at, measured_at)
		SELECT 'spring', n, current_date, 'cotton', 'quilting', true, (ARRAY['feature', 'feature', 'feature', 'solid', 'tonal'])[1 + n % 5], ARRAY[(ARRAY['navy', 'white', 'red', 'green'])[1 + n % 4]], '{}', 812800 + n * 20123, 1747520 - n * 501, now(), now()
		FROM generate_series(1, 190) AS n;
		INSERT INTO counters (drive_id, kind, last) VALUES ('spring', 'lot', 190);
		INSERT INTO pieces (drive_id, lot, piece, kind, width) SELECT 'spring', n, 1, 'whole', 1747520 - n * 501 FROM generate_series(1, 190) AS n;
		INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		SELECT 'spring', n, 1, 'measured', 'outside', 'free', 812800 + n * 20123, (812800 + n * 20123)::bigint * (1747520 - n * 501), now(), 1 FROM generate_series(1, 190) AS n`
	_, err = store.Pool().Exec(t.Context(), cloth)
	require.NoError(t, err)
}

// A worker is killed in the middle of a plan: another that waits takes it up, long
// before the job would count as lost for its age, and the plan is ready once.
func TestWorkerKilledMidPlan(t *testing.T) {
	t.Parallel()
	rounds := 1
	if longRun() {
		rounds = 20
	}
	var longest time.Duration
	for range rounds {
		set, db := withDatabase(t)
		store, act, size := inSpring(t, db.URL, "Europe/Dublin", time.Now)
		largeShelf(t, store, act, size.Number)
		first, second := launch(t, set, "work"), launch(t, set, "work")
		for _, p := range []*program{first, second} {
			p.until("it works", func() bool { return p.out.String() != "" })
		}
		// The second sleeps while the first takes the plan, and is all awake once that is dead.
		require.NoError(t, second.cmd.Process.Signal(syscall.SIGSTOP))
		number, err := store.RequestPlan(t.Context(), act("plan"))
		require.NoError(t, err)
		until := func(what string, done func(drive.Plan) bool) {
			for end := patience(); ; end.wait(t, what) {
				p, err := store.Plan(t.Context(), "spring", number)
				require.NoError(t, err)
				require.NotEqual(t, drive.PlanFailed, p.State, p.Trouble)
				if done(p) {
					return
				}
			}
		}
		until("it is worked on", func(p drive.Plan) bool { return p.State == drive.PlanRunning && p.Phase != "" })
		first.kill()
		midway, err := store.Plan(t.Context(), "spring", number)
		require.NoError(t, err)
		require.Equal(t, drive.PlanRunning, midway.State, "it was killed in the middle")
		require.NotEmpty(t, midway.Phase, "it was killed in the middle")
		require.NoError(t, second.cmd.Process.Signal(syscall.SIGCONT))
		killed := time.Now()
		until("another takes it up", func(drive.Plan) bool {
			var attempt int
			require.NoError(t, db.Pool.QueryRow(t.Context(), `SELECT attempt FROM river.river_job WHERE kind = 'plan'`).Scan(&attempt))
			return attempt == 2
		})
		longest = max(longest, time.Since(killed))
		var ready drive.Plan
		until("it is ready", func(p drive.Plan) bool {
			ready = p
			return p.State == drive.PlanReady
		})
		t.Logf("killed at %.1f s (%s), ready after %.1f s", midway.Seconds, midway.Phase, ready.Seconds)
		var attempts, rescued int
		require.NoError(t, db.Pool.QueryRow(t.Context(), `SELECT attempt, coalesce(cardinality(errors), 0) FROM river.river_job WHERE kind = 'plan'`).Scan(&attempts, &rescued))
		require.Equal(t, []int{2, 0}, []int{attempts, rescued})
		_, err = store.AcceptPlan(t.Context(), act("accept"), number)
		require.NoError(t, err)
		balanced(t, t.Context(), db.Pool)
		wellChecked(t, set)
		second.stop()
	}
	t.Logf("killed in the middle of %d plans: another took each up, after %v at most", rounds, longest.Round(10*time.Millisecond))
}
