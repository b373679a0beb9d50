package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"boltward/internal/localpg"
)

// killed prepares a data folder in which a plan of the demo drive waits to be
// accepted, and copies it for each round.
type killed struct {
	t       *testing.T
	whole   string // the folder that is copied
	plan    string // the plan's page
	visitor *plain // signed in
}

func newKilled(t *testing.T) *killed {
	t.Helper()
	k := &killed{t: t, whole: privateFolder(t)}
	set := settings{"BOLTWARD_DATA": k.whole, "PORT": "0"}
	code, _, errs := run(t, set, "demo")
	require.Zero(t, code, errs)
	p := serving(t, set)
	k.visitor = newPlain(t, p.address)
	organiser(t, k.visitor, p)
	const page = "/drives/lantern-row/plan"
	k.visitor.open(page)
	k.visitor.press(k.visitor.page().whatReads(t, "Plan again with what is free", "Make a plan"))
	for end := time.Now().Add(2 * time.Minute); !strings.Contains(k.visitor.page().says(), "is ready"); time.Sleep(200 * time.Millisecond) {
		require.True(t, time.Now().Before(end), "the plan does not come: %s", k.visitor.page().says())
		k.visitor.open(page)
	}
	for _, to := range k.visitor.page().links() {
		if _, err := strconv.Atoi(strings.TrimPrefix(to, page+"/")); err == nil {
			k.plan = to
			break
		}
	}
	require.NotEmpty(t, k.plan, "the plan has a page")
	p.stop()
	return k
}

// round gives a copy of the folder and serves it, with the plan's page open.
func (k *killed) round(n int) (set settings, p *program, h *plain) {
	k.t.Helper()
	data := filepath.Join(filepath.Dir(k.whole), fmt.Sprintf("round-%d", n))
	out, err := exec.Command("cp", "-a", k.whole, data).CombinedOutput()
	require.NoError(k.t, err, "%s", out)
	set = settings{"BOLTWARD_DATA": data, "PORT": "0"}
	p = serving(k.t, set)
	return set, p, k.at(p)
}

// at is the same visitor where the server is now, who is signed in still.
func (k *killed) at(p *program) *plain {
	k.t.Helper()
	h := newPlain(k.t, p.address)
	h.client.Jar = k.visitor.client.Jar
	h.open(k.plan)
	require.Equal(k.t, http.StatusOK, h.status(), h.page().says())
	return h
}

// accept sends the form that accepts the plan, and does not wait for the answer:
// whether one came, it gives later.
func (k *killed) accept(h *plain) (answered chan bool) {
	k.t.Helper()
	button := h.page().pressable(k.t, "Accept this plan")
	request := h.submission(formOf(h.page().root, button), button)
	answered = make(chan bool, 1)
	// The answer sends the browser on: that it was sent on is the answer.
	client := *h.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	go func() {
		// A server that is killed gives no answer: that is no failure here.
		answer, err := client.Do(request)
		if err == nil {
			answer.Body.Close()
		}
		answered <- err == nil && answer.StatusCode == http.StatusSeeOther
	}()
	return answered
}

// holds requires that after a fresh start the ledgers balance and the plan is
// there wholly or not at all, and says which. What is not there can be accepted.
func (k *killed) holds(set settings) (accepted bool) {
	k.t.Helper()
	p := serving(k.t, set)
	ledgers(k.t, set["BOLTWARD_DATA"], func(ctx context.Context, pool *pgxpool.Pool) { balanced(k.t, ctx, pool) })
	h := k.at(p)
	accepted = strings.Contains(h.page().says(), "To its cut sheets")
	if !accepted {
		press(k.t, h, "Accept this plan")
		ledgers(k.t, set["BOLTWARD_DATA"], func(ctx context.Context, pool *pgxpool.Pool) { balanced(k.t, ctx, pool) })
	}
	p.stop()
	nothingLeft(k.t, set["BOLTWARD_DATA"])
	require.NoError(k.t, os.RemoveAll(set["BOLTWARD_DATA"]))
	return accepted
}

// ledgers looks into the private database of a data folder.
func ledgers(t testing.TB, data string, look func(context.Context, *pgxpool.Pool)) {
	t.Helper()
	ctx := context.Background()
	server, err := localpg.Start(ctx, localpg.Config{Data: data})
	require.NoError(t, err)
	defer func() { require.NoError(t, server.Close()) }()
	pool, err := pgxpool.New(ctx, server.OwnerURL())
	require.NoError(t, err)
	defer pool.Close()
	look(ctx, pool)
}

// The server is killed while it accepts a plan. After the next start the plan is
// wholly there or wholly not, and the ledgers balance.
func TestKilledWhileAccepting(t *testing.T) {
	t.Parallel()
	k := newKilled(t)
	t.Run("at any moment", k.in(atAnyMoment))
	t.Run("in the middle", k.in(inTheMiddle))
}

