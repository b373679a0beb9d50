package planning

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// bestOfKnown tries every way to cut each piece by one of its known patterns; ok is false where
// these are too many.
func bestOfKnown(m *model, k *known) (best int64, ok bool) {
	ways := 1
	for i, st := range m.stock {
		for range st.pieces {
			if ways *= len(k.of[i]) + 1; ways > 2000 {
				return 0, false
			}
		}
	}
	panels := make([]int64, len(m.supply))
	var cut func(stock, piece int)
	cut = func(stock, piece int) {
		if stock == len(m.stock) {
			best = max(best, m.assemble(panels, 10_000).value)
			return
		}
		if piece == len(m.stock[stock].pieces) {
			cut(stock+1, 0)
			return
		}
		cut(stock, piece+1)
		for _, c := range k.of[stock] {
			for _, n := range c.counts {
				panels[n.row] += int64(n.n)
			}
			cut(stock, piece+1)
			for _, n := range c.counts {
				panels[n.row] -= int64(n.n)
			}
		}
	}
	cut(0, 0)
	return best, true
}

func TestThePlanOfKnownPatternsIsTheBestOfThem(t *testing.T) {
	told := 0
	rapid.Check(t, func(t *rapid.T) {
		m, err := newModel(smallProblem(t))
		require.NoError(t, err)
		if m.isBig() {
			t.Skip("nothing here is cut piece by piece")
		}
		s := newSearch(context.Background(), m, Options{Effort: 100_000})
		ms := newMaster(m)
		s.masters = append(s.masters, ms)
		for i, st := range m.stock {
			ms.addUnit(i, len(st.pieces))
		}
		ms.seed()
		if rapid.Bool().Draw(t, "relaxed") {
			ms.generate(20, -1, nil)
		}
		h := newHunt(s, ms, 1)
		want, ok := bestOfKnown(m, h.known)
		if !ok {
			t.Skip("too many ways to try them all")
		}
		want = max(want, s.sewn.value) // of what lies cut
		k := newKnownTree(s, h)
		k.work(1_000_000)
		require.Equal(t, want, s.sewn.value)
		require.True(t, k.ended || s.sewn.value == s.bound)
		require.Equal(t, s.sewn.value, m.assemble(m.panels(s.cuts), 10_000).value, "the plan is cut")
		if want > 0 {
			told++
		}
		if !k.ended || h.known.count == 0 {
			return
		}
		require.False(t, k.step(), "it waits for more patterns")
	})
	require.Positive(t, told)
}

func TestLanesTellEachOtherPatternsOnce(t *testing.T) {
	grew := 0
	rapid.Check(t, func(t *rapid.T) {
		m, err := newModel(smallProblem(t))
		require.NoError(t, err)
		s := newSearch(context.Background(), m, Options{Effort: 100_000})
		ms := newMaster(m)
		for i, st := range m.stock {
			ms.addUnit(i, len(st.pieces))
		}
		ms.seed()
		a := newHunt(s, ms, 1).known
		other, theirs := s.twin(ms)
		b := &lane{s: other, t: newTree(other, theirs)}
		b.h = newHunt(other, theirs, 2)
		theirs.generate(20, -1, nil) // patterns that only the tree of the other lane knows
		b.h.known.take(b.t)
		before := a.count
		a.share(b.h.known)
		require.Equal(t, b.h.known.count, a.count, "what both know is known once")
		for i, list := range b.h.known.of {
			for k, c := range list {
				require.ElementsMatch(t, c.counts, a.of[i][k].counts)
			}
		}
		grew += a.count - before
		a.share(b.h.known)
		a.take(b.t)
		require.Equal(t, b.h.known.count, a.count)
	})
	require.Positive(t, grew)
}
