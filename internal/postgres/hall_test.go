package postgres

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning/plantest"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// long says whether the many rounds are wished for.
func long() bool { return os.Getenv("BOLTWARD_LONG") != "" }

// inRounds does something a few times by the same seeds each time, or in a long run many times by
// seeds that nobody has seen.
func inRounds(t *testing.T, few, many int, do func(t *testing.T, round int, seed uint64)) {
	t.Helper()
	if !long() {
		many = few
	}
	for round := range many {
		seed := uint64(round + 1)
		if long() {
			seed = uint64(time.Now().UnixNano())
		}
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) { do(t, round, seed) })
	}
}

// hall is a drive with many hands: whatever its people may do, in any order.
type hall struct {
	*testStore
	people []int64
	lines  []drive.Asked
	keys   atomic.Int64
	mu     sync.Mutex
	done   map[string]int // acts that were taken, by their names
	behind int            // how many days back things may be written for
}

// newHall has cloth, two wards that ask for two sizes, and three who sew.
func newHall(t testing.TB) *hall {
	t.Helper()
	s := newStore(t)
	startDrive(t, s)
	h := &hall{testStore: s, done: map[string]int{}}
	standard, travel := addSize(t, s, "standard"), addSize(t, s, "travel")
	ward, hospice := addRecipient(t, s, "Ward 4"), addRecipient(t, s, "Hospice")
	h.lines = []drive.Asked{addAsked(t, s, ward, standard, 40), addAsked(t, s, ward, travel, 20), addAsked(t, s, hospice, standard, 30)}
	for _, name := range []string{"Mary Ellis", "Bo Lund", "Ada Quill"} {
		h.people = append(h.people, addPerson(t, s, name))
	}
	for i, print := range []string{"feature", "solid", "feature", "solid", "feature"} {
		layCloth(t, s, int64(i+1), fmt.Sprintf("S%d", 5-i), print, clothLength(i), "navy")
	}
	return h
}

func clothLength(i int) length.Length { return (150 + 10*length.Length(i)) * inch }

// deed is something somebody does; it picks what to do it to by chance.
type deed func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error

// do lets somebody do one thing by chance. It gives an error that is not for people.
func (h *hall) do(ctx context.Context, r *rand.Rand) error {
	names := slices.Sorted(maps.Keys(deeds))
	name := names[r.IntN(len(names))]
	act := h.act(h.key())
	err := deeds[name](ctx, h, r, act)
	if err != nil && apperr.As(err) == nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err == nil {
		h.mu.Lock()
		h.done[name]++
		h.mu.Unlock()
	}
	return nil
}

// key gives a key that was not used before.
func (h *hall) key() string { return fmt.Sprintf("hall-%d", h.keys.Add(1)) }

// handAt is the chance by which one of several hands does what it does.
func handAt(seed uint64, hand int) *rand.Rand { return rand.New(rand.NewPCG(seed, uint64(hand))) }

// day is today or some days ago.
func (h *hall) day(r *rand.Rand) time.Time {
	return drive.Day(h.clock.now, time.UTC).AddDate(0, 0, -r.IntN(h.behind+1))
}

// errNothing says that there is nothing to do a deed to.
var errNothing = apperr.Conflict("There is nothing of that kind.")

func pick[T any](r *rand.Rand, list []T) (T, error) {
	if len(list) == 0 {
		var none T
		return none, errNothing
	}
	return list[r.IntN(len(list))], nil
}

func (h *hall) kit(ctx context.Context, r *rand.Rand, where KitsWhere) (drive.KitRef, error) {
	list, err := h.Kits(ctx, "spring", KitsQuery{Where: where, Today: h.day(r)})
	if err != nil {
		return drive.KitRef{}, err
	}
	k, err := pick(r, list.Kits)
	return k.KitRef, err
}

func (h *hall) stack(ctx context.Context, r *rand.Rand, states ...drive.CaseState) (StackLine, error) {
	list, err := h.Stacks(ctx, "spring", states...)
	if err != nil {
		return StackLine{}, err
	}
	return pick(r, list)
}

func (h *hall) lot(ctx context.Context, r *rand.Rand, state LotsState) (LotLine, error) {
	list, err := h.Lots(ctx, "spring", LotsQuery{State: state})
	if err != nil {
		return LotLine{}, err
	}
	return pick(r, list.Lots)
}

func (h *hall) sheet(ctx context.Context, r *rand.Rand, state drive.SheetState) (int64, error) {
	list, err := h.Sheets(ctx, "spring", SheetsQuery{State: state})
	if err != nil {
		return 0, err
	}
	s, err := pick(r, list.Sheets)
	return s.Number, err
}

func (h *hall) plan(ctx context.Context, r *rand.Rand, state drive.PlanState) (int64, error) {
	list, _, err := h.Plans(ctx, "spring", 0, 0)
	if err != nil {
		return 0, err
	}
	p, err := pick(r, slices.DeleteFunc(list, func(p drive.Plan) bool { return p.State != state }))
	return p.Number, err
}

func (h *hall) delivery(ctx context.Context, r *rand.Rand) (drive.Delivery, error) {
	list, err := h.Deliveries(ctx, "spring", DeliveriesQuery{})
	if err != nil {
		return drive.Delivery{}, err
	}
	return pick(r, slices.DeleteFunc(list, func(d drive.Delivery) bool { return d.SentOn == nil }))
}

