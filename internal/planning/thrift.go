package planning

// thrift makes cloth cost a little, so that of plans worth the same the one that takes less
// cloth and opens fewer pieces wins. All stock together costs less than half a unit of
// weight, so weight always comes first.
type thrift struct {
	m      *model
	length [][]int64 // price units for one grid unit of length, by group and width
	open   float64   // what opening a piece costs, in units of weight
}

func (m *model) newThrift() *thrift {
	t := &thrift{m: m}
	var area, pieces float64
	for _, s := range m.stock {
		gr := m.groups[s.group]
		side := float64(gr.grid)
		for range s.pieces {
			area += float64(gr.prog.Length(s.point)) * side * float64(gr.prog.AskedWidth(s.width)) * side
		}
		pieces += float64(len(s.pieces))
	}
	if area == 0 {
		return t
	}
	each := 0.4 * float64(m.unit) / area
	t.open = 0.02 / (pieces + 1)
	for _, gr := range m.groups {
		var row []int64
		if gr.prog != nil {
			for u := range gr.prog.Widths() {
				row = append(row, int64(each*float64(gr.grid)*float64(gr.grid)*float64(gr.prog.AskedWidth(u))))
			}
		}
		t.length = append(t.length, row)
	}
	return t
}

// lengths gives the cost of length at each width of a group.
func (t *thrift) lengths(g int) []int64 {
	if t == nil {
		return nil
	}
	return t.length[g]
}

// cost gives what a pattern costs in cloth, in units of weight.
func (t *thrift) cost(u *unit, strips []*strip) float64 { return t.costOf(u.stock, strips) }

func (t *thrift) costOf(stock int, strips []*strip) float64 {
	if t == nil || len(strips) == 0 {
		return 0
	}
	st := t.m.stock[stock]
	var h int64
	for _, s := range strips {
		h += s.height
	}
	return float64(h*t.length[st.group][st.width])/float64(t.m.unit) + t.open
}

// begun gives what the strips settled on a unit cost, and opening it.
func (t *thrift) begun(u *unit) float64 {
	if t == nil {
		return 0
	}
	if len(u.begun) == 0 {
		return t.open
	}
	return t.cost(u, u.begun)
}

// figures are what decides between plans of equal weight, in order.
type figures struct {
	area   float64 // used length × width, less remnants worth keeping
	pieces int
	left   float64 // Σ (length left)²
}

// before says whether f is the better one.
func (f figures) before(o figures) bool {
	switch {
	case f.area != o.area:
		return f.area < o.area
	case f.pieces != o.pieces:
		return f.pieces < o.pieces
	}
	return f.left > o.left
}

func (m *model) judge(list []cutPiece) figures {
	keep := m.p.KeepSides()
	kw, kl := m.length(keep.Width), m.length(keep.Length)
	f := figures{pieces: len(list)}
	for i := range list {
		f.area += m.areaOf(&list[i], kw, kl)
		rest := float64(list[i].length - m.usedBy(&list[i]))
		f.left += float64(rest * rest)
	}
	return f
}

func (m *model) usedBy(c *cutPiece) int64 {
	var used int64
	for _, s := range c.pattern {
		used += s.Height(m.groups[c.group].real)
	}
	return used
}

func (m *model) areaOf(c *cutPiece, keepW, keepL int64) float64 {
	_, waste, used := c.pattern.Place(m.groups[c.group].real, c.width)
	area := float64(used) * float64(c.width)
	for _, r := range waste {
		if worthKeeping(r.W, r.H, keepW, keepL) {
			area -= float64(r.W) * float64(r.H)
		}
	}
	return area
}

// move cuts patterns from other pieces of the same group where that takes less cloth, or as
// much and leaves more length.
func (m *model) move(list []cutPiece) []cutPiece {
	if len(list) > 3000 {
		return list
	}
	keep := m.p.KeepSides()
	kw, kl := m.length(keep.Width), m.length(keep.Length)
	type place struct{ fabric, number int }
	opened := map[place]bool{}
	for _, c := range list {
		opened[place{c.fabric, c.number}] = true
	}
	for i := range list {
		c := &list[i]
		used, area := m.usedBy(c), m.areaOf(c, kw, kl)
		width := m.widthOf(c)
		for _, s := range m.groups[c.group].stock {
			for _, p := range m.stock[s].pieces {
				if opened[place{p.fabric, p.number}] || p.length < used || p.width < width {
					continue
				}
				other := cutPiece{piece: p, group: c.group, pattern: c.pattern}
				a := m.areaOf(&other, kw, kl)
				if a < area || a == area && p.length > c.length {
					delete(opened, place{c.fabric, c.number})
					opened[place{p.fabric, p.number}] = true
					*c, area = other, a
				}
			}
		}
	}
	return list
}

// widthOf gives the width that a pattern takes.
func (m *model) widthOf(c *cutPiece) int64 {
	var most int64
	for _, s := range c.pattern {
		var w int64
		for _, col := range s {
			var widest int64
			for _, f := range col {
				widest = max(widest, m.groups[c.group].real[f].W)
			}
			w += widest
		}
		most = max(most, w)
	}
	return most
}
