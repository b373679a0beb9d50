package planning

import (
	"context"
	"math"
	"time"
)

// Options steer a solve. The zero value is the default.
type Options struct {
	// Effort limits the work, in units of about a thousandth of a second on a machine of 2025;
	// 0 is the default. Plans that stop by effort are the same on any machine.
	Effort int64
	// Within is a ceiling on time, 0 for none. A plan it stops says so.
	Within time.Duration
	// Progress is called whenever a figure changes, from the goroutine that called Solve.
	Progress func(Progress)
	// Now is the clock, time.Now where nil.
	Now func() time.Time

	oneOfMany bool // a try among several that share the time: what is searched in lanes gets the usual work alone
}

// Progress tells how far planning has come.
type Progress struct {
	Made       Decimal `json:"made"`        // weight of the best plan so far
	Bound      Decimal `json:"bound"`       // no plan is worth more
	Cases      int     `json:"cases"`       // pillowcases of the best plan so far
	CasesBound int     `json:"cases_bound"` // no plan makes more
	Phase      string  `json:"phase"`
	Seconds    float64 `json:"seconds"`
}

// Solve plans a problem. It fails only with an apperr.Error of KindInvalid for a problem that
// is none; otherwise it always gives a plan that Check finds valid and a proven bound, also
// when ctx ends: then the best plan so far.
func Solve(ctx context.Context, p *Problem, o Options) (*Plan, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	begun := time.Now
	if o.Now != nil {
		begun = o.Now
	}
	start := begun()
	m, err := newModel(p)
	if err != nil {
		return nil, err
	}
	s := newSearch(ctx, m, o)
	s.start = start // the ceiling on time is on all of it, and a depot's cloth alone takes seconds
	s.run()
	return s.finish(), nil
}

// search is one run of the planner: the best plan so far, the bound, and what limits it.
type search struct {
	m     *model
	ctx   context.Context
	o     Options
	now   func() time.Time
	start time.Time

	effort  int64
	cloth   int64 // effort kept for saving cloth
	more    int64 // effort beyond the usual while the plan is far below the bound
	masters []*master
	stopped Stopped
	begin   [][]cutPattern // a plan to begin with, in another search's strips
	part    bool           // a part of another search: no figure of its own is told

	cuts       [][]cutPattern
	sewn       *sewing
	since      int64 // work done when it became the best
	related    [][]int
	bound      int64 // in units of weight
	boundCases int64
	proof      prices
	root       *node // of the tree of branchings, where there is one
	sums       []sum // that it may part by
	proofCases prices
	phase      string
	told       Progress
}

func newSearch(ctx context.Context, m *model, o Options) *search {
	s := &search{m: m, ctx: ctx, o: o, now: o.Now, effort: o.Effort, bound: math.MaxInt64, boundCases: math.MaxInt64}
	if s.effort == 0 {
		s.effort, s.more = m.defaultEffort()
		if o.oneOfMany && !m.isBig() {
			s.more = 0
		}
	}
	if s.now == nil {
		s.now = time.Now
	}
	s.start = s.now()
	s.sewn = m.assemble(make([]int64, len(m.supply)), 50)
	s.proof = make(prices, len(m.supply))
	// At no price at all cloth is worth nothing: what is wanted bounds what is made.
	s.improve(s.m.quotaSide(s.proof, m.weightOf), s.proof)
	s.improveCases(s.m.quotaSide(s.proof, one), s.proof)
	return s
}

// halt says whether work must end, and notes why.
func (s *search) halt() bool {
	switch {
	case s.stopped != "":
	case s.ctx.Err() != nil:
		s.stopped = StoppedByPerson
	case s.o.Within > 0 && s.now().Sub(s.start) >= s.o.Within:
		s.stopped = StoppedByTime
	case s.work() >= s.effort:
		if s.more > 0 && float64(s.bound-s.sewn.value) > far*float64(s.bound) {
			s.effort, s.more = s.effort+s.more, 0
			return false
		}
		s.stopped = StoppedByEffort
	case s.sewn.value >= s.bound:
		s.stopped = Closed
	}
	return s.stopped != ""
}

// interrupted says whether time is over or somebody asked to stop.
func (s *search) interrupted() bool {
	return s.ctx.Err() != nil || s.o.Within > 0 && s.now().Sub(s.start) >= s.o.Within
}

