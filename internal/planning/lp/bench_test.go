package lp

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// sewing is a programme of the planner's kind, invented: pieces of which each is cut in one of
// its patterns, panels that the patterns give and pillowcases take, quotas that hold these.
type sewing struct {
	rng                     *rand.Rand
	pieces, panels, makings int
}

func (w *sewing) build(s *Solver) {
	for range w.panels {
		s.AddRow(-1e-6*(1+w.rng.Float64()), 1e7, nil, nil)
	}
	quotas := 6
	for range quotas {
		s.AddRow(0, float64(w.pieces), nil, nil)
	}
	for range w.pieces {
		s.AddRow(0, 1, nil, nil)
	}
	for i := range w.makings {
		col := []Entry{{int32(w.panels + i%quotas), 1}}
		for _, r := range w.rng.Perm(w.panels)[:2+i%2] {
			col = append(col, Entry{int32(r), -1})
		}
		s.AddColumn(float64(1+i%quotas%3), 0, float64(w.pieces), col)
	}
	for range 3 {
		w.patterns(s)
	}
}

// patterns adds one for each piece.
func (w *sewing) patterns(s *Solver) {
	for p := range w.pieces {
		col := []Entry{{int32(s.Rows() - w.pieces + p), 1}}
		for _, r := range w.rng.Perm(w.panels)[:2+w.rng.IntN(3)] {
			col = append(col, Entry{int32(r), float64(1 + w.rng.IntN(4))})
		}
		s.AddColumn(0, 0, 2, col)
	}
}

var sewings = []struct {
	name string
	of   sewing
}{
	{"small", sewing{pieces: 12, panels: 50, makings: 80}},
	{"middling", sewing{pieces: 40, panels: 120, makings: 250}},
	{"large", sewing{pieces: 150, panels: 300, makings: 900}},
}

// run measures what one round of change does, on programmes of each size.
func run(b *testing.B, round func(b *testing.B, s *Solver, w *sewing)) {
	for _, size := range sewings {
		b.Run(size.name, func(b *testing.B) {
			s, pivots := New(), 0
			for b.Loop() {
				b.StopTimer()
				w := size.of
				w.rng = rand.New(rand.NewPCG(1, 2))
				s.Reset()
				w.build(s)
				before := s.Iterations
				b.StartTimer()
				round(b, s, &w)
				pivots += s.Iterations - before
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(pivots), "ns/pivot")
			b.ReportMetric(float64(pivots)/float64(b.N), "pivots/op")
		})
	}
}

// Columns arrive: the primal method.
func BenchmarkColumnsArrive(b *testing.B) {
	run(b, func(b *testing.B, s *Solver, w *sewing) {
		for range 8 {
			require.Equal(b, Optimal, s.Solve(100_000, math.Inf(-1)))
			w.patterns(s)
		}
	})
}

// Pieces are settled one after the other, as a dive does: the dual method.
func BenchmarkPiecesAreSettled(b *testing.B) {
	run(b, func(b *testing.B, s *Solver, w *sewing) {
		first := s.Vars() - 3*w.pieces
		for p := range w.pieces {
			require.Equal(b, Optimal, s.Solve(100_000, math.Inf(-1)))
			best := first + p
			for v := first + p; v < s.Vars(); v += w.pieces {
				if s.Value(v) > s.Value(best) {
					best = v
				}
			}
			for v := first + p; v < s.Vars(); v += w.pieces {
				if v != best {
					s.SetBounds(v, 0, 0)
				}
			}
		}
	})
}

// Halves of what is not whole are tried and taken back, as parting plans does.
func BenchmarkHalvesAreTried(b *testing.B) {
	run(b, func(b *testing.B, s *Solver, w *sewing) {
		require.Equal(b, Optimal, s.Solve(100_000, math.Inf(-1)))
		var at Snapshot
		s.Save(&at)
		x := make([]float64, s.Vars())
		for v := range x {
			x[v] = s.Value(v)
		}
		for v, x := range x {
			lo, hi := s.Bounds(v)
			if math.Abs(x-math.Round(x)) < 1e-4 {
				continue
			}
			for _, half := range [][2]float64{{lo, math.Floor(x)}, {math.Ceil(x), hi}} {
				s.SetBounds(v, half[0], half[1])
				s.Try(60, math.Inf(-1))
				s.SetBounds(v, lo, hi)
				s.Restore(&at)
			}
		}
	})
}
