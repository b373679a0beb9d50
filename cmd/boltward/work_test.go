package main

import (
	"context"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

// inSpring gives a store over a database with the drive "spring" in it, how to act
// there, and its one size. Its day is that of the zone.
func inSpring(t *testing.T, url, zone string, now func() time.Time) (*postgres.Store, func(key string) drive.Act, drive.Size) {
	t.Helper()
	pool, err := pgxpool.New(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(pool.Close)
	store := postgres.New(pool, now)
	act := func(key string) drive.Act {
		return drive.Act{Drive: "spring", Key: "test-key-" + key, At: now(), Request: "test"}
	}
	_, err = store.CreateDrive(t.Context(), act("drive"), drive.NewDrive("spring", "Spring", zone, length.In))
	require.NoError(t, err)
	built, ok := sizing.CaseNamed("standard")
	require.True(t, ok)
	size, err := store.CreateSize(t.Context(), act("size"), drive.Size{Name: built.Name, Spec: built.Spec})
	require.NoError(t, err)
	return store, act, size
}

// wantsPlan gives a store over the database of env with a drive whose plan waits
// to be worked out.
func wantsPlan(t *testing.T, env Env) (*postgres.Store, int64) {
	t.Helper()
	store, act, size := inSpring(t, env.Getenv("DATABASE_URL"), "Europe/Dublin", env.Now)
	ward, err := store.CreateRecipient(t.Context(), act("ward"), drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4"})
	require.NoError(t, err)
	_, err = store.CreateAsked(t.Context(), act("asked"), drive.Asked{Recipient: ward.Number, Sizes: []int64{size.Number}, Wanted: 2, Matter: drive.MatterMust})
	require.NoError(t, err)
	const cloth = `
		INSERT INTO lots (drive_id, number, received_on, fibre, weight, washed, print, colours, raw_length, raw_width, created_at, measured_at)
		VALUES ('spring', 1, current_date, 'cotton', 'quilting', true, 'solid', '{navy}', 8128000, 1747520, now(), now());
		INSERT INTO pieces (drive_id, lot, piece, kind, width) VALUES ('spring', 1, 1, 'whole', 1747520);
		INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		VALUES ('spring', 1, 1, 'measured', 'outside', 'free', 8128000, 8128000::bigint * 1747520, now(), 1)`
	_, err = store.Pool().Exec(t.Context(), cloth)
	require.NoError(t, err)
	number, err := store.RequestPlan(t.Context(), act("plan"))
	require.NoError(t, err)
	return store, number
}

func becomesReady(t *testing.T, store *postgres.Store, number int64) {
	t.Helper()
	require.Eventually(t, func() bool {
		p, err := store.Plan(t.Context(), "spring", number)
		return err == nil && p.State == drive.PlanReady && p.Cases == 2
	}, time.Minute, 50*time.Millisecond)
}

func TestWorkWorksPlansUntilItIsStopped(t *testing.T) {
	env, out, _ := testEnv(t, nil)
	store, number := wantsPlan(t, env)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	ended := make(chan error, 1)
	go func() { ended <- runWork(ctx, env, nil) }()
	becomesReady(t, store, number)
	require.Contains(t, out.String(), "Working background jobs")
	cancel()
	require.NoError(t, <-ended)
	require.Error(t, runWork(t.Context(), env, []string{"harder"}), "it takes no words")
}

func TestServeWorksPlansToo(t *testing.T) {
	env, _, _ := testEnv(t, nil)
	store, number := wantsPlan(t, env)
	lines, stop := started(t, env)
	// It goes on only while somebody reads what it says.
	go func() {
		for lines.Scan() {
		}
	}()
	becomesReady(t, store, number)
	require.NoError(t, stop())
}
