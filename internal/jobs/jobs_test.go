package jobs

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/planning"
	"boltward/internal/planning/plantest"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

// house is a drive with one line asked for and cloth for it.
type house struct {
	*postgres.Store
	db  *pgtest.DB
	log *text
}

func newHouse(t *testing.T) *house {
	t.Helper()
	db := pgtest.New(t)
	h := &house{Store: postgres.New(db.Pool, time.Now), db: db, log: &text{}}
	act := drive.Act{Key: "start-drive", At: time.Now()}
	_, err := h.CreateDrive(t.Context(), act, drive.NewDrive("spring", "Spring", "Europe/Dublin", length.In))
	require.NoError(t, err)
	built, ok := sizing.CaseNamed("standard")
	require.True(t, ok)
	z, err := h.CreateSize(t.Context(), h.act("size"), drive.Size{Name: built.Name, Spec: built.Spec})
	require.NoError(t, err)
	r, err := h.CreateRecipient(t.Context(), h.act("recipient"), drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4"})
	require.NoError(t, err)
	_, err = h.CreateAsked(t.Context(), h.act("asked"), drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: 3, Matter: drive.MatterMust})
	require.NoError(t, err)
	const cloth = `
		INSERT INTO lots (drive_id, number, received_on, fibre, weight, washed, print, colours, raw_length, raw_width, created_at, measured_at)
		VALUES ('spring', 1, current_date, 'cotton', 'quilting', true, 'solid', '{navy}', 8128000, 1747520, now(), now());
		INSERT INTO counters (drive_id, kind, last) VALUES ('spring', 'lot', 1);
		INSERT INTO pieces (drive_id, lot, piece, kind, width) VALUES ('spring', 1, 1, 'whole', 1747520);
		INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		VALUES ('spring', 1, 1, 'measured', 'outside', 'free', 8128000, 8128000::bigint * 1747520, now(), 1)`
	_, err = db.Pool.Exec(t.Context(), cloth)
	require.NoError(t, err)
	return h
}

func (h *house) act(key string) drive.Act {
	return drive.Act{Drive: "spring", Who: 1, Key: "test-key-" + key, At: time.Now(), Request: "test"}
}

// work starts working with the solver and gives how to stop.
func (h *house) work(t *testing.T, solver Solver) (stop func()) {
	t.Helper()
	halt, err := Start(t.Context(), Config{
		Store: h.Store, Log: slog.New(slog.NewTextHandler(h.log, nil)), Solver: solver,
		Timeout: time.Second, RescueAfter: 2 * time.Second,
	})
	require.NoError(t, err)
	stop = sync.OnceFunc(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		require.NoError(t, halt(ctx))
	})
	t.Cleanup(stop)
	return stop
}

// until waits for a plan to come into a state.
func (h *house) until(t *testing.T, number int64, state drive.PlanState) drive.Plan {
	t.Helper()
	var p drive.Plan
	require.Eventually(t, func() bool {
		var err error
		p, err = h.Plan(t.Context(), "spring", number)
		return err == nil && p.State == state
	}, 60*time.Second, 20*time.Millisecond, "plan %d should become %s", number, state)
	return p
}

func plain(_ context.Context, p *planning.Problem, _ planning.Options) (*planning.Plan, error) {
	return plantest.Plain(p), nil
}

// untilStopped plans until it is told to stop, and then has the best so far.
func untilStopped(ctx context.Context, p *planning.Problem, o planning.Options) (*planning.Plan, error) {
	o.Progress(planning.Progress{Phase: "patterns", Made: planning.Whole(100), Bound: planning.Whole(300), Cases: 1, CasesBound: 2})
	<-ctx.Done()
	return plantest.Plain(p), nil
}

func (h *house) request(t *testing.T) int64 {
	t.Helper()
	number, err := h.RequestPlan(t.Context(), h.act(t.Name()))
	require.NoError(t, err)
	return number
}

