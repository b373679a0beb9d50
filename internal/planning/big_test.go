package planning

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// Pieces are planned in bulk where too many are different or where they hold too much; where a
// group has few, more of them are hunted one by one, but no bolts.
func TestWhatIsTooMuchToBeHuntedPieceByPiece(t *testing.T) {
	for _, c := range []struct {
		pieces, groups int
		strips         int // that each piece holds
		big            bool
	}{
		{pieces: 40, groups: 2, strips: 12},
		{pieces: 40, groups: 2, strips: 13, big: true},
		{pieces: 400, groups: 10, strips: 1},
		{pieces: 400, groups: 200, strips: 2, big: true},
		{pieces: 401, groups: 100, strips: 1, big: true},
		{pieces: 401, groups: 101, strips: 1},
		{pieces: 401, groups: 101, strips: 2},
		{pieces: 600, groups: 151, strips: 2},
		{pieces: 600, groups: 150, strips: 2, big: true},
		{pieces: 600, groups: 151, strips: 3, big: true},
		{pieces: 601, groups: 300, strips: 1, big: true},
	} {
		m, err := newModel(differentPieces(c.pieces, c.groups, c.strips))
		require.NoError(t, err)
		require.Len(t, m.stock, c.pieces, "different pieces of %+v", c)
		require.Len(t, m.stocked(), c.groups, "groups of %+v", c)
		require.EqualValues(t, c.pieces*c.strips, m.strips(), "strips of %+v", c)
		require.Equal(t, c.big, m.isBig(), "isBig of %+v", c)
	}
}

// differentPieces makes up a drive of which no two pieces of a group are as wide.
func differentPieces(pieces, groups, strips int) *Problem {
	const along = 20
	p := &Problem{Unit: "in", Trims: map[string][]string{}, Kit: KitRule{2}}
	p.Cases = []Case{{"case", []Panel{{Body, Whole(10), Whole(along), 1}}}}
	p.Quotas = []Quota{{ID: "ward", Cases: []string{"case"}, Wanted: pieces, Weight: Whole(1)}}
	for i := range pieces {
		group := fmt.Sprint("print", i%groups)
		if i < groups {
			p.Quotas[0].Bodies = append(p.Quotas[0].Bodies, group)
		}
		p.Fabrics = append(p.Fabrics, Fabric{
			ID: fmt.Sprint("piece", i), Length: Whole(int64(along * strips)), Width: Whole(int64(10 * (1 + i/groups))), Pieces: 1,
			Group: group, Roles: []string{Body}, Turn: Across,
		})
	}
	return p
}
