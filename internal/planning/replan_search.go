package planning

import (
	"cmp"
	"context"
	"math"
	"math/big"
	"slices"
	"time"
)

// mostTries is how many sets of kits to keep are tried at most.
const mostTries = 24

// replanning looks for the changed plan.
type replanning struct {
	ctx     context.Context
	p       *Problem
	old     *Plan
	stand   []Layout // of the old plan, what the problem still allows
	settled Settled
	o       Options
	start   time.Time
	end     time.Time // of the tries; zero for none
	last    time.Time // by o.Within, of the proof of what they found too
	whole   map[string]bool
	bound   map[string]bool // panels of settled kits that may be cut
	tries   int
	told    Progress
	most    Decimal // no plan that keeps only what has to be kept is worth more
	cases   int     // nor makes more pillowcases
}

// attempt is what came of keeping some kits.
type attempt struct {
	given   map[string]bool // kits that were given up, of those still whole
	problem *Problem
	plan    *Plan
	rests   map[string]rest
}

func newReplanning(ctx context.Context, p *Problem, old *Plan, settled Settled, o Options) *replanning {
	if o.Now == nil {
		o.Now = time.Now
	}
	r := &replanning{ctx: ctx, p: p, old: old, stand: salvaged(p, old), settled: settled, o: o}
	r.whole, r.bound = wholeKits(p, old, r.stand, settled), map[string]bool{}
	for i := range old.Kits {
		if k := &old.Kits[i]; settled.Lie && slices.Contains(settled.Kits, k.ID) {
			for _, id := range k.panels() {
				r.bound[id] = true
			}
		}
	}
	r.start = o.Now()
	if o.Within > 0 {
		r.end, r.last = r.start.Add(o.Within/10*9), r.start.Add(o.Within)
	}
	r.most, r.cases = wantedWeight(p), p.Wanted()
	return r
}

// wantedWeight is what all that is wanted is worth, rounded up to a Decimal.
func wantedWeight(p *Problem) Decimal {
	sum := new(big.Rat)
	for i := range p.Quotas {
		sum.Add(sum, new(big.Rat).Mul(p.Quotas[i].Weight.Rat(), big.NewRat(int64(p.Quotas[i].Wanted), 1)))
	}
	d, err := ParseDecimal(sum.FloatString(mostDecimals))
	if err != nil {
		return Whole(math.MaxInt64)
	}
	return d
}

// search keeps every whole kit, then looks what a plan made anew would make; where that is
// more, it looks for few kits whose giving up is enough.
func (r *replanning) search() (*attempt, error) {
	if r.settled.Whole {
		return r.try(nil, func(x Progress) bool {
			r.lower(x)
			return false
		})
	}
	best, err := r.try(nil, nil)
	if err != nil {
		return nil, err
	}
	free := r.candidates()
	if len(free) == 0 || r.over() || best.plan.Summary.Stopped == Closed && r.nothingMore(best) {
		return best, nil
	}
	anew, err := r.anew(free, best.plan.Summary.WeightMade)
	if err != nil {
		return nil, err
	}
	target := anew.plan.Summary.WeightMade
	if target.Cmp(best.plan.Summary.WeightMade) <= 0 {
		return best, nil
	}
	enough, err := r.enough(free, target, anew)
	if err != nil {
		return nil, err
	}
	return r.fewer(enough, free, target)
}

// candidates lists the kits that may be given up, the nearest to what is missing first: kits
// of the quotas that lack something, kits on the sheets of kits that broke or of those, and
// so on outwards.
func (r *replanning) candidates() []string {
	sheets := map[string][]int{} // layouts of each kit
	on := map[string]int{}
	for i := range r.old.Layouts {
		for _, x := range r.old.Layouts[i].Panels {
			on[x.ID] = i
		}
	}
	short := map[string]bool{}
	for i := range r.p.Quotas {
		q := &r.p.Quotas[i]
		n := 0
		for j := range r.old.Kits {
			if k := &r.old.Kits[j]; k.Quota == q.ID && r.whole[k.ID] {
				n += len(k.Pillowcases)
			}
		}
		if r.p.Fixed != nil {
			for j := range r.p.Fixed.Kits {
				if r.p.Fixed.Kits[j].Quota == q.ID {
					n += len(r.p.Fixed.Kits[j].Pillowcases)
				}
			}
		}
		short[q.ID] = n < q.Wanted
	}
	far := map[string]int{}
	near := map[int]bool{}
	for i := range r.old.Kits {
		k := &r.old.Kits[i]
		for _, id := range k.panels() {
			if l, ok := on[id]; ok {
				sheets[k.ID] = append(sheets[k.ID], l)
			}
		}
		if !r.whole[k.ID] {
			for _, l := range sheets[k.ID] {
				near[l] = true
			}
		}
	}
	for step := 1; len(far) < len(r.old.Kits); step++ {
		reached := len(far)
		next := map[int]bool{}
		for i := range r.old.Kits {
			k := &r.old.Kits[i]
			if far[k.ID] > 0 {
				continue
			}
			if !r.whole[k.ID] || step == 1 && short[k.Quota] || slices.ContainsFunc(sheets[k.ID], func(l int) bool { return near[l] }) {
				far[k.ID] = step
				for _, l := range sheets[k.ID] {
					next[l] = true
				}
			}
		}
		if near = next; len(far) == reached && step > 1 {
			break
		}
	}
	var list []string
	for i := range r.old.Kits {
		if k := &r.old.Kits[i]; r.whole[k.ID] && !slices.Contains(r.settled.Kits, k.ID) {
			list = append(list, k.ID)
		}
	}
	slices.SortStableFunc(list, func(a, b string) int { return cmp.Compare(cmp.Or(far[a], 1<<30), cmp.Or(far[b], 1<<30)) })
	return list
}

