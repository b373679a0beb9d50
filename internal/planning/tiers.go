package planning

import "slices"

// Where one pillowcase is worth several of the next kind, a dive that weighs all of them together
// settles cloth for many light ones and lacks it for a heavy one in the end. So what is heaviest
// is planned first, by a search of its own that knows nothing else, then together with the next
// kind, and so on: each begins with the plan of the one before, the whole search with the last.

// steeper is how many times the weight of the next a pillowcase must have to be planned first.
const steeper = 4

// tiers lists the weights that are planned first, the heaviest first.
func (m *model) tiers() []int64 {
	var all, out []int64
	for i := range m.makes {
		all = append(all, m.quotas[m.makes[i].quota].weight)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	for i := len(all) - 1; i > 0; i-- {
		if all[i] >= steeper*all[i-1] {
			out = append(out, all[i])
		}
	}
	return out
}

// climb plans the heavier tiers, each with a share of the work, and takes over what comes of it.
// Where the relaxation, which a tier has one of its own of, takes most of a share, nothing is left to
// search with, and the tier's first plan is no better than what comes of everything together.
func (s *search) climb(ms *master) {
	relaxed := s.work()
	for _, least := range s.m.tiers() {
		share := (s.effort - s.work()) / tierShare
		if s.halt() || share < 2*relaxed {
			return
		}
		t := s.above(least)
		t.begin = s.cuts
		t.effort = share
		t.run()
		s.m.assembled += t.work() * 1_000_000
		if t.cuts != nil {
			s.offer(ms.adopt(t.cuts))
		}
	}
}

// tierShare of the work that is left goes to a tier at most.
const tierShare = 6

// above is a search for pillowcases of a weight or more; of others none are asked for beyond
// those that are fixed, and their weights count for nothing in what weights can add up to.
func (s *search) above(least int64) *search {
	p := *s.m.p
	p.Quotas = slices.Clone(p.Quotas)
	lightest := s.m.p.Quotas[slices.IndexFunc(s.m.quotas, func(q modelQuota) bool { return q.weight == least })].Weight
	for q := range p.Quotas {
		if s.m.quotas[q].weight < least {
			p.Quotas[q].Wanted, p.Quotas[q].Weight = s.m.fixed[q], lightest
		}
	}
	m, err := newModel(&p)
	if err != nil {
		// The same problem has been laid out without a fault; this asks for less.
		panic(err)
	}
	t := newSearch(s.ctx, m, Options{Within: s.o.Within, Now: s.now})
	t.start, t.part, t.more = s.start, true, 0
	return t
}
