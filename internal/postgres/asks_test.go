package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"

	"github.com/stretchr/testify/require"
)

// workOutAsks does what the worker does.
func workOutAsks(t *testing.T, s *testStore) drive.AsksFound {
	t.Helper()
	work, err := s.BeginAsks(t.Context(), "spring")
	require.NoError(t, err)
	require.NotNil(t, work)
	found, err := work.Input.FindAsks(t.Context(), work.Plan, length.In, planning.Options{Effort: 100})
	require.NoError(t, err)
	require.NoError(t, s.FinishAsks(t.Context(), "spring", work.At, found))
	return found
}

func askFor(t *testing.T, s *testStore, a *drive.Asked, wanted int) {
	t.Helper()
	a.Wanted = wanted
	var err error
	*a, err = s.UpdateAsked(t.Context(), s.fresh(), *a)
	require.NoError(t, err)
}

// What to ask for is worked out once however often it is asked, kept with its age, and known
// to be of another shelf once cloth has moved; it is worked out anew by itself then.
func TestAsksAreKeptAndFollowTheShelf(t *testing.T) {
	s, a := planned(t)
	askFor(t, s, &a, 40)
	now, err := s.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, now.State)
	require.Nil(t, now.MadeAt)
	for range 2 {
		_, err = s.RequestAsks(t.Context(), s.fresh())
		require.NoError(t, err)
	}
	var jobs int
	require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'ask'`).Scan(&jobs))
	require.Equal(t, 1, jobs, "asked twice, worked out once")
	now, err = s.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	require.True(t, now.Busy())

	found := workOutAsks(t, s)
	require.NotEmpty(t, found.Wishes, "40 are asked for, and %d are made", found.Plan.Cases())
	now, err = s.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, "ready", now.State)
	require.NotNil(t, now.MadeAt)
	require.Equal(t, found.Wishes, now.Wishes)
	require.False(t, now.Changed)
	for _, w := range now.Wishes {
		require.Positive(t, w.Weight.Sign())
		sum := 0
		for _, l := range w.Lines {
			require.Equal(t, drive.NumberID(a.Number), l.ID)
			sum += l.To - l.From
		}
		require.Equal(t, w.Cases, sum)
	}

	work, err := s.BeginAsks(t.Context(), "spring")
	require.NoError(t, err)
	require.Nil(t, work, "done already")
	n, err := s.RefreshAsks(t.Context())
	require.NoError(t, err)
	require.Zero(t, n, "nothing has moved")

	s.clock.forward(time.Second)
	layCloth(t, s, 4, "D1", "solid", 90*length.Inch, "navy")
	now, err = s.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	require.True(t, now.Changed, "a lot came in")
	n, err = s.RefreshAsks(t.Context())
	require.NoError(t, err)
	require.Zero(t, n, "not with every lot")
	s.clock.forward(asksRest + time.Second)
	n, err = s.RefreshAsks(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
	require.NoError(t, s.FailAsks(t.Context(), "spring", "It could not be."))
	now, err = s.AskedForNow(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, "failed", now.State)
	require.NotEmpty(t, now.Wishes, "what was found before stays")
}

// Cloth that bears a time before what to ask for was worked out, and was booked after it, is not overlooked.
func TestAsksFollowClothThatIsBookedLate(t *testing.T) {
	s, a := planned(t)
	askFor(t, s, &a, 40)
	s.clock.forward(time.Hour)
	_, err := s.RequestAsks(t.Context(), s.fresh())
	require.NoError(t, err)
	workOutAsks(t, s)
	s.clock.forward(-time.Second)
	layCloth(t, s, 4, "D1", "solid", 90*length.Inch, "navy")
	s.clock.forward(asksRest + 3*time.Second)
	n, err := s.RefreshAsks(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
	workOutAsks(t, s)
	s.clock.forward(asksRest + time.Second)
	n, err = s.RefreshAsks(t.Context())
	require.NoError(t, err)
	require.Zero(t, n, "once")
}

// What a lot brings while somebody waits: with what is on the shelf, for whom, whether or not
// it was worked out before what to ask for.
func TestLotBrings(t *testing.T) {
	s, a := planned(t)
	askFor(t, s, &a, 40)
	lot := func(number int64, colour string) []drive.Cloth {
		return []drive.Cloth{{
			ID: drive.ClothID(number, 1), Pieces: 1, Width: 42 * length.Inch, Length: 60 * length.Inch, Fibre: "cotton", Weight: "quilting", Washed: true,
			Print: drive.PrintSolid, Turn: drive.TurnEither, Colours: []string{colour},
		}}
	}
	bare, err := s.LotBrings(t.Context(), "spring", lot(9, "navy"))
	require.NoError(t, err)
	require.True(t, bare.Asked)

	_, err = s.RequestAsks(t.Context(), s.fresh())
	require.NoError(t, err)
	found := workOutAsks(t, s)
	b, err := s.LotBrings(t.Context(), "spring", lot(9, "navy"))
	require.NoError(t, err)
	require.Positive(t, b.Cases)
	require.LessOrEqual(t, b.Cases, 40-found.Plan.Cases())
	require.Len(t, b.Lines, 1)
	require.Equal(t, drive.NumberID(a.Number), b.Lines[0].ID)
	require.Equal(t, b.Cases, b.Lines[0].To-b.Lines[0].From)

	wet := lot(9, "navy")
	wet[0].Washed = false
	after, err := s.LotBrings(t.Context(), "spring", wet)
	require.NoError(t, err)
	require.Equal(t, drive.WaitsWashing, after.After)
	require.Equal(t, b.Cases, after.Cases, "taken as it will be when it is washed")
	smells := lot(9, "navy")
	smells[0].SetAside = "smell"
	none, err := s.LotBrings(t.Context(), "spring", smells)
	require.NoError(t, err)
	require.Equal(t, drive.Brings{Asked: true, After: drive.WaitsSetAside}, none)

	// A lot that lies on the shelf: what the plan makes with it, less what it would make without.
	in, err := s.inputNow(t.Context(), "spring")
	require.NoError(t, err)
	lies, err := s.LotBrings(t.Context(), "spring", in.Cloths[2:])
	require.NoError(t, err)
	require.Equal(t, found.Plan.Cases(), lies.Cases, "nothing else may be a cuff")
}
