package drive

import (
	"testing"

	"boltward/internal/length"
	"boltward/internal/planning"

	"github.com/stretchr/testify/require"
)

// Worked out by hand: a body of 41 × 27 in takes 27 in of cloth 42 in wide, so ten take 270 in,
// 7 1/2 yd; of cuffs of 41 × 9 in ten take 90 in, 2 1/2 yd.
func TestWholeNeed(t *testing.T) {
	in := func(n int64) planning.Decimal { return mm(length.Length(n) * length.Inch) }
	problem := &planning.Problem{
		Unit:   string(length.MM),
		Cases:  []planning.Case{{ID: "1", Panels: []planning.Panel{{Role: "cuff", Around: in(41), Along: in(9), Pieces: 1}, {Role: planning.Body, Around: in(41), Along: in(27), Pieces: 1}}}},
		Quotas: []planning.Quota{{ID: "7", Cases: []string{"1"}, Wanted: 12}, {ID: "8", Cases: []string{"1"}, Wanted: 3}, {ID: "9", Wanted: 4}},
	}
	plan := &planning.Plan{Quotas: []planning.QuotaMade{{ID: "7", Made: 2}}}
	wants := []Want{
		{ID: "7", Fibres: []string{"cotton"}, ThemesWanted: []string{"foxes", "space"}, ThemesAvoid: []string{"winter holiday", "skulls"}},
		{ID: "9"},
	}
	needs, err := WholeNeed(problem, plan, wants)
	require.NoError(t, err)
	require.Len(t, needs, 2, "line 8 is asked for no more")
	require.Equal(t, 10, needs[0].Missing)
	require.Equal(t, "7 1/2 yd for bodies and 2 1/2 yd for cuffs", ClothWords(needs[0].Cloth, length.In))
	require.Equal(t, "6.9 m for bodies and 2.3 m for cuffs", ClothWords(needs[0].Cloth, length.CM))
	require.Equal(t, "cotton, foxes or space, no winter holiday or skulls", needs[0].Want.Kind())
	require.Empty(t, needs[1].Cloth, "no size is chosen for it")
	missing, cloth := AllNeeds(needs)
	require.Equal(t, 14, missing)
	require.Equal(t, needs[0].Cloth, cloth)
}