// newSize is what somebody measures: now and then with a border, flaws and several pieces.
func newSize(r *rand.Rand) drive.Measured {
	m := cotton(1+r.IntN(2), length.Length(60+r.IntN(60))*inch)
	if r.IntN(2) == 0 {
		m.Print = drive.PrintSolid
	}
	if r.IntN(3) == 0 {
		m.Border, m.BorderDepth = drive.BorderOne, 20*inch
	}
	if r.IntN(3) == 0 {
		m.Cuts[0].Flaws = []sizing.Flaw{{From: 20 * inch, To: 23 * inch}}
	}
	return m
}

// makeOne asks for a plan and works it out.
func (h *hall) makeOne(ctx context.Context, act drive.Act) error {
	number, err := h.RequestPlan(ctx, act)
	if err != nil {
		return err
	}
	problem, err := h.BeginPlan(ctx, "spring", number)
	if err != nil || problem == nil {
		return err
	}
	_, err = h.FinishPlan(ctx, "spring", number, plantest.Plain(problem))
	return err
}

// TestManyHandsAtOnce: whatever several people do at the same time, every balance
// agrees with its ledger, pillowcases come from nowhere and go nowhere, nobody is
// shown an error that is not for people, and nobody stands in anybody's way so
// that Postgres has to end it.
func TestManyHandsAtOnce(t *testing.T) {
	hands, acts := 4, 80
	if long() {
		hands, acts = 6, 300
	}
	inRounds(t, 2, 40, func(t *testing.T, round int, seed uint64) {
		h := newHall(t)
		if round%2 == 1 {
			h.slow(t)
		}
		inParallel(hands, func(hand int) {
			r := handAt(seed, hand)
			for range acts {
				if err := h.do(t.Context(), r); err != nil {
					t.Errorf("hand %d: %v", hand, err)
					return
				}
			}
		})
		h.conserved(t)
		require.Zero(t, h.deadlocks(t), "transactions that Postgres had to end")
		t.Logf("done: %v", h.done)
		taken := 0
		for _, n := range h.done {
			taken += n
		}
		require.Greater(t, taken, hands*acts/4, "most of what is tried is possible: %v", h.done)
	})
}

// slow makes every change of a balance take its time, so that people do meet
// halfway between two of them.
func (h *hall) slow(t testing.TB) {
	t.Helper()
	_, err := h.db.Owner().Exec(t.Context(), `CREATE FUNCTION slowly() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN PERFORM pg_sleep(0.004); RETURN NULL; END $$;
		CREATE TRIGGER slowly AFTER UPDATE ON case_balances FOR EACH ROW EXECUTE FUNCTION slowly();
		CREATE TRIGGER slowly AFTER UPDATE ON kits FOR EACH ROW EXECUTE FUNCTION slowly();
		CREATE TRIGGER slowly AFTER UPDATE ON pieces FOR EACH ROW EXECUTE FUNCTION slowly();
		CREATE TRIGGER slowly AFTER UPDATE ON lots FOR EACH ROW EXECUTE FUNCTION slowly();
		CREATE TRIGGER slowly AFTER UPDATE ON counters FOR EACH ROW EXECUTE FUNCTION slowly()`)
	require.NoError(t, err)
}

// conserved holds that balances agree, and that as many pillowcases stand
// somewhere as ever came to be.
func (h *hall) conserved(t testing.TB) {
	t.Helper()
	agrees(t, h.testStore)
	const q = `SELECT (SELECT coalesce(sum(n), 0) FROM case_balances),
		(SELECT coalesce(sum(n) FILTER (WHERE from_state = 'born'), 0) - coalesce(sum(n) FILTER (WHERE to_state = 'born'), 0) FROM case_entries),
		(SELECT count(*) FROM once WHERE answer IS NULL)`
	var stand, born, open int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), q).Scan(&stand, &born, &open))
	require.Equal(t, born, stand, "pillowcases that stand somewhere are those that came to be")
	require.Zero(t, open, "wishes without an answer")
	const beyond = `SELECT (SELECT coalesce(sum(n), 0) FROM case_balances WHERE state IN ('good', 'packed', 'delivered', 'confirmed', 'not received')),
		(SELECT coalesce(sum(n), 0) FROM case_balances WHERE state IN ('delivered', 'confirmed', 'not received')),
		(SELECT coalesce(sum(CASE WHEN from_state = 'sewn' AND to_state = 'good' OR from_state = 'born' AND to_state = 'packed' THEN n
			WHEN to_state = 'sewn' AND from_state IN ('good', 'delivered', 'confirmed') THEN -n END), 0) FROM case_entries)`
	var good, sent, found int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), beyond).Scan(&good, &sent, &found))
	require.Equal(t, found, good, "what is good or beyond was found good, or came to light in a box")
	require.LessOrEqual(t, sent, found, "no more is delivered than was found good")
	launderedOrHere(t, h.testStore)
	panelsHold(t, h.testStore)
}

// deadlocks counts transactions that Postgres ended because they waited for each
// other. A connection tells what it counted when it is closed, if not before.
func (h *hall) deadlocks(t testing.TB) int {
	t.Helper()
	h.db.Pool.Reset()
	var n int
	const q = `SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()`
	require.NoError(t, h.db.Owner().QueryRow(t.Context(), q).Scan(&n))
	return n
}