func TestAPlanIsWorkedOut(t *testing.T) {
	h := newHouse(t)
	number := h.request(t)
	h.work(t, nil) // the planner itself
	p := h.until(t, number, drive.PlanReady)
	require.Equal(t, 3, p.CasesBound)
	problem, plan, err := h.PlanFiles(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Empty(t, planning.Check(problem, plan), "kept and read again it is still valid")
	require.Equal(t, p.Cases, plan.Cases())
	require.Positive(t, p.Cases)
}

func TestFiguresOfAPlanAreShownAndItCanBeStopped(t *testing.T) {
	h := newHouse(t)
	halt, err := Start(t.Context(), Config{Store: h.Store, Solver: untilStopped})
	require.NoError(t, err)
	defer func() { require.NoError(t, halt(context.Background())) }()
	number := h.request(t)
	require.Eventually(t, func() bool {
		p, err := h.Plan(t.Context(), "spring", number)
		return err == nil && p.State == drive.PlanRunning && p.Phase == "patterns" && p.Made == 100 && p.Bound == 300 && p.Cases == 1 && p.CasesBound == 2 && p.Seconds > 0
	}, 20*time.Second, 20*time.Millisecond)
	_, err = h.StopPlan(t.Context(), h.act("stop"), number)
	require.NoError(t, err)
	p := h.until(t, number, drive.PlanReady)
	require.Equal(t, 3, p.Cases)
}

// A wish to stop that comes before there is anything to keep is granted at the
// first good plan.
func TestAnEarlyStopKeepsTheFirstPlan(t *testing.T) {
	h := newHouse(t)
	number := h.request(t)
	_, err := h.StopPlan(t.Context(), h.act("stop"), number)
	require.NoError(t, err)
	found := make(chan struct{})
	halt, err := Start(t.Context(), Config{Store: h.Store, Solver: func(ctx context.Context, p *planning.Problem, o planning.Options) (*planning.Plan, error) {
		select {
		case <-ctx.Done():
			return nil, errors.New("stopped with nothing to keep")
		case <-found:
		}
		return untilStopped(ctx, p, o)
	}})
	require.NoError(t, err)
	defer func() { require.NoError(t, halt(context.Background())) }()
	require.Eventually(t, func() bool {
		p, err := h.Plan(t.Context(), "spring", number)
		return err == nil && p.State == drive.PlanRunning && p.Seconds > 0.5
	}, 20*time.Second, 20*time.Millisecond, "it is not stopped with nothing")
	close(found)
	require.Equal(t, 3, h.until(t, number, drive.PlanReady).Cases)
}

func TestADroppedPlanEnds(t *testing.T) {
	h := newHouse(t)
	ended := make(chan error, 1)
	halt, err := Start(t.Context(), Config{Store: h.Store, Solver: func(ctx context.Context, p *planning.Problem, o planning.Options) (*planning.Plan, error) {
		plan, err := untilStopped(ctx, p, o)
		ended <- context.Cause(ctx)
		return plan, err
	}})
	require.NoError(t, err)
	defer func() { require.NoError(t, halt(context.Background())) }()
	number := h.request(t)
	h.until(t, number, drive.PlanRunning)
	_, err = h.DropPlan(t.Context(), h.act("drop"), number)
	require.NoError(t, err)
	require.ErrorIs(t, <-ended, errDropped)
	h.until(t, number, drive.PlanDropped)
}

// A process that ends lets go of its plan, and the next one takes it up at once.
func TestTheNextProcessTakesUpAPlan(t *testing.T) {
	h := newHouse(t)
	begun := make(chan struct{})
	number := h.request(t)
	halt, err := Start(t.Context(), Config{Store: h.Store, Solver: func(ctx context.Context, p *planning.Problem, o planning.Options) (*planning.Plan, error) {
		close(begun)
		return untilStopped(ctx, p, o)
	}})
	require.NoError(t, err)
	<-begun
	require.NoError(t, halt(context.Background()))
	p, err := h.Plan(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, drive.PlanRunning, p.State, "half a plan is not kept")
	h.work(t, plain)
	h.until(t, number, drive.PlanReady)
}

// A process that was killed says nothing: its job stays "running" in the queue
// until another process rescues it.
func TestAnotherProcessRescuesAPlan(t *testing.T) {
	h := newHouse(t)
	number := h.request(t)
	_, err := h.BeginPlan(t.Context(), "spring", number)
	require.NoError(t, err)
	const killed = `UPDATE river.river_job SET state = 'running', attempt = 1, attempted_at = now() - interval '1 minute', attempted_by = '{gone}'`
	_, err = h.db.Pool.Exec(t.Context(), killed)
	require.NoError(t, err)
	h.work(t, plain)
	h.until(t, number, drive.PlanReady)
}

// Time that runs out leaves the best so far.
func TestTimeRunsOut(t *testing.T) {
	h := newHouse(t)
	number := h.request(t)
	h.work(t, untilStopped)
	p := h.until(t, number, drive.PlanReady)
	require.Equal(t, 3, p.Cases)
}

func TestPlansThatFail(t *testing.T) {
	for _, c := range []struct {
		name   string
		solver Solver
		says   string
	}{
		{"a problem that is none", func(context.Context, *planning.Problem, planning.Options) (*planning.Plan, error) {
			return nil, apperr.Invalid("fabrics", "there are too many")
		}, "fabrics: there are too many"},
		{"an error each time", func(context.Context, *planning.Problem, planning.Options) (*planning.Plan, error) {
			return nil, errors.New("out of luck")
		}, gaveUp},
		{"a panic each time", func(context.Context, *planning.Problem, planning.Options) (*planning.Plan, error) { panic("oh no") }, gaveUp},
		{"a plan that breaks its rules", func(_ context.Context, p *planning.Problem, _ planning.Options) (*planning.Plan, error) {
			plan := plantest.Plain(p)
			plan.Layouts[0].Panels[0].X = planning.Whole(9_000)
			return plan, nil
		}, gaveUp},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := newHouse(t)
			number := h.request(t)
			// The waits between the tries are for real failures: here two are enough.
			_, err := h.db.Pool.Exec(t.Context(), `UPDATE river.river_job SET max_attempts = 2`)
			require.NoError(t, err)
			h.work(t, c.solver)
			p := h.until(t, number, drive.PlanFailed)
			require.Equal(t, c.says, p.Trouble)
			_, err = h.RequestPlan(t.Context(), h.act("again"))
			require.NoError(t, err, "and another can be asked for")
		})
	}
}

