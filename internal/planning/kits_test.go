package planning

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// cutOut gives what a search has settled, panels on the table, kits still empty.
func cutOut(t require.TestingT, p *Problem, effort int64) (*table, *sewing) {
	m, err := newModel(p)
	require.NoError(t, err)
	s := newSearch(context.Background(), m, Options{Effort: effort})
	s.run()
	tb := newTable(m)
	list := m.lay(s.cuts, s.sewn)
	at := 0
	if p.Fixed != nil {
		at = len(p.Fixed.Layouts)
	}
	for i := range list {
		tb.layout(at+i, &list[i])
	}
	return tb, s.sewn
}

// inTurn fills the kits as anybody would: pillowcase by pillowcase, from the piece that is next.
func (t *table) inTurn(s *sewing) {
	t.layLines(s)
	t.sortStacks()
	f := &filling{table: t, trims: make([][]int64, len(s.trims)), makes: make([][]int, len(t.lines))}
	for i := range s.trims {
		f.trims[i] = slices.Clone(s.trims[i])
	}
	next := func(row int, count int32) []int32 {
		var out []int32
		for _, st := range t.rows[row].all {
			out = append(out, slices.Repeat([]int32{st}, int(t.take(st, count-int32(len(out)))))...)
		}
		return out
	}
	for l := range t.lines {
		ln := &t.lines[l]
		b, place := ln.first, int32(0)
		for i := range t.m.makes {
			mk := &t.m.makes[i]
			if mk.quota != ln.quota || mk.spec != ln.spec {
				continue
			}
			f.makes[l] = append(f.makes[l], i)
			for range s.made[i] {
				if place == t.bags[b].size() {
					b, place = b+1, 0
				}
				f.set(&t.bags[b], ln, place, 0, next(mk.uses[0].row, ln.roles[0].count))
				for r := 1; r < len(ln.roles); r++ {
					rows, left := f.choices(l, mk.group, r)
					k := 0
					if left != nil {
						k = slices.IndexFunc(left, func(n int64) bool { return n > 0 })
						left[k]--
					}
					f.set(&t.bags[b], ln, place, r, next(rows[k], ln.roles[r].count))
				}
				place++
			}
		}
	}
	t.ready()
}

func (t *table) sorted(s *sewing) {
	t.layLines(s)
	t.sortStacks()
	t.fill(s)
	t.fewer()
}

// requireTaken holds the index of the search to the kits it speaks of.
func (t *table) requireTaken(r require.TestingT, s *sewing) {
	had := make([]int64, len(t.m.supply))
	for x, st := range t.slots {
		if st == none {
			continue
		}
		had[t.stacks[st].row]++
		require.Equal(r, int32(x), t.units[t.pos[x]])
	}
	require.Equal(r, t.m.needs(s), had, "panels of each kind and look")
	total := t.total
	t.roles, t.total = 0, 0
	t.ready()
	require.Equal(r, total, t.total, "bundles counted anew")
	for b := range t.bags {
		l := &t.lines[t.bags[b].line]
		for p := range t.bags[b].places {
			if at := t.bags[b].first + p*l.wide; t.slots[at] != none {
				require.True(r, t.suits(at))
			}
		}
	}
}

// Never more bundles than pillowcases put together in turn, never fewer than the proven
// least; where everything can be tried, the search is held to the fewest there are.
func TestBundlesOfSmallProblems(t *testing.T) {
	tried, fewest, over, proven := 0, 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t)
		for i := range p.Quotas {
			p.Quotas[i].Wanted *= 2
		}
		for i := range p.Fabrics {
			p.Fabrics[i].Pieces *= 2
		}
		naive, s := cutOut(t, p, 30)
		naive.inTurn(s)
		tb, s := cutOut(t, p, 30)
		tb.sorted(s)
		if len(tb.slots) == 0 {
			return
		}
		tb.requireTaken(t, s)
		require.LessOrEqual(t, tb.total, naive.total, "more bundles than in turn")
		floor := tb.floor()
		require.LessOrEqual(t, floor, tb.total)
		if floor == tb.total {
			proven++
		}
		if best, ok := tb.fewestOfAll(); ok {
			tried++
			require.LessOrEqual(t, floor, best, "the least is not proven")
			require.GreaterOrEqual(t, tb.total, best)
			if tb.total == best {
				fewest++
			}
			over += tb.total - best
		}
	})
	t.Logf("%d tried in full: %d with the fewest bundles, %d bundles too many in all; %d proven by the least", tried, fewest, over, proven)
	// At most 2 in 100; one miss among the few that are tried in a short run says nothing yet.
	require.LessOrEqual(t, (over-1)*50, tried, "the search misses the fewest too often")
}

