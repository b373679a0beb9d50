package planning

const (
	patience      = 20 // work that goes by without a better plan before the one in hand is stirred
	patienceTimes = 8  // that, where pieces are many, in times the work that stirring took: most work hunts
	mostStirred   = 16 // pieces that are stirred where they are many
)

// stands says whether nothing better has come of the plan in hand for long.
func (h *hunt) stands() bool {
	if h.thrift != nil {
		return false
	}
	if h.value > h.highest {
		h.highest, h.since = h.value, h.s.work()
	}
	if h.m.count() <= mostTable {
		return h.s.work()-h.since > patience
	}
	return h.s.work()-h.since > max(patience, patienceTimes*h.stirred)
}

// stir cuts many pieces anew, whatever comes of it: what is best for a few pieces after the other
// leads into plans that no few pieces lead out of. The best plan is kept by the search; where
// pieces are many it takes long to come near it again, so stirring starts from it.
func (h *hunt) stir() {
	begin := h.s.work()
	n := max(len(h.stock)*2/5, 3)
	if h.m.count() > mostTable {
		h.take(h.s.cuts, h.s.sewn)
		n = min(n, mostStirred)
	}
	free := h.pick(n)
	before := h.near.lp.Work
	ms := h.programme(free)
	ms.noise = wild(h.rng)
	defer func() { h.m.assembled += ms.lp.Work - before }()
	if ms.dive(-1, h.s.halt) {
		h.change(ms, free)
		h.value = -1
		h.better(h.m.assemble(h.lie, 20))
	}
	h.highest, h.since, h.stirred = h.value, h.s.work(), h.s.work()-begin
}
