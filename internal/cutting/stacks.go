package cutting

// class holds the stacks of one width: the best value within each height, and its last form.
type class struct {
	w     int64
	first int32 // the least point across that holds it
	pred  []int32
	stack []int64
	top   []int32
}

// stacks fills K for each width that occurs: a wider class may hold all forms of the narrower
// ones. A form worth no more than a stack that fits its place is left out, and a width of such
// forms alone.
func (p *Program) stacks(value []int64) {
	p.classes = p.classes[:0]
	var below []int64
	for k := 0; k < len(p.order); {
		w, open := p.forms[p.order[k]].W, false
		for ; k < len(p.order) && p.forms[p.order[k]].W == w; k++ {
			f := p.order[k]
			if value[f] <= 0 || p.hFirst[f] > p.top || int(p.wFirst[f]) == len(p.across) {
				continue
			}
			if below != nil && below[p.hFirst[f]] >= value[f] {
				continue
			}
			if !open {
				open = true
				below = p.open(w, f)
			}
			p.stack(f, value[f])
		}
	}
}

// open begins the class of a width from the one below and gives its stacks.
func (p *Program) open(w int64, form int32) []int64 {
	n := len(p.classes)
	if n < cap(p.classes) {
		p.classes = p.classes[:n+1]
	} else {
		p.classes = append(p.classes, class{})
	}
	c := &p.classes[n]
	if c.stack == nil {
		c.stack, c.top = make([]int64, len(p.hs)), make([]int32, len(p.hs))
	}
	c.w, c.first, c.pred = w, p.wFirst[form], p.wPred[form]
	end := p.top + 1
	if n == 0 {
		clear(c.stack[:end])
	} else {
		copy(c.stack[:end], p.classes[n-1].stack)
		copy(c.top[:end], p.classes[n-1].top)
	}
	p.Work += int64(end) / 4
	return c.stack
}

// stack lets a form into the widest class.
func (p *Program) stack(form int32, value int64) {
	c := &p.classes[len(p.classes)-1]
	pred := p.hPred[form][:p.top+1]
	first := int(p.hFirst[form])
	stack, top := c.stack[:len(pred)], c.top[:len(pred)]
	for i := first; i < len(pred); i++ {
		if v := stack[pred[i]] + value; v > stack[i] {
			stack[i], top[i] = v, form
		}
	}
	p.Work += int64(len(pred) - first)
}
