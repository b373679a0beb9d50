package planning

import (
	"math/big"
	"slices"
	"strconv"

	"boltward/internal/cutting"
)

// cutPiece is a piece with the pattern cut from it.
type cutPiece struct {
	piece
	group   int
	pattern cutting.Pattern
}

// lay gives the patterns of a solution to pieces, drops every panel that nothing is sewn
// from and every strip that is left empty.
func (m *model) lay(cuts [][]cutPattern, s *sewing) []cutPiece {
	pieces := 0
	for _, patterns := range cuts {
		for _, c := range patterns {
			pieces += c.pieces
		}
	}
	out := make([]cutPiece, 0, pieces)
	for i, patterns := range cuts {
		next := 0
		for _, c := range patterns {
			for range c.pieces {
				p := cutPiece{piece: m.stock[i].pieces[next], group: m.stock[i].group, pattern: make(cutting.Pattern, 0, len(c.strips))}
				for _, st := range c.strips {
					p.pattern = append(p.pattern, cloneStrip(st.layout))
				}
				out = append(out, p)
				next++
			}
		}
	}
	return m.dropSurplus(out, m.needs(s))
}

func cloneStrip(s cutting.Strip) cutting.Strip {
	out := make(cutting.Strip, len(s))
	for i, c := range s {
		out[i] = slices.Clone(c)
	}
	return out
}

// dropSurplus takes out panels beyond what is needed: whole strips first, the largest ones,
// then columns, then single panels.
func (m *model) dropSurplus(list []cutPiece, need []int64) []cutPiece {
	surplus := make([]int64, len(m.supply))
	for r := range surplus {
		surplus[r] = m.supply[r].given - need[r]
	}
	for _, p := range list {
		for _, s := range p.pattern {
			for _, c := range s {
				for _, f := range c {
					surplus[m.groups[p.group].row[f]]++
				}
			}
		}
	}
	type place struct {
		piece, strip int
		area         float64
	}
	var places []place
	for i, p := range list {
		for j, s := range p.pattern {
			places = append(places, place{i, j, float64(s.Height(m.groups[p.group].real)) * float64(p.width)})
		}
	}
	slices.SortStableFunc(places, func(a, b place) int {
		switch {
		case a.area > b.area:
			return -1
		case a.area < b.area:
			return 1
		}
		return 0
	})
	for _, at := range places {
		p := &list[at.piece]
		if m.takeOut(p.group, p.pattern[at.strip], surplus) {
			p.pattern[at.strip] = nil
		}
	}
	for _, at := range places {
		p := &list[at.piece]
		p.pattern[at.strip] = m.thin(p.group, p.pattern[at.strip], surplus)
	}
	kept := list[:0]
	for _, p := range list {
		p.pattern = slices.DeleteFunc(p.pattern, func(s cutting.Strip) bool { return len(s) == 0 })
		if len(p.pattern) > 0 {
			kept = append(kept, p)
		}
	}
	return kept
}

// takeOut counts all panels of a strip out of the surplus, or none where one is needed.
func (m *model) takeOut(g int, s cutting.Strip, surplus []int64) bool {
	row := m.groups[g].row
	ok := true
	for _, c := range s {
		for _, f := range c {
			surplus[row[f]]--
			ok = ok && surplus[row[f]] >= 0
		}
	}
	if ok {
		return true
	}
	for _, c := range s {
		for _, f := range c {
			surplus[row[f]]++
		}
	}
	return false
}

// thin drops surplus columns, then surplus panels, of a strip.
func (m *model) thin(g int, s cutting.Strip, surplus []int64) cutting.Strip {
	row := m.groups[g].row
	s = slices.DeleteFunc(s, func(c cutting.Column) bool { return m.takeOut(g, cutting.Strip{c}, surplus) })
	for i := range s {
		s[i] = slices.DeleteFunc(s[i], func(f int32) bool {
			if surplus[row[f]] <= 0 {
				return false
			}
			surplus[row[f]]--
			return true
		})
	}
	return slices.DeleteFunc(s, func(c cutting.Column) bool { return len(c) == 0 })
}

