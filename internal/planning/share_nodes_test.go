package planning

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNodesWithTheHighestBoundAreDealtOutAndTheBoundIsThatOfBothTrees(t *testing.T) {
	lanes := func() (a, b *tree) {
		sewn := &sewing{value: 5}
		a, b = &tree{s: &search{m: &model{}, sewn: sewn, bound: 20}}, &tree{s: &search{m: &model{}, sewn: sewn, bound: 20}}
		a.elsewhere, b.elsewhere = 20, 20
		return a, b
	}
	deep := func(bound int64, limits int) *node { return &node{bound: bound, limits: make([]limit, limits)} }

	a, b := lanes()
	b.open = []*node{deep(9, 4), deep(9, 1), deep(7, 0), deep(9, 3), deep(9, 2)}
	shareNodes(a, b)
	require.Equal(t, []*node{deep(9, 1), deep(9, 2)}, a.open, "those with the fewest limits go over")
	require.Equal(t, []*node{deep(9, 4), deep(7, 0), deep(9, 3)}, b.open)
	require.EqualValues(t, 9, a.s.bound)
	require.EqualValues(t, 9, b.s.bound)

	// One tree alone has done its nodes: what the other works on still bounds both.
	a.open = nil
	a.lower()
	require.EqualValues(t, 9, a.s.bound)

	// A node given up for now counts too, wherever it is.
	a.stuck, b.open = []*node{deep(8, 1)}, []*node{deep(7, 1)}
	shareNodes(a, b)
	require.EqualValues(t, 8, a.s.bound)
	require.EqualValues(t, 8, b.s.bound)

	// Nothing is left: the bound is what is made.
	a.stuck, b.open = nil, nil
	shareNodes(a, b)
	require.EqualValues(t, 5, a.s.bound)
	require.EqualValues(t, 5, b.s.bound)
}
