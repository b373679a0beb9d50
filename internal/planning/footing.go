package planning

// footing remembers what stood in the basis of the last small programme of a kind: from there
// the next, which is much like it, has less than half the way to its optimum.
type footing struct {
	known                        bool
	makes, supply, trims, quotas []bool
	choices                      [][]bool
}

func newFooting(m *model) *footing {
	f := &footing{
		makes: make([]bool, len(m.makes)), supply: make([]bool, len(m.supply)),
		trims: make([]bool, len(m.trims)), quotas: make([]bool, len(m.quotas)), choices: make([][]bool, len(m.trims)),
	}
	for t := range f.choices {
		f.choices[t] = make([]bool, len(m.trims[t].rows))
	}
	return f
}

// begin lets a programme begin there, with some variables of its own.
func (f *footing) begin(ms *master, own []int) {
	if !f.known {
		return
	}
	f.each(ms, func(v int, basic *bool) {
		if *basic {
			own = append(own, v)
		}
	})
	ms.lp.Begin(own)
}

// note takes a programme's basis for the next to begin from.
func (f *footing) note(ms *master) {
	f.known = true
	f.each(ms, func(v int, basic *bool) { *basic = ms.lp.Basic(v) })
}

// each goes through the variables that small programmes have in common.
func (f *footing) each(ms *master, do func(v int, basic *bool)) {
	rows := func(at []int, basic []bool) {
		for i, row := range at {
			if row >= 0 {
				do(ms.lp.RowVar(row), &basic[i])
			}
		}
	}
	rows(ms.supplyAt, f.supply)
	rows(ms.trimAt, f.trims)
	rows(ms.quotaAt, f.quotas)
	vars := func(at []int, basic []bool) {
		for i, v := range at {
			if v >= 0 {
				do(v, &basic[i])
			}
		}
	}
	vars(ms.y, f.makes)
	for t := range ms.z {
		vars(ms.z[t], f.choices[t])
	}
}