// plan writes a solution down: layouts, kits, figures. Bounds and the reason for stopping
// are for the caller to fill in.
func (m *model) plan(list []cutPiece, s *sewing) *Plan {
	p := &Plan{Unit: m.p.Unit, Layouts: []Layout{}, Kits: []Kit{}}
	slices.SortFunc(list, func(a, b cutPiece) int {
		return compare(int64(a.fabric), int64(b.fabric), int64(a.number), int64(b.number))
	})
	t := newTable(m)
	if f := m.p.Fixed; f != nil {
		p.Layouts = append(p.Layouts, f.Layouts...)
		p.Kits = append(p.Kits, f.Kits...)
	}
	p.Layouts = slices.Grow(p.Layouts, len(list))
	for i := range list {
		p.Layouts = append(p.Layouts, t.layout(len(p.Layouts), &list[i]))
	}
	p.Kits = append(p.Kits, t.kits(s)...)
	m.figures(p)
	p.Summary.Bundles = t.total
	if m.p.Fixed != nil {
		p.Summary.Bundles = bundles(p)
	}
	p.Summary.BundlesLeast = min(p.Summary.Bundles, p.Summary.Bundles-t.total+t.least)
	return p
}

func (m *model) decimal(n int64) Decimal { return scaled(n, m.places) }

// layout writes down how one piece is cut and lays its panels on the table.
func (t *table) layout(number int, c *cutPiece) Layout {
	m := t.m
	gr := m.groups[c.group]
	f := &m.p.Fabrics[c.fabric]
	panels, waste, used := c.pattern.Place(gr.real, c.width)
	l := Layout{Fabric: f.ID, Piece: c.number, Used: m.decimal(used)}
	l.Panels = make([]PlacedPanel, 0, len(panels))
	on := f.ID + "/" + strconv.Itoa(c.number) + "/"
	for i, x := range panels {
		row := gr.row[x.Form]
		k := &m.kinds[gr.kind[x.Form]]
		id := t.name(on + strconv.Itoa(i+1))
		t.put(row, number, id)
		l.Panels = append(l.Panels, PlacedPanel{
			ID: id, Role: k.role, Case: m.caseOf(k.kind),
			X: m.decimal(x.X), Y: m.decimal(x.Y), W: m.decimal(x.W), H: m.decimal(x.H),
		})
	}
	keep := m.p.KeepSides()
	for _, r := range waste {
		if worthKeeping(r.W, r.H, m.length(keep.Width), m.length(keep.Length)) {
			l.Remnants = append(l.Remnants, Remnant{m.decimal(r.X), m.decimal(r.Y), m.decimal(r.W), m.decimal(r.H)})
		}
	}
	return l
}

func (m *model) caseOf(k kind) string {
	for i := range m.p.Cases {
		if l := m.p.Cases[i].panel(k.role); l != nil && l.Around == k.around && l.Along == k.along {
			return m.p.Cases[i].ID
		}
	}
	return ""
}

// figures fills in what the plan makes and the figures that decide between equals.
func (m *model) figures(p *Plan) {
	made := map[string]int{}
	for i := range p.Kits {
		made[p.Kits[i].Quota] += len(p.Kits[i].Pillowcases)
	}
	p.Quotas = make([]QuotaMade, 0, len(m.p.Quotas))
	var weight int64
	for i := range m.p.Quotas {
		n := made[m.p.Quotas[i].ID]
		p.Quotas = append(p.Quotas, QuotaMade{m.p.Quotas[i].ID, n})
		weight += int64(n) * m.quotas[i].weight
		p.Summary.CasesMade += n
	}
	p.Summary.WeightMade = m.weightDecimal(weight)
	p.Summary.PiecesOpened = len(p.Layouts)
	area := new(big.Int)
	left := new(big.Int)
	widths, lengths := map[string]int64{}, map[string]int64{}
	for i := range m.p.Fabrics {
		f := &m.p.Fabrics[i]
		widths[f.ID], lengths[f.ID] = m.length(f.Width), m.length(f.Length)
	}
	for _, l := range p.Layouts {
		area.Add(area, new(big.Int).Mul(big.NewInt(widths[l.Fabric]), big.NewInt(m.length(l.Used))))
		rest := big.NewInt(lengths[l.Fabric] - m.length(l.Used))
		left.Add(left, rest.Mul(rest, rest))
		for _, r := range l.Remnants {
			area.Sub(area, new(big.Int).Mul(big.NewInt(m.length(r.W)), big.NewInt(m.length(r.H))))
		}
	}
	p.Summary.AreaUsed, p.Summary.LeftSquares = areaDecimal(area, m.places), areaDecimal(left, m.places)
}

// weightDecimal turns a whole number of weight units into the problem's weights.
func (m *model) weightDecimal(n int64) Decimal {
	hi := new(big.Int).Mul(big.NewInt(n), big.NewInt(m.weight))
	return exactDecimal(hi, m.wp)
}
