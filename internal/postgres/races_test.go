package postgres

import (
	"context"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// kitOfTwo is a kit of two that came back, for a line or for nobody yet.
func kitOfTwo(t testing.TB, s *testStore, z int64, asked *int64) (drive.KitRef, int64) {
	t.Helper()
	mary := addPerson(t, s, "Mary Ellis")
	made, err := s.MakeOwnFabricKits(t.Context(), s.fresh(), drive.OwnFabric{Kits: 1, Cases: 2, Size: z, Asked: asked, Person: &mary})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), made.Kits[0], drive.KitReturn{Sewn: 2}, time.Time{})
	require.NoError(t, err)
	return made.Kits[0], mary
}

// What somebody has at home to mend is not un-checked at the table meanwhile.
func TestUndoOfWhatIsOutToMend(t *testing.T) {
	s, a := wardOf(t, 20)
	ref, mary := kitOfTwo(t, s, a.Sizes[0], &a.Number)
	at := drive.Stack{Asked: a.Number, Size: a.Sizes[0], Kit: ref.Number, Part: ref.Part}
	_, err := s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Failed: []drive.Failed{{N: 2, To: drive.CaseToMend}}, Note: "loose", Pins: true})
	require.NoError(t, err)
	steps, err := s.CasesLately(t.Context(), "spring", 1)
	require.NoError(t, err)
	_, err = s.SendToMend(t.Context(), s.fresh(), Mending{At: at, N: 2, Person: mary})
	require.NoError(t, err)

	_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[0].ID)
	require.ErrorContains(t, err, "Kit 1 is out to be mended")
	agrees(t, s)
	_, err = s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 2}, time.Time{})
	require.NoError(t, err)
	agrees(t, s)
}

// A taking back is undone by its own entries, never by what happened at the table since.
func TestUndoTakeBackOfWhatWasHandledSince(t *testing.T) {
	t.Run("mended here", func(t *testing.T) {
		s, a := wardOf(t, 20)
		ref, _ := kitOfTwo(t, s, a.Sizes[0], &a.Number)
		at := drive.Stack{Asked: a.Number, Size: a.Sizes[0], Kit: ref.Number, Part: ref.Part}
		_, err := s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Failed: []drive.Failed{{N: 2, To: drive.CaseToMend}}, Note: "loose", Pins: true})
		require.NoError(t, err)
		_, err = s.MendedHere(t.Context(), s.fresh(), at, 2)
		require.NoError(t, err)
		_, err = s.UndoTakeBack(t.Context(), s.fresh(), ref)
		require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
		agrees(t, s)
	})
	t.Run("promised", func(t *testing.T) {
		s, a := wardOf(t, 20)
		ref, _ := kitOfTwo(t, s, a.Sizes[0], nil)
		_, err := s.Promise(t.Context(), s.fresh(), drive.Stack{Size: a.Sizes[0], Kit: ref.Number, Part: ref.Part, State: drive.CaseSewn}, 2, a.Number)
		require.NoError(t, err)
		_, err = s.UndoTakeBack(t.Context(), s.fresh(), ref)
		require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
		agrees(t, s)
	})
	t.Run("checked, and that undone", func(t *testing.T) {
		s, a := wardOf(t, 20)
		ref, _ := kitOfTwo(t, s, a.Sizes[0], &a.Number)
		at := drive.Stack{Asked: a.Number, Size: a.Sizes[0], Kit: ref.Number, Part: ref.Part}
		_, err := s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 2, Pins: true})
		require.NoError(t, err)
		steps, err := s.CasesLately(t.Context(), "spring", 1)
		require.NoError(t, err)
		_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[0].ID)
		require.NoError(t, err)
		_, err = s.UndoTakeBack(t.Context(), s.fresh(), ref)
		require.NoError(t, err)
		agrees(t, s)
	})
	t.Run("checked, and that undone on another day", func(t *testing.T) {
		s, a := wardOf(t, 20)
		ref, _ := kitOfTwo(t, s, a.Sizes[0], &a.Number)
		at := drive.Stack{Asked: a.Number, Size: a.Sizes[0], Kit: ref.Number, Part: ref.Part}
		s.clock.forward(24 * time.Hour)
		_, err := s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 2, Pins: true})
		require.NoError(t, err)
		steps, err := s.CasesLately(t.Context(), "spring", 1)
		require.NoError(t, err)
		s.clock.forward(24 * time.Hour)
		_, err = s.UndoCases(t.Context(), s.fresh(), 0, steps[0].ID)
		require.NoError(t, err)
		_, err = s.UndoTakeBack(t.Context(), s.fresh(), ref)
		require.ErrorContains(t, err, "on another day", "or the books of the day between would hold less than nothing")
	})
}

func TestNoBoxLeavesBeforeItIsPacked(t *testing.T) {
	s, a := wardOf(t, 20)
	bringGood(t, s, a, 2)
	box, err := s.PackBox(t.Context(), s.fresh(), PackedBox{
		Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 2}},
	})
	require.NoError(t, err)
	s.clock.forward(48 * time.Hour)
	yesterday, today := dayIn(-1), dayIn(0)
	sent := Sending{Recipient: a.Recipient, Boxes: []int64{box}, SentOn: &yesterday}
	_, err = s.MakeDelivery(t.Context(), s.fresh(), sent)
	require.Contains(t, apperr.Fields(err)["sent_on"], "on 3 Oct 2026")
	sent.SentOn = &today
	_, err = s.MakeDelivery(t.Context(), s.fresh(), sent)
	require.NoError(t, err)
}