// work measures the effort spent: the numbers that programmes and linear programmes have
// touched, a million to the unit.
func (s *search) work() int64 {
	n := s.m.assembled
	for _, g := range s.m.groups {
		if g.prog != nil {
			n += g.prog.Work
		}
		if g.loose != nil {
			n += g.loose.Work
		}
	}
	for _, ms := range s.masters {
		n += ms.lp.Work
	}
	return n / 1_000_000
}

// improve takes a bound in price units and keeps it where it is lower.
func (s *search) improve(b int64, p prices) {
	if b = s.m.reachable(b); b < s.bound {
		s.bound, s.proof = b, append(prices(nil), p...)
	}
}

func (s *search) improveCases(b int64, p prices) {
	if b /= s.m.unit; b < s.boundCases {
		s.boundCases, s.proofCases = b, append(prices(nil), p...)
	}
}

func (s *search) tell(phase string) {
	s.phase = phase
	if s.o.Progress == nil {
		return
	}
	var cases int64
	for _, n := range s.sewn.made {
		cases += n
	}
	p := Progress{
		Made: s.weight(s.sewn.value), Bound: s.weight(s.bound),
		Cases: int(cases) + s.fixedCases(), CasesBound: s.mostCases(), Phase: phase,
	}
	if p != s.told {
		s.told = p
		p.Seconds = s.now().Sub(s.start).Seconds()
		s.o.Progress(p)
	}
}

// weight adds what fixed kits are worth to a sum of weight units.
func (s *search) weight(n int64) Decimal {
	for q, k := range s.m.fixed {
		n += int64(k) * s.m.quotas[q].weight
	}
	return s.m.weightDecimal(n)
}

// mostCases is the proven bound on the number of pillowcases, the fixed ones included.
func (s *search) mostCases() int {
	most := s.boundCases
	if s.m.equalWeights() {
		most = s.bound
	}
	return int(most) + s.fixedCases()
}

func (s *search) fixedCases() int {
	n := 0
	for _, k := range s.m.fixed {
		n += k
	}
	return n
}

func (s *search) run() {
	if s.m.isBig() {
		s.runBig()
		return
	}
	ms := newMaster(s.m)
	ms.lp.Stop = s.interrupted
	s.masters = append(s.masters, ms)
	for i, st := range s.m.stock {
		ms.addUnit(i, len(st.pieces))
	}
	b := s.ahead(ms)
	s.relax(ms)
	if s.begin != nil {
		s.offer(ms.adopt(s.begin))
	}
	if !s.part {
		s.casesBound(ms, 1000)
		s.climb(ms)
	}
	s.runLanes(ms, b)
}

// slice repeats a step until it has taken so much work, has no more to do, or work must end.
func (s *search) slice(work int64, step func() bool) {
	for end := s.work() + work; s.work() < end && !s.halt() && step(); {
	}
}

// offer assembles what can be sewn from cuts and keeps it where it is worth more.
func (s *search) offer(cuts [][]cutPattern) {
	s.keep(cuts, s.m.assemble(s.m.panels(cuts), 60))
}

// keep keeps a solution where it is worth more than the best.
func (s *search) keep(cuts [][]cutPattern, sewn *sewing) {
	if sewn.value > s.sewn.value || s.cuts == nil {
		s.sewn, s.cuts, s.since = sewn, cuts, s.work()
		s.tell(s.phase)
	}
}

// panels counts what cuts give, by supply row.
func (m *model) panels(cuts [][]cutPattern) []int64 {
	out := make([]int64, len(m.supply))
	for _, list := range cuts {
		for _, c := range list {
			for _, st := range c.strips {
				for _, n := range st.counts {
					out[n.row] += int64(n.n) * int64(c.pieces)
				}
			}
		}
	}
	return out
}

// finish writes the best plan down.
func (s *search) finish() *Plan {
	s.halt()
	if s.sewn.value >= s.bound {
		s.stopped = Closed
	}
	if s.stopped == "" {
		s.stopped = StoppedByEffort
	}
	s.m.hurried = s.stopped == StoppedByPerson || s.stopped == StoppedByTime
	p := s.m.plan(s.m.move(s.m.lay(s.cuts, s.sewn)), s.sewn)
	p.Summary.WeightBound = s.weight(s.bound)
	p.Certificate = s.certificate()
	p.Summary.CasesBound = s.mostCases()
	p.Summary.Stopped = s.stopped
	p.Summary.Seconds = math.Round(s.now().Sub(s.start).Seconds()*1000) / 1000
	return p
}
