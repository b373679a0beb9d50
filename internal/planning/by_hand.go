package planning

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"boltward/internal/apperr"
)

// ByHand is a wish of somebody who looks at a plan: some pillowcases of a kit get one of
// their trims from other cloth.
type ByHand struct {
	Kit     string
	Cases   []int    // their places in the kit, from 0
	Role    string   // not the body
	Fabrics []string // the cloth it is to come from; pieces that are cut already first
}

// Exchanged gives the plan with the wish carried out by exchanges alone: other pillowcases,
// cut the same, give up the trim and take what they get for it. The cuts stay as they are, so
// that its bound and certificate hold. It gives nil where that cannot be, and refuses a wish
// that the problem's matching does not allow. Settled kits give nothing up.
func Exchanged(p *Problem, plan *Plan, settled Settled, w ByHand) (*Plan, error) {
	h, err := newHand(p, plan, settled, w)
	if err != nil {
		return nil, err
	}
	for _, at := range w.Cases {
		if !h.exchange(at) {
			return nil, nil
		}
	}
	h.plan.Summary.Bundles, h.plan.Summary.BundlesLeast = bundles(h.plan), 0
	return h.plan, nil
}

// Taken gives what a plan is changed from so that the wish is carried out: the kit is as it is
// wished, by exchange where that can be, else by cloth that is cut anew, else from pillowcases
// that then lack their trim and are planned again by Replan, to which the kit is settled. From
// settled pieces, and from those whose panels lie as they lie, nothing is cut anew. It is a
// conflict where too little of the cloth is left for that.
func Taken(p *Problem, plan *Plan, settled Settled, w ByHand) (*Plan, error) {
	h, err := newHand(p, plan, settled, w)
	if err != nil {
		return nil, err
	}
	var lack []int
	for _, at := range w.Cases {
		if !h.exchange(at) {
			lack = append(lack, at)
		}
	}
	for len(lack) > 0 {
		n := h.cutFor(lack)
		if n == 0 && h.take(lack[0]) {
			n = 1
		}
		if n == 0 {
			return nil, apperr.Conflict("There is too little of that cloth for it: what is left holds no %s of this size, and no pillowcase that may change has one.", w.Role)
		}
		lack = lack[n:]
	}
	return h.plan, nil
}

// hand carries a wish out on a copy of a plan.
type hand struct {
	*checker
	w     ByHand
	plan  *Plan
	kit   *Kit
	line  *Panel
	stays map[string]bool    // kits that give nothing up
	lies  map[PieceName]bool // pieces of which nothing is cut otherwise
	next  int                // of the ids of panels that are cut anew
}

func newHand(p *Problem, plan *Plan, settled Settled, w ByHand) (*hand, error) {
	h := &hand{checker: newChecker(p, plan), w: w, plan: plan.clone(), stays: map[string]bool{}, lies: map[PieceName]bool{}}
	for _, id := range settled.Kits {
		h.stays[id] = true
	}
	for _, at := range slices.Concat(settled.Pieces, settled.Laid) {
		h.lies[at] = true
	}
	if p.Fixed != nil {
		for _, l := range p.Fixed.Layouts {
			h.lies[PieceName{l.Fabric, l.Piece}] = true
		}
	}
	h.layouts()
	for i := range h.plan.Kits {
		if k := &h.plan.Kits[i]; k.ID == w.Kit {
			h.kit = k
		}
	}
	switch {
	case h.kit == nil:
		return nil, apperr.NotFound("There is no such kit in this plan.")
	case h.stays[w.Kit]:
		return nil, apperr.Conflict("This kit is begun, so that its panels are not planned otherwise any more.")
	case w.Role == Body || h.cases[h.kit.Case] == nil || h.cases[h.kit.Case].panel(w.Role) == nil:
		return nil, apperr.Invalid("role", "A pillowcase of this size has no such trim.")
	case len(w.Fabrics) == 0:
		return nil, apperr.Conflict("None of that cloth can be planned with now.")
	}
	h.line = h.cases[h.kit.Case].panel(w.Role)
	group := h.fabrics[w.Fabrics[0]].Group
	for _, at := range w.Cases {
		if at < 0 || at >= len(h.kit.Pillowcases) {
			return nil, apperr.NotFound("There is no such pillowcase in this kit.")
		}
		body := h.groupOf(h.kit.Pillowcases[at][Body])
		if body == "" {
			return nil, apperr.Conflict("The cloth of this body came up short. Change the plan first, then swap.")
		}
		if !h.goes(body, w.Role, group) {
			return nil, apperr.Conflict("That cloth is not said to go with this body. Say that the two always go together, and plans heed it.")
		}
	}
	return h, nil
}

func (p *Plan) clone() *Plan {
	c := *p
	c.Layouts = slices.Clone(p.Layouts)
	c.Kits = slices.Clone(p.Kits)
	for i := range c.Kits {
		c.Kits[i].Pillowcases = slices.Clone(c.Kits[i].Pillowcases)
		for j, one := range c.Kits[i].Pillowcases {
			c.Kits[i].Pillowcases[j] = maps.Clone(one)
		}
	}
	return &c
}

func (h *hand) groupOf(ids []string) string {
	if len(ids) == 0 || h.cut[ids[0]].fabric == nil {
		return ""
	}
	return h.cut[ids[0]].fabric.Group
}

// wished says whether all panels are of the cloth that is wished.
func (h *hand) wished(ids []string) bool {
	for _, id := range ids {
		if f := h.cut[id].fabric; f == nil || !slices.Contains(h.w.Fabrics, f.ID) {
			return false
		}
	}
	return len(ids) == h.line.Pieces
}

