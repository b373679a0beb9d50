package postgres

import (
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// A closed drive hands nothing out and takes no new asks; what is out comes back, what is here is
// delivered, and it can be opened again.
func TestAClosedDriveEndsWhatIsOpenAndBeginsNothing(t *testing.T) {
	s, a := wardOf(t, 20)
	mary, bo := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	size := drive.Size{Number: a.Sizes[0]}
	out := ownKits(t, s, size, 2, 4, mary, nil)
	here := ownKits(t, s, size, 1, 3, 0, nil)
	_, err := s.KitLost(t.Context(), s.fresh(), out[1], "", time.Time{})
	require.NoError(t, err)
	bringGood(t, s, a, 5)
	closedLine := addAsked(t, s, drive.Recipient{Number: a.Recipient}, size, 7)
	_, err = s.CloseAsked(t.Context(), s.fresh(), closedLine.Number)
	require.NoError(t, err)
	day := dayIn(20)
	monthly := drive.StandingAsk{LeadDays: 10, Line: drive.Asked{Recipient: a.Recipient, Sizes: a.Sizes, Wanted: 3, Matter: drive.MatterMust, Due: &day}}
	_, err = s.CreateStanding(t.Context(), s.fresh(), monthly)
	require.NoError(t, err)

	open, err := s.StillOpen(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, drive.StillOpen{KitsOut: 1, CasesOut: 4, KitsHere: 1, CasesHere: 3, Good: 5}, open)

	act := s.fresh()
	for range 2 { // the same form twice closes once
		_, err = s.CloseDrive(t.Context(), act)
		require.NoError(t, err)
	}
	d, err := s.Drive(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, act.At, d.ClosedAt.UTC())
	s.clock.forward(time.Hour)
	_, err = s.CloseDrive(t.Context(), s.fresh())
	require.NoError(t, err)
	d, err = s.Drive(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, act.At, d.ClosedAt.UTC(), "closed since then, whoever closes it once more")

	more := a
	more.Wanted = 21
	begins := map[string]func() error{
		"hand out": func() error {
			_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: here, Person: bo})
			return err
		},
		"sign out": func() error {
			_, err := s.SignOutKits(t.Context(), s.fresh(), []drive.SignedOut{{Row: 1, Kit: here[0], Person: bo}}, time.Time{})
			return err
		},
		"give again": func() error {
			_, err := s.GiveAgain(t.Context(), s.fresh(), out[1], drive.HandOut{Person: bo})
			return err
		},
		"own fabric": func() error {
			_, err := s.MakeOwnFabricKits(t.Context(), s.fresh(), drive.OwnFabric{Size: size.Number, Kits: 1, Cases: 2})
			return err
		},
		"part to another": func() error {
			_, err := s.SplitKit(t.Context(), s.fresh(), out[0], 1, bo, nil)
			return err
		},
		"ask": func() error {
			_, err := s.CreateAsked(t.Context(), s.fresh(), drive.Asked{Recipient: a.Recipient, Sizes: a.Sizes, Wanted: 2, Matter: drive.MatterMust})
			return err
		},
		"ask for more": func() error { _, err := s.UpdateAsked(t.Context(), s.fresh(), more); return err },
		"open a line":  func() error { _, err := s.ReopenAsked(t.Context(), s.fresh(), closedLine.Number); return err },
		"every month":  func() error { _, err := s.CreateStanding(t.Context(), s.fresh(), monthly); return err },
	}
	for what, do := range begins {
		require.Contains(t, apperr.Fields(do())[""], "This drive has been closed since", what)
	}
	s.clock.forward(40 * 24 * time.Hour)
	made, err := s.StandingDue(t.Context())
	require.NoError(t, err)
	require.Zero(t, made, "no month adds a line")

	_, err = s.TakeBack(t.Context(), s.fresh(), out[0], drive.KitReturn{Sewn: 4}, time.Time{})
	require.NoError(t, err)
	_, err = s.KitFound(t.Context(), s.fresh(), out[1], 4, 0, time.Time{})
	require.NoError(t, err)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: size.Number, N: 2, Asked: a.Number})
	require.NoError(t, err)
	more.Wanted = 10
	_, err = s.UpdateAsked(t.Context(), s.fresh(), more)
	require.NoError(t, err, "fewer may be asked for")

	_, err = s.OpenDriveAgain(t.Context(), s.fresh())
	require.NoError(t, err)
	d, err = s.Drive(t.Context(), "spring")
	require.NoError(t, err)
	require.Nil(t, d.ClosedAt)
	require.NoError(t, begins["hand out"]())
	require.NoError(t, begins["ask"]())
	made, err = s.StandingDue(t.Context())
	require.NoError(t, err)
	require.NotZero(t, made)
	agrees(t, s)
}

// Nothing is planned in a closed drive, and a plan that was ready when it was closed waits.
func TestAClosedDrivePlansNothing(t *testing.T) {
	s, _ := planned(t)
	ready := makePlan(t, s)
	_, err := s.CloseDrive(t.Context(), s.fresh())
	require.NoError(t, err)
	_, asked := s.RequestPlan(t.Context(), s.fresh())
	_, accepted := s.AcceptPlan(t.Context(), s.fresh(), ready)
	l, err := s.LookedAt(t.Context(), "spring", ready)
	require.NoError(t, err)
	_, swapped := s.KeepSwap(t.Context(), s.fresh(), l, drive.Swap{Kit: l.Plan.Kits[0].ID, Case: 1, Role: "cuff", Lot: 1}, drive.Swapped{Problem: l.Problem, Plan: l.Plan})
	for _, err := range []error{asked, accepted, swapped} {
		require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
		require.ErrorContains(t, err, "nothing more is planned")
	}
	_, err = s.OpenDriveAgain(t.Context(), s.fresh())
	require.NoError(t, err)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), ready)
	require.NoError(t, err)
	agrees(t, s)
}

// A plan that was passed over for another is done with: closing the drive does not wait for it, and what
// it fell short of is not what the drive falls short of.
func TestAPlanThatWasPassedOverIsNotOpen(t *testing.T) {
	s, _ := planned(t)
	accepted, other := makePlan(t, s), makePlan(t, s)
	open := func(why string, plans int) {
		t.Helper()
		o, err := s.StillOpen(t.Context(), "spring")
		require.NoError(t, err)
		require.Equal(t, plans, o.Plans, why)
	}
	open("both wait", 2)
	newest, _, err := s.NewestReasons(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, NewestPlan{Number: other}, newest)
	s.clock.forward(time.Minute)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), accepted)
	require.NoError(t, err)
	open("one stands, the other was passed over", 0)
	newest, _, err = s.NewestReasons(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, NewestPlan{Number: accepted, Accepted: true}, newest, "the plan that stands says what it is short of")
}
