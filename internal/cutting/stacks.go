package cutting

import "slices"

// takeItems keeps the forms that may be worth cutting: of those that lie inside another of
// at least their value only the smaller one.
func (p *Program) takeItems(value []int64) {
	p.items = p.items[:0]
	widest, longest := p.ws[len(p.ws)-1], p.hs[len(p.hs)-1]
	for i, f := range p.forms {
		if value[i] > 0 && f.W <= widest && f.H <= longest {
			p.items = append(p.items, item{int32(i), value[i]})
		}
	}
	slices.SortFunc(p.items, func(a, b item) int {
		fa, fb := p.forms[a.form], p.forms[b.form]
		switch {
		case fa.W != fb.W:
			return cmpInt(fa.W, fb.W)
		case fa.H != fb.H:
			return cmpInt(fa.H, fb.H)
		case a.value != b.value:
			return cmpInt(b.value, a.value)
		}
		return cmpInt(int64(a.form), int64(b.form))
	})
	keep := p.items[:0]
	for _, it := range p.items {
		f, beaten := p.forms[it.form], false
		for _, k := range keep {
			if p.forms[k.form].H <= f.H && k.value >= it.value {
				beaten = true
				break
			}
		}
		if !beaten {
			keep = append(keep, it)
		}
	}
	p.items = keep
}

func cmpInt(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// stacks fills K for each width that occurs: a wider class may hold all forms of the narrower ones.
func (p *Program) stacks() {
	n := 0
	for k := 0; k < len(p.items); {
		w := p.forms[p.items[k].form].W
		if n == len(p.classes) {
			if n < cap(p.classes) {
				p.classes = p.classes[:n+1]
			} else {
				p.classes = append(p.classes, class{})
			}
		}
		c := &p.classes[n]
		if c.stack == nil {
			c.stack, c.top = make([]int64, len(p.hs)), make([]int32, len(p.hs))
		}
		c.w, c.pred = w, p.wPred[p.items[k].form]
		if n == 0 {
			clear(c.stack)
		} else {
			copy(c.stack, p.classes[n-1].stack)
			copy(c.top, p.classes[n-1].top)
		}
		for ; k < len(p.items) && p.forms[p.items[k].form].W == w; k++ {
			it := p.items[k]
			pred := p.hPred[it.form]
			for i := floorIndex(p.hs, p.forms[it.form].H); int(i) < len(p.hs); i++ {
				if v := c.stack[pred[i]] + it.value; v > c.stack[i] {
					c.stack[i], c.top[i] = v, it.form
				}
			}
			p.Work += int64(len(p.hs))
		}
		n++
	}
	p.classes = p.classes[:n]
}
