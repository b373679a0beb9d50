package planning

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
)

// again is a re-solve near one group: a plan is given, some cloth has come, and only pieces
// whose panels could meet the new ones are cut anew. It is what "one more yard would make"
// and "what would this lot make" are answered with while somebody waits.
type again struct {
	s     *search
	base  []cutPiece
	noise func() float64
}

// resolve gives the best sewing found with the fabrics at and beyond index extra of the
// problem, starting from the given cuts of the others; moves dives are tried.
func (m *model) resolve(ctx context.Context, base []cutPiece, extra, moves int) *sewing {
	s := newSearch(ctx, m, Options{Effort: math.MaxInt64})
	a := &again{s: s, base: base}
	panels := make([]int64, len(m.supply))
	for _, c := range base {
		m.addPanels(panels, &c)
	}
	s.sewn = m.assemble(panels, 60)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range moves {
		if ctx.Err() != nil {
			break
		}
		a.noise = [...]func() float64{nil, rng.Float64, wild(rng)}[i%3]
		a.dive(extra, rng, []int{20, 50, 8, 30, 15, 60}[i%6])
	}
	return s.sewn
}

func (m *model) addPanels(panels []int64, c *cutPiece) {
	for _, st := range c.pattern {
		for _, col := range st {
			for _, f := range col {
				panels[m.groups[c.group].row[f]]++
			}
		}
	}
}

// dive cuts the new pieces and up to size old ones near them anew.
func (a *again) dive(extra int, rng *rand.Rand, size int) {
	m := a.s.m
	type place struct{ fabric, number int }
	cut := map[place]int{}
	for i, c := range a.base {
		cut[place{c.fabric, c.number}] = i
	}
	near := map[int]bool{}
	for _, st := range m.stock {
		for _, p := range st.pieces {
			if p.fabric >= extra {
				for _, g := range a.s.near()[st.group] {
					near[g] = true
				}
			}
		}
	}
	free := map[int]int{}
	again := map[int]bool{} // pieces of the base that are cut anew
	var candidates [][2]int
	for i, st := range m.stock {
		for k, p := range st.pieces {
			switch {
			case p.fabric >= extra:
				free[i]++
			case near[st.group]:
				candidates = append(candidates, [2]int{i, k})
			}
		}
	}
	for _, j := range rng.Perm(len(candidates)) {
		if size--; size < 0 {
			break
		}
		i, k := candidates[j][0], candidates[j][1]
		p := m.stock[i].pieces[k]
		free[i]++
		if b, was := cut[place{p.fabric, p.number}]; was {
			again[b] = true
		}
	}
	lie := make([]int64, len(m.supply))
	for b := range a.base {
		if !again[b] {
			m.addPanels(lie, &a.base[b])
		}
	}
	ms := newMasterWith(m, lie, 1)
	ms.lp.Stop, ms.noise = a.s.interrupted, a.noise
	var stocks []int
	for i := range free {
		stocks = append(stocks, i)
	}
	slices.Sort(stocks)
	for _, i := range stocks {
		ms.addUnit(i, free[i])
	}
	ms.seed()
	if !ms.dive(float64(a.s.sewn.value)+1-1e-3, a.s.interrupted) {
		return
	}
	for r, n := range m.panels(ms.cuts()) {
		lie[r] += n
	}
	if sewn := m.assemble(lie, 60); sewn.value > a.s.sewn.value {
		a.s.sewn = sewn
	}
}

// made counts the pillowcases of a sewing by quota, fixed ones included.
func (m *model) made(s *sewing) []int {
	out := slices.Clone(m.fixed)
	for i, n := range s.made {
		out[m.makes[i].quota] += int(n)
	}
	return out
}