// in works in the same folder for a test of its own.
func (k *killed) in(test func(*testing.T, *killed)) func(*testing.T) {
	return func(t *testing.T) {
		mine := *k
		mine.t = t
		test(t, &mine)
	}
}

// atAnyMoment kills at moments all along the time that accepting takes: the server,
// or it and its Postgres and everything else, as a power cut does.
func atAnyMoment(t *testing.T, k *killed) {
	rounds := 2
	if longRun() {
		rounds = 100
	}
	set, p, h := k.round(0)
	begun := time.Now()
	require.True(t, <-k.accept(h))
	takes := time.Since(begun)
	p.stop()
	require.True(t, k.holds(set), "without a kill it is accepted")

	seed := uint64(time.Now().UnixNano())
	random := rand.New(rand.NewPCG(seed, 0))
	// A machine that is busy meanwhile takes longer or shorter over it than that once: the
	// span follows what was found, so that about half of the kills come too late to matter.
	there, span := 0, takes*5/4
	for n := range rounds {
		set, p, h := k.round(n + 1)
		answered := k.accept(h)
		after := time.Duration(random.Int64N(int64(span)))
		time.Sleep(after)
		if n%2 == 0 {
			p.kill()
		} else {
			p.powerCut(set["BOLTWARD_DATA"])
		}
		told := <-answered
		accepted := k.holds(set)
		require.True(t, accepted || !told, "what a person was told stands")
		if accepted {
			there++
			span = max(span*4/5, time.Millisecond)
		} else {
			span = min(span*5/4, aMoment)
		}
	}
	t.Logf("accepting took %v; killed %d times about that (seed %d): the plan was there %d times, and not there %d times", takes, rounds, seed, there, rounds-there)
	if longRun() {
		require.Positive(t, there, "some kills came too late to matter")
		require.Less(t, there, rounds, "some kills came early enough")
	}
}

// inTheMiddle kills when some of what accepting writes is written: another session
// holds the table that comes next.
func inTheMiddle(t *testing.T, k *killed) {
	tables := []string{"panels", "audit"}
	if longRun() {
		tables = []string{"kits", "case_entries", "sheets", "panels", "fabric_entries", "audit"}
	}
	for n, table := range tables {
		set, p, h := k.round(n)
		ledgers(t, set["BOLTWARD_DATA"], func(ctx context.Context, pool *pgxpool.Pool) {
			tx, err := pool.Begin(ctx)
			require.NoError(t, err)
			defer func() { _ = tx.Rollback(ctx) }() // or a failure in between would wait for itself
			_, err = tx.Exec(ctx, `LOCK TABLE `+table+` IN SHARE MODE`)
			require.NoError(t, err)
			answered := k.accept(h)
			const waits = `SELECT count(*) FROM pg_locks WHERE NOT granted AND relation = $1::regclass`
			require.Eventually(t, func() bool {
				var n int
				require.NoError(t, pool.QueryRow(ctx, waits, table).Scan(&n))
				return n > 0
			}, aMoment, 5*time.Millisecond, "accepting comes to %s", table)
			p.kill()
			<-answered
			require.NoError(t, tx.Rollback(ctx))
		})
		require.False(t, k.holds(set), "held before %s, the plan is not there", table)
	}
}

// The whole program is killed at any moment of its first start, its Postgres
// not: the next start goes on from there.
func TestKilledWhileStarting(t *testing.T) {
	t.Parallel()
	rounds := 3
	if longRun() {
		rounds = 40
	}
	data := privateFolder(t)
	set := settings{"BOLTWARD_DATA": data, "PORT": "0"}
	seed := uint64(time.Now().UnixNano())
	random := rand.New(rand.NewPCG(seed, 0))
	t.Logf("seed %d", seed)
	for n := range rounds {
		// As make run does it: the demo drive, then the pages.
		p := launch(t, set, "demo", "--if-empty")
		if n%3 == 2 {
			require.Zero(t, p.wait(), p.errs.String())
			p = launch(t, set, "serve")
		}
		select {
		case <-p.ended:
			require.Zero(t, p.code(), p.errs.String())
		case <-time.After(time.Duration(random.Int64N(int64(4 * time.Second)))):
			p.kill()
		}
	}
	code, _, errs := run(t, set, "demo", "--if-empty")
	require.Zero(t, code, errs)
	p := serving(t, set)
	ledgers(t, data, func(ctx context.Context, pool *pgxpool.Pool) {
		balanced(t, ctx, pool)
		var lots, drives int
		require.NoError(t, pool.QueryRow(ctx, `SELECT (SELECT count(*) FROM lots), (SELECT count(*) FROM drives)`).Scan(&lots, &drives))
		require.Equal(t, 1, drives)
		require.Greater(t, lots, 44)
	})
	p.stop()
	nothingLeft(t, data)
}