// nothingMore says whether every quota is filled: a plan made anew could make no more.
func (r *replanning) nothingMore(a *attempt) bool {
	for i := range r.p.Quotas {
		if q := &r.p.Quotas[i]; a.plan.Made(q.ID) < q.Wanted {
			return false
		}
	}
	return true
}

// anew keeps only what is settled. It stops once its bound says that it cannot beat what is
// made already. Its bound holds for every set of kits that is kept.
func (r *replanning) anew(free []string, made Decimal) (*attempt, error) {
	all := map[string]bool{}
	for _, id := range free {
		all[id] = true
	}
	return r.try(all, func(x Progress) bool {
		r.lower(x)
		return x.Bound.Cmp(made) <= 0
	})
}

// lower takes over the bound of a try that keeps no more than any plan here does.
func (r *replanning) lower(x Progress) {
	if x.Bound.Cmp(r.most) < 0 {
		r.most = x.Bound
	}
	if x.CasesBound > 0 {
		r.cases = min(r.cases, x.CasesBound)
	}
}

// reaching tries to reach a target while giving up these kits; it stops as soon as it has, or
// as soon as the bound says that it cannot.
func (r *replanning) reaching(given map[string]bool, target Decimal) (*attempt, error) {
	return r.try(given, func(x Progress) bool { return x.Made.Cmp(target) >= 0 || x.Bound.Cmp(target) < 0 })
}

// enough doubles the number of kits given up until the target is reached.
func (r *replanning) enough(free []string, target Decimal, anew *attempt) (*attempt, error) {
	for n := 1; n < len(free) && r.tries < mostTries/2 && !r.over(); n *= 2 {
		given := map[string]bool{}
		for _, id := range free[:n] {
			given[id] = true
		}
		a, err := r.reaching(given, target)
		if err != nil {
			return nil, err
		}
		if a.plan.Summary.WeightMade.Cmp(target) >= 0 {
			return a, nil
		}
	}
	return anew, nil
}

// fewer keeps again what need not have been given up, in parts that grow smaller.
func (r *replanning) fewer(a *attempt, free []string, target Decimal) (*attempt, error) {
	for size := (len(a.given) + 1) / 2; size > 0; size /= 2 {
		var list []string
		for _, id := range free {
			if a.given[id] {
				list = append(list, id)
			}
		}
		// From the far end: what is nearest to the trouble is kept again last.
		for to := len(list); to > 0; to -= size {
			if r.tries >= mostTries || r.over() {
				return a, nil
			}
			given := map[string]bool{}
			for id := range a.given {
				given[id] = true
			}
			for _, id := range list[max(0, to-size):to] {
				delete(given, id)
			}
			b, err := r.reaching(given, target)
			if err != nil {
				return nil, err
			}
			if b.plan.Summary.WeightMade.Cmp(target) >= 0 {
				a = b
			}
		}
	}
	return a, nil
}

func (r *replanning) over() bool {
	return r.ctx.Err() != nil || !r.end.IsZero() && !r.o.Now().Before(r.end)
}

// try plans with all whole kits fixed but those given up, until enough says so.
func (r *replanning) try(given map[string]bool, enough func(Progress) bool) (*attempt, error) {
	r.tries++
	a := &attempt{given: given}
	a.problem, a.rests = r.fixing(given)
	ctx, stop := context.WithCancel(r.ctx)
	defer stop()
	o := r.options(r.end)
	o.Progress = func(x Progress) {
		if enough != nil && enough(x) {
			stop()
		}
		r.tell(x)
	}
	var err error
	a.plan, err = Solve(ctx, a.problem, o)
	return a, err
}

// options gives those of one solve: what is left of the time until then, but never none at all.
func (r *replanning) options(until time.Time) Options {
	o := r.o
	o.oneOfMany = true
	if !until.IsZero() {
		o.Within = max(until.Sub(r.o.Now()), time.Millisecond)
	}
	return o
}

// tell passes figures on as far as they are good for all tries together: what is made never
// sinks, and the bound is that of a plan which keeps only what has to be kept.
func (r *replanning) tell(x Progress) {
	if r.o.Progress == nil {
		return
	}
	if x.Made.Cmp(r.told.Made) < 0 {
		x.Made, x.Cases = r.told.Made, r.told.Cases
	}
	x.Bound, x.CasesBound, x.Phase = r.most, r.cases, "changing"
	if x.Made == r.told.Made && x.Bound == r.told.Bound && x.Cases == r.told.Cases && x.CasesBound == r.told.CasesBound {
		return
	}
	r.told = x
	r.told.Seconds = r.o.Now().Sub(r.start).Seconds()
	r.o.Progress(r.told)
}
