package planning

import "math"

// relax solves the relaxation over all patterns, keeps the least bound and a first plan.
func (s *search) relax(ms *master) {
	s.tell("bound")
	ms.seed()
	rounds := 0
	ms.generate(1000, math.Inf(-1), func(value float64, p prices, fabric int64) bool {
		s.improve(s.m.quotaSide(p, s.m.weightOf)+fabric, p)
		rounds++
		if rounds == 1 {
			s.offer(ms.rounded())
		}
		s.tell("bound")
		return !s.halt()
	})
	s.offer(ms.rounded())
}

// casesBound proves how many pillowcases there can be at most, whatever they are worth.
func (s *search) casesBound(ms *master, rounds int) {
	if s.m.equalWeights() {
		return // the bound of weight is the bound of pillowcases
	}
	if s.stopped != "" && s.stopped != Closed {
		return
	}
	for _, y := range ms.y {
		ms.lp.SetCost(y, 1)
	}
	ms.weight = one
	ms.generate(rounds, math.Inf(-1), func(value float64, p prices, fabric int64) bool {
		s.improveCases(s.m.quotaSide(p, one)+fabric, p)
		// Of thousands of pillowcases a thousandth is not worth more rounds.
		near := s.boundCases <= int64(value)+int64(value)/1000
		return !near && s.ctx.Err() == nil && (s.o.Within == 0 || s.now().Sub(s.start) < s.o.Within)
	})
	ms.weight = s.m.weightOf
	for i, y := range ms.y {
		ms.lp.SetCost(y, float64(s.m.weightOf(s.m.makes[i].quota)))
	}
}

// equalWeights says whether every pillowcase is worth the same, and so one step.
func (m *model) equalWeights() bool {
	for _, q := range m.quotas {
		if q.weight != 1 {
			return false
		}
	}
	return true
}