// given lists the pillowcases whose trim may be taken for ours: of the same cut, from the cloth
// that is wished, of the kit itself first.
func (h *hand) given(mine []int) []*map[string][]string {
	type one struct {
		at  *map[string][]string
		kit int
	}
	var list []one
	for i := range h.plan.Kits {
		k := &h.plan.Kits[i]
		spec := h.cases[k.Case]
		if h.stays[k.ID] || h.isFixedKit(k.ID) || spec == nil || spec.panel(h.w.Role) == nil || *spec.panel(h.w.Role) != *h.line {
			continue
		}
		for j := range k.Pillowcases {
			if k == h.kit && slices.Contains(mine, j) || !h.wished(k.Pillowcases[j][h.w.Role]) {
				continue
			}
			o := one{&k.Pillowcases[j], i}
			if k == h.kit {
				if h.alike(k.Pillowcases[j], k.Pillowcases[mine[0]]) {
					continue // the kit would be as it was
				}
				o.kit = -1
			}
			list = append(list, o)
		}
	}
	slices.SortStableFunc(list, func(a, b one) int { return cmp.Compare(a.kit, b.kit) })
	out := make([]*map[string][]string, len(list))
	for i := range list {
		out[i] = list[i].at
	}
	return out
}

// alike says whether two pillowcases have all but the trim in question from the same cloth.
func (h *hand) alike(a, b map[string][]string) bool {
	for role := range a {
		if role != h.w.Role && (len(a[role]) == 0 || len(b[role]) == 0 || h.cut[a[role][0]].fabric != h.cut[b[role][0]].fabric) {
			return false
		}
	}
	return true
}

// exchange lets another pillowcase give its trim for ours, where ours goes with its body.
func (h *hand) exchange(at int) bool {
	ours := h.kit.Pillowcases[at]
	if h.wished(ours[h.w.Role]) {
		return true
	}
	group := h.groupOf(ours[h.w.Role])
	for _, o := range h.given(h.w.Cases) {
		theirs := *o
		if h.goes(h.groupOf(theirs[Body]), h.w.Role, group) {
			ours[h.w.Role], theirs[h.w.Role] = theirs[h.w.Role], ours[h.w.Role]
			return true
		}
	}
	return false
}

// take lets a pillowcase of another kit go without, so that it is planned anew; the one whose
// kit stands last in the plan.
func (h *hand) take(at int) bool {
	var own []int
	for i := range h.kit.Pillowcases {
		own = append(own, i)
	}
	others := h.given(own)
	if len(others) == 0 {
		return false
	}
	o := *others[len(others)-1]
	h.kit.Pillowcases[at][h.w.Role] = o[h.w.Role]
	delete(o, h.w.Role)
	return true
}

// cutFor lays trims for some of the pillowcases behind what is cut of a piece already, side by
// side as far as it is wide, and says for how many there was room.
func (h *hand) cutFor(mine []int) int {
	m := &model{p: h.p, places: finest(h.p, h.plan)}
	for n := len(mine); n > 0; n-- {
		for _, id := range h.w.Fabrics {
			f := h.fabrics[id]
			for piece := 1; f != nil && slices.Contains(f.Roles, h.w.Role) && piece <= f.Pieces; piece++ {
				if !h.lies[PieceName{id, piece}] && h.lay(m, f, piece, mine[:n]) {
					return n
				}
			}
		}
	}
	return 0
}

// lay cuts the trims of some pillowcases from one piece, if it holds them.
func (h *hand) lay(m *model, f *Fabric, piece int, mine []int) bool {
	at := slices.IndexFunc(h.plan.Layouts, func(l Layout) bool { return l.Fabric == f.ID && l.Piece == piece })
	l := Layout{Fabric: f.ID, Piece: piece}
	if at >= 0 {
		l = h.plan.Layouts[at]
	}
	w, ht := h.line.Around, h.line.Along
	if f.Turn == Along || f.Turn == Either && m.length(w) > m.length(f.Width) {
		w, ht = ht, w
	}
	across := m.length(f.Width) / max(1, m.length(w))
	panels := int64(len(mine) * h.line.Pieces)
	if across < 1 || m.length(l.Used)+(panels+across-1)/across*m.length(ht) > m.length(f.Length) {
		return false
	}
	from := m.length(l.Used)
	l.Panels = slices.Clone(l.Panels)
	for i := range panels {
		h.next++
		id := fmt.Sprintf("by hand %d", h.next)
		for _, taken := h.cut[id]; taken; _, taken = h.cut[id] {
			id += "'"
		}
		x := PlacedPanel{ID: id, Role: h.w.Role, Case: h.kit.Case, X: m.decimal(i % across * m.length(w)), Y: m.decimal(from + i/across*m.length(ht)), W: w, H: ht}
		l.Panels = append(l.Panels, x)
		l.Used = m.decimal(from + (i/across+1)*m.length(ht))
		one := h.kit.Pillowcases[mine[i/int64(h.line.Pieces)]]
		if i%int64(h.line.Pieces) == 0 {
			one[h.w.Role] = nil
		}
		one[h.w.Role] = append(one[h.w.Role], id)
		h.checker.cut[id] = cutPanel{f, piece, kind{h.w.Role, h.line.Around, h.line.Along}}
	}
	if at >= 0 {
		h.plan.Layouts[at] = l
	} else {
		h.plan.Layouts = append(h.plan.Layouts, l)
	}
	return true
}