// meanwhile runs first in a transaction, begins second while that is open, and
// gives what second came to once first is kept.
func meanwhile(t *testing.T, s *testStore, first func(tx pgx.Tx) error, second func(ctx context.Context) error) error {
	t.Helper()
	tx, err := s.db.Pool.Begin(t.Context())
	require.NoError(t, err)
	require.NoError(t, first(tx))
	came := make(chan error, 1)
	go func() { came <- second(context.WithoutCancel(t.Context())) }()
	waitingFor(t, s, 1)
	require.NoError(t, tx.Commit(t.Context()))
	return <-came
}

// Pillowcases are not promised to one ward while their line becomes another's, nor
// cut after a spec that changes meanwhile.
func TestWhatStandsMeanwhile(t *testing.T) {
	s, a := wardOf(t, 20)
	hospice := addRecipient(t, s, "Hospice")
	brought := drive.CaseEntry{Size: a.Sizes[0], N: 2, From: drive.CaseBorn, ToAsked: a.Number, To: drive.CaseSewn}
	err := meanwhile(t, s, func(tx pgx.Tx) error {
		if err := fitsLine(t.Context(), tx, "spring", a.Number, a.Sizes[0]); err != nil {
			return err
		}
		return writeCases(t.Context(), tx, s.act("brought"), dayIn(0), []drive.CaseEntry{brought})
	}, func(ctx context.Context) error {
		moved := a
		moved.Recipient = hospice.Number
		_, err := s.UpdateAsked(ctx, s.act("moved"), moved)
		return err
	})
	require.Contains(t, apperr.Fields(err)["recipient"], "stand for this line already")

	z := addSize(t, s, "travel")
	brought.Size, brought.ToAsked = z.Number, 0
	err = meanwhile(t, s, func(tx pgx.Tx) error {
		if err := keepSizes(t.Context(), tx, "spring", z.Number); err != nil {
			return err
		}
		return writeCases(t.Context(), tx, s.act("brought"), dayIn(0), []drive.CaseEntry{brought})
	}, func(ctx context.Context) error {
		built, _ := sizing.CaseNamed("queen")
		z.Spec = built.Spec
		_, err := s.UpdateSize(ctx, s.act("respec"), z)
		return err
	})
	require.NotEmpty(t, apperr.Fields(err), "its spec stays once pillowcases stand in it: %v", err)
}

// Several people at one thing: one of them does it, the others are told in words.
func TestManyAtOneThing(t *testing.T) {
	const tables = 20
	s, a := wardOf(t, 60)
	lot := tagged(t, s, "Rosa", 1)
	ref, mary := kitOfTwo(t, s, a.Sizes[0], &a.Number)
	mend := drive.Stack{Asked: a.Number, Size: a.Sizes[0]}
	_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 4, Asked: a.Number})
	require.NoError(t, err)
	_, err = s.CheckCases(t.Context(), s.fresh(), mend, drive.Checked{Failed: []drive.Failed{{N: 4, To: drive.CaseToMend}}, Note: "loose", Pins: true})
	require.NoError(t, err)
	stack := drive.Stack{Asked: a.Number, Size: a.Sizes[0], Kit: ref.Number, Part: ref.Part}
	for what, do := range map[string]func(act drive.Act, i int) error{
		"measure a lot": func(act drive.Act, _ int) error {
			_, err := s.MeasureLot(t.Context(), act, lot, 1, cotton(1, 90*inch))
			return err
		},
		"check a stack or undo that it came back": func(act drive.Act, i int) error {
			if i%2 == 0 {
				_, err := s.UndoTakeBack(t.Context(), act, ref)
				return err
			}
			_, err := s.CheckCases(t.Context(), act, stack, drive.Checked{Good: 2, Pins: true})
			return err
		},
		"send to mend or mend here": func(act drive.Act, i int) error {
			if i%2 == 0 {
				_, err := s.SendToMend(t.Context(), act, Mending{At: mend, N: 4, Person: mary})
				return err
			}
			_, err := s.MendedHere(t.Context(), act, mend, 4)
			return err
		},
	} {
		errs := make([]error, tables)
		inParallel(tables, func(i int) { errs[i] = do(s.act(what+string(rune('a'+i))), i) })
		won := 0
		for i, err := range errs {
			if err == nil {
				won++
				continue
			}
			require.True(t, apperr.Is(err, apperr.KindConflict), "%s, table %d: %v", what, i, err)
		}
		require.Equal(t, 1, won, what)
		agrees(t, s)
	}
}

// A step and its way back, over and over at the same moment: they wait for each
// other, and Postgres never has to end one.
func TestStepsAndTheirWayBack(t *testing.T) {
	s, a := wardOf(t, 60)
	h := &hall{testStore: s, lines: []drive.Asked{a, a, a}, done: map[string]int{}}
	bringGood(t, s, a, 20)
	_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 20, Asked: a.Number})
	require.NoError(t, err)
	h.slow(t)
	names := []string{"check", "undo a step", "pack", "unpack", "mended here"}
	inParallel(2*len(names), func(hand int) {
		r := handAt(1, hand)
		for range 15 {
			act := h.act(h.key())
			if err := deeds[names[hand%len(names)]](t.Context(), h, r, act); err != nil && apperr.As(err) == nil {
				t.Errorf("%s: %v", names[hand%len(names)], err)
			}
		}
	})
	h.conserved(t)
	require.Zero(t, h.deadlocks(t))
}