// fewestOfAll tries every way to fill the kits, up to a limit of work.
func (t *table) fewestOfAll() (int, bool) {
	left := make([]int32, len(t.stacks))
	for _, s := range t.slots {
		if s != none {
			left[s]++
		}
	}
	type step struct {
		x, place int32
		bag      int32
		role     int
		again    bool // must be of the look of the slot before
		end      bool // of a pillowcase
	}
	var steps []step
	for b := range t.bags {
		bag := &t.bags[b]
		l := &t.lines[bag.line]
		for p := range bag.size() {
			at := bag.first + p*l.wide
			for r := range l.roles {
				for c := range l.roles[r].count {
					steps = append(steps, step{at + l.roles[r].at + c, at, int32(b), r, c > 0, false})
				}
			}
			steps[len(steps)-1].end = true
		}
	}
	slots := slices.Clone(t.slots)
	defer func() { t.slots = slots }()
	t.slots = slices.Repeat([]int32{none}, len(slots))
	best, work := math.MaxInt, 0
	var try func(i, cost int)
	try = func(i, cost int) {
		if work++; cost >= best || work > 200_000 {
			return
		}
		if i == len(steps) {
			best = cost
			return
		}
		st := steps[i]
		l := &t.lines[t.bags[st.bag].line]
		for s := range t.stacks {
			row := t.stacks[s].row
			if left[s] == 0 || t.m.supply[row].kind != t.kindOf(l, st.role) || st.again && row != t.stacks[t.slots[st.x-1]].row {
				continue
			}
			more := 1
			if len(t.like(nil, st.bag, st.role, int32(s))) > 0 {
				more = 0
			}
			left[s]--
			t.slots[st.x] = int32(s)
			if !st.end || t.suits(st.place) {
				try(i+1, cost+more)
			}
			t.slots[st.x] = none
			left[s]++
		}
	}
	try(0, 0)
	return best, work <= 200_000
}

func TestBundlesOfInventedDrives(t *testing.T) {
	sizes := []string{"10", "20", "40", "100", "300"}
	if long() {
		sizes = append(sizes, "1000", "3000", "30000")
	}
	for _, n := range sizes {
		for _, seed := range []string{"1", "2"} {
			p := drive(t, seed, n)
			naive, s := cutOut(t, p, 60)
			naive.inTurn(s)
			tb, s := cutOut(t, p, 60)
			tb.sorted(s)
			tb.requireTaken(t, s)
			floor := tb.floor()
			t.Logf("%s fabrics, seed %s: %d kits, %d bundles in turn, %d now, never fewer than %d", n, seed, len(tb.bags), naive.total, tb.total, floor)
			require.LessOrEqual(t, tb.total, naive.total)
			require.LessOrEqual(t, floor, tb.total)
			require.LessOrEqual(t, float64(tb.total), 1.15*float64(floor), "far above the least")
		}
	}
}

// The price bound of panels that do not come out even: stacks of 3 for kits of 4.
func TestFewestBundlesWhereStacksAndKitsMustMeet(t *testing.T) {
	for _, c := range []struct {
		name         string
		stacks, kits []int32
		want         int
	}{
		{"each stack is a kit", []int32{3, 3}, []int32{3, 3}, 2},
		{"four threes in three fours: one component", []int32{3, 3, 3, 3}, []int32{4, 4, 4}, 6},
		{"a one and a three", []int32{3, 1, 3, 1}, []int32{4, 4}, 4},
		{"one stack for all", []int32{12}, []int32{4, 4, 4}, 3},
		{"one kit of all", []int32{1, 2, 3}, []int32{6}, 3},
	} {
		k := kindNeeds{stacks: c.stacks, kits: c.kits}
		require.Equal(t, c.want, k.meeting(), c.name)
	}
}

func BenchmarkKits(b *testing.B) {
	for _, n := range []string{"300", "30000"} {
		b.Run(n, func(b *testing.B) {
			p := drive(b, "1", n)
			m, err := newModel(p)
			require.NoError(b, err)
			s := newSearch(context.Background(), m, Options{Effort: 100})
			s.run()
			list := m.lay(s.cuts, s.sewn)
			b.ReportAllocs()
			b.ResetTimer()
			total := 0
			for range b.N {
				b.StopTimer()
				t := newTable(m)
				for i := range list {
					t.layout(i, &list[i])
				}
				b.StartTimer()
				t.sorted(s.sewn)
				total = t.total
			}
			b.ReportMetric(float64(total), "bundles")
		})
	}
}
