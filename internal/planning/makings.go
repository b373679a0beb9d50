package planning

// takeMakings lists every way to fill a quota that the supplies allow, and the trimmings they share.
func (m *model) takeMakings() {
	rowOf := map[[2]int]int{}
	for r, s := range m.supply {
		rowOf[[2]int{s.group, s.kind}] = r
	}
	groupOf := map[string]int{}
	for g, gr := range m.groups {
		groupOf[gr.name] = g
	}
	specOf := map[string]int{}
	for i := range m.p.Cases {
		specOf[m.p.Cases[i].ID] = i
	}
	trims := make([]map[string][]int, len(m.groups)) // trim groups of each body group by role
	for g, gr := range m.groups {
		trims[g] = map[string][]int{}
		for _, k := range m.kinds {
			if _, done := trims[g][k.role]; done || k.role == Body {
				continue
			}
			trims[g][k.role] = nil
			for _, name := range asSet(m.p.Trimming(gr.name, k.role)) {
				if t, known := groupOf[name]; known {
					trims[g][k.role] = append(trims[g][k.role], t)
				}
			}
		}
	}
	shared := map[trimKey]int{}
	for q := range m.p.Quotas {
		if m.quotas[q].wanted <= 0 {
			continue
		}
		for _, c := range unique(m.p.Quotas[q].Cases) {
			for _, b := range unique(m.p.Quotas[q].Bodies) {
				if g, known := groupOf[b]; known {
					m.addMaking(q, specOf[c], g, trims[g], rowOf, shared)
				}
			}
		}
	}
	m.capWanted()
	for i := range m.makes {
		for _, t := range m.makes[i].trims {
			m.trims[t].most += m.quotas[m.makes[i].quota].wanted
			m.trims[t].cap += m.quotas[m.makes[i].quota].most
		}
	}
	m.takeBatches()
}

type trimKey struct {
	body, kind int
	count      int64
}

func (m *model) addMaking(q, spec, g int, trims map[string][]int, rowOf map[[2]int]int, shared map[trimKey]int) {
	mk := making{quota: q, spec: spec, group: g}
	body := m.p.Cases[spec].panel(Body)
	row, ok := rowOf[[2]int{g, m.kindOf(kind{Body, body.Around, body.Along})}]
	if !ok {
		return
	}
	mk.uses = append(mk.uses, use{row, int64(body.Pieces)})
	var choices []trimming
	for _, l := range m.p.Cases[spec].Panels {
		if l.Role == Body {
			continue
		}
		k := m.kindOf(kind{l.Role, l.Around, l.Along})
		t := trimming{body: g, kind: k, count: int64(l.Pieces)}
		for _, h := range trims[l.Role] {
			if row, ok := rowOf[[2]int{h, k}]; ok {
				t.rows = append(t.rows, row)
			}
		}
		switch len(t.rows) {
		case 0:
			return
		case 1:
			mk.uses = append(mk.uses, use{t.rows[0], t.count})
		default:
			choices = append(choices, t)
		}
	}
	for _, t := range choices {
		key := trimKey{t.body, t.kind, t.count}
		i, known := shared[key]
		if !known {
			i = len(m.trims)
			shared[key] = i
			m.trims = append(m.trims, t)
		}
		mk.trims = append(mk.trims, i)
	}
	m.makes = append(m.makes, mk)
}

// capWanted notes how much of a quota all fabric could hold by area: more than any plan makes,
// so it bends no bound, and it keeps the programme's numbers small where a million is wanted.
func (m *model) capWanted() {
	most := make([]float64, len(m.supply))
	for _, s := range m.stock {
		n := m.mostPanels(s) * float64(len(s.pieces))
		seen := map[int]bool{}
		for _, r := range m.groups[s.group].row {
			if !seen[r] {
				seen[r] = true
				most[r] += n
			}
		}
	}
	for q := range m.quotas {
		var sum float64
		seen := map[int]bool{}
		for _, mk := range m.makes {
			if body := mk.uses[0].row; mk.quota == q && !seen[body] {
				seen[body] = true
				sum += most[body] + float64(m.supply[body].given)
			}
		}
		m.quotas[q].most = min(m.quotas[q].wanted, int64(sum)+1)
	}
}

// unique keeps the first of each name, in order.
func unique(list []string) []string {
	seen := map[string]bool{}
	var out []string
	for _, s := range list {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}

type sparePanel struct {
	id, group string
	kind      kind
	layout    int
}

// spare lists the panels of fixed layouts that no fixed kit holds, in order.
func spare(p *Problem) []sparePanel {
	if p.Fixed == nil {
		return nil
	}
	held := map[string]bool{}
	for _, k := range p.Fixed.Kits {
		for _, one := range k.Pillowcases {
			for _, ids := range one {
				for _, id := range ids {
					held[id] = true
				}
			}
		}
	}
	groups := map[string]string{}
	for i := range p.Fabrics {
		groups[p.Fabrics[i].ID] = p.Fabrics[i].Group
	}
	var out []sparePanel
	for i, l := range p.Fixed.Layouts {
		for _, x := range l.Panels {
			if c := p.CaseByID(x.Case); !held[x.ID] && c != nil && c.panel(x.Role) != nil {
				line := c.panel(x.Role)
				out = append(out, sparePanel{x.ID, groups[l.Fabric], kind{x.Role, line.Around, line.Along}, i})
			}
		}
	}
	return out
}
