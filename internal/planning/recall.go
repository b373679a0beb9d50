package planning

import (
	"slices"

	"boltward/internal/cutting"
)

// recalled reads a plan's layouts back into patterns of the model's pieces. Layouts that the
// model does not know (pieces fixed or gone) are left out.
func (m *model) recalled(plan *Plan) []cutPiece {
	index := map[string]int{}
	for i := range m.p.Fabrics {
		index[m.p.Fabrics[i].ID] = i
	}
	type place struct{ fabric, number int }
	known := map[place]cutPiece{}
	for _, st := range m.stock {
		for _, p := range st.pieces {
			known[place{p.fabric, p.number}] = cutPiece{piece: p, group: st.group}
		}
	}
	var out []cutPiece
	for i := range plan.Layouts {
		l := &plan.Layouts[i]
		f, ok := index[l.Fabric]
		c, free := known[place{f, l.Piece}]
		if !ok || !free {
			continue
		}
		if c.pattern, ok = m.patternOf(c.group, l); ok {
			out = append(out, c)
		}
	}
	return out
}

// patternOf parts a layout into strips, columns and forms of a group; ok is false where it
// holds a panel that the group has no form for.
func (m *model) patternOf(g int, l *Layout) (cutting.Pattern, bool) {
	var panels []cutting.Placed
	for i := range l.Panels {
		x := &l.Panels[i]
		r := cutting.Rect{X: m.length(x.X), Y: m.length(x.Y), W: m.length(x.W), H: m.length(x.H)}
		f := m.formOf(g, x, r)
		if f < 0 {
			return nil, false
		}
		panels = append(panels, cutting.Placed{Form: int32(f), Rect: r})
	}
	var p cutting.Pattern
	for _, strip := range parted(panels, true) {
		var s cutting.Strip
		for _, column := range parted(strip, false) {
			slices.SortFunc(column, func(a, b cutting.Placed) int { return compare(a.Y, b.Y) })
			var c cutting.Column
			for _, x := range column {
				c = append(c, x.Form)
			}
			s = append(s, c)
		}
		p = append(p, s)
	}
	return p, true
}

func (m *model) formOf(g int, x *PlacedPanel, r cutting.Rect) int {
	c := m.p.CaseByID(x.Case)
	if c == nil || c.panel(x.Role) == nil {
		return -1
	}
	k := m.kindOf(kind{x.Role, c.panel(x.Role).Around, c.panel(x.Role).Along})
	for i, f := range m.groups[g].real {
		if m.groups[g].kind[i] == k && f.W == r.W && f.H == r.H {
			return i
		}
	}
	return -1
}

// parted splits panels by the cuts that part them all: across the width or along the length.
func parted(panels []cutting.Placed, across bool) [][]cutting.Placed {
	from := func(p cutting.Placed) (int64, int64) {
		if across {
			return p.Y, p.Y + p.H
		}
		return p.X, p.X + p.W
	}
	panels = slices.Clone(panels)
	slices.SortStableFunc(panels, func(a, b cutting.Placed) int {
		la, _ := from(a)
		lb, _ := from(b)
		return compare(la, lb)
	})
	var out [][]cutting.Placed
	var end int64
	for i, p := range panels {
		lo, hi := from(p)
		if i == 0 || lo >= end {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], p)
		end = max(end, hi)
	}
	return out
}