func TestTidying(t *testing.T) {
	h := newHouse(t)
	number := h.request(t)
	const past = `
		UPDATE once SET at = now() - interval '31 days';
		INSERT INTO sessions (token, data, expiry) VALUES ('old', '', now() - interval '1 hour'), ('new', '', now() + interval '1 hour');
		UPDATE river.river_job SET state = 'discarded', finalized_at = now()`
	_, err := h.db.Owner().Exec(t.Context(), past)
	require.NoError(t, err)
	h.work(t, plain)
	p := h.until(t, number, drive.PlanFailed)
	require.Equal(t, gaveUp, p.Trouble)
	var wishes, sessions int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT (SELECT count(*) FROM once), (SELECT count(*) FROM sessions)`).Scan(&wishes, &sessions))
	require.Equal(t, []int{0, 1}, []int{wishes, sessions})
	require.Eventually(t, func() bool { return strings.Contains(h.log.String(), `"stranded plans"=1`) }, 10*time.Second, 10*time.Millisecond)
}

// A step of tidying that fails holds no later one up, and is told.
func TestATidyingThatFailsHoldsNothingUp(t *testing.T) {
	h := newHouse(t)
	_, err := h.db.Owner().Exec(t.Context(), `REVOKE DELETE ON once FROM boltward_server;
		INSERT INTO sessions (token, data, expiry) VALUES ('old', '', now() - interval '1 hour')`)
	require.NoError(t, err)
	w := &tidyWorker{cfg: Config{Store: h.Store, Log: slog.New(slog.NewTextHandler(h.log, nil))}}
	require.ErrorContains(t, w.Work(t.Context(), nil), "wishes: ")
	var sessions int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM sessions`).Scan(&sessions))
	require.Zero(t, sessions)
	require.Contains(t, h.log.String(), "visits=1")
}

// text collects the log.
type text struct {
	mu sync.Mutex
	b  strings.Builder
}

func (x *text) Write(b []byte) (int, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.b.Write(b)
}

func (x *text) String() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.b.String()
}
