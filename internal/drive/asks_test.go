package drive

import (
	"context"
	"testing"

	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// askInput is a drive with a coral sea print that nothing goes with, for a line that wants it.
func askInput(t *testing.T) PlanInput {
	t.Helper()
	built, ok := sizing.CaseNamed("standard")
	require.True(t, ok)
	panels, _, err := sizing.Cuts(built.Spec)
	require.NoError(t, err)
	return PlanInput{
		Washing: WashedFirst, KitCases: 4, KeepWidth: 9 * length.Inch, KeepLength: 18 * length.Inch, Sizes: []PlanSize{{ID: "1", Panels: panels}},
		Cloths: []Cloth{{
			ID: "1/1", Pieces: 1, Width: 1710 * length.Inch / 40, Length: 120 * length.Inch, Fibre: "cotton", Weight: "quilting", Washed: true,
			Print: PrintFeature, Turn: TurnEither, Colours: []string{"coral"}, Themes: []string{"sea"},
		}},
		Wants: []Want{{ID: "1", Sizes: []string{"1"}, Wanted: 4, Weight: 10, ThemesWanted: []string{"sea"}}},
	}
}

// "Nothing goes with the coral prints": then plain coral, or white, is what to ask for, though
// none of it lies here.
func TestAskForWhatGoesWithAPrint(t *testing.T) {
	in := askInput(t)
	found, err := in.FindAsks(context.Background(), nil, length.In, planning.Options{})
	require.NoError(t, err)
	require.Zero(t, found.Plan.Cases(), "nothing goes with the print")
	require.NotEmpty(t, found.Wishes)
	words := map[string]int{}
	for _, w := range found.Wishes {
		words[w.For.Words()] = w.Cases
		require.Equal(t, 42*length.Inch, w.For.Width, "as wide as what lies here, in whole inches")
		require.Equal(t, []planning.Moved{{ID: "1", From: 0, To: w.Cases}}, w.Lines)
	}
	require.Contains(t, words, "plain or tone on tone coral")
	require.Contains(t, words, "plain or tone on tone white")
	best := found.Wishes[0]
	require.Equal(t, 36*length.Inch, best.Length)

	// What is said can be made: planned anew with that piece it is.
	with, offers := in.Asking([]CallFor{best.For}, []length.Length{best.Length})
	require.Len(t, offers, 1)
	plan, err := planning.Solve(context.Background(), with, planning.Options{})
	require.NoError(t, err)
	require.GreaterOrEqual(t, plan.Summary.CasesBound, best.Cases)
	require.GreaterOrEqual(t, plan.Cases(), best.Cases)
}

func TestCallsFollowWhatIsAskedForAndTheUnit(t *testing.T) {
	in := askInput(t)
	require.Equal(t, []length.Length{500 * length.Millimetre, length.Metre, 1500 * length.Millimetre}, AskLengths(length.CM))
	for _, c := range in.Calls(length.CM) {
		require.Equal(t, 108*length.Centimetre, c.Width)
		require.True(t, c.Washed)
	}
	none := in
	none.Cloths, none.Wants = nil, []Want{{ID: "1", Sizes: []string{"1"}, Wanted: 4, Weight: 1, Fibres: []string{"linen"}}}
	calls := none.Calls(length.In)
	require.NotEmpty(t, calls)
	for _, c := range calls {
		require.Equal(t, "linen", c.Fibre, "the only fibre that is taken")
		require.Equal(t, 42*length.Inch, c.Width)
	}
	in.Cloths[0].Fibre = FibreNotSure
	for _, c := range in.Calls(length.In) {
		require.NotEqual(t, FibreNotSure, c.Fibre, "nobody can be asked for that")
	}
	in.Wants = nil
	found, err := in.FindAsks(context.Background(), nil, length.In, planning.Options{})
	require.NoError(t, err)
	require.Empty(t, found.Wishes)
}

func TestCallWords(t *testing.T) {
	for _, c := range []struct {
		call CallFor
		want string
	}{
		{CallFor{Print: PrintSolid, Colours: []string{"navy"}}, "plain or tone on tone navy"},
		{CallFor{Print: PrintFeature, Colours: []string{"coral", "white"}, Themes: []string{"sea"}}, "sea print with coral and white"},
		{CallFor{Print: PrintFeature, Themes: []string{"farm"}}, "farm print"},
		{CallFor{Print: PrintFeature, Colours: []string{"red"}}, "print with red"},
	} {
		require.Equal(t, c.want, c.call.Words())
	}
}
