package drive

import (
	"context"
	"fmt"
	"slices"
	"time"

	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/sizing"
)

// Alone is what a lot makes by itself in one size.
type Alone struct {
	Size   string
	Cases  int  // whole pillowcases, or bodies
	Bodies bool // bodies only: the cloth does not serve as trim, so cuffs come from elsewhere
	Most   int  // no cutting of it makes more
}

// aloneEffort bounds the planner for one size: a lot alone is decided at once or
// hardly ever, and somebody waits.
const aloneEffort = 60

// MakesAlone works out what cloth of one lot makes by itself, for each size. IDs
// of sizes are their names here. It fails only where the planner refuses a
// problem, which sizes and cloth that were checked never make.
func MakesAlone(ctx context.Context, cloths []Cloth, sizes []PlanSize) ([]Alone, error) {
	var out []Alone
	for _, size := range sizes {
		p, bodies := aloneProblem(cloths, size)
		if len(p.Fabrics) == 0 || p.Quotas[0].Wanted == 0 {
			out = append(out, Alone{Size: size.ID, Bodies: bodies})
			continue
		}
		plan, err := planning.Solve(ctx, p, planning.Options{Effort: aloneEffort, Within: time.Second})
		if err != nil {
			return nil, fmt.Errorf("what a lot makes alone: %w", err)
		}
		out = append(out, Alone{Size: size.ID, Cases: plan.Summary.CasesMade, Bodies: bodies, Most: plan.Summary.CasesBound})
	}
	return out, nil
}

// aloneProblem asks for as many pillowcases of one size as the cloth has area for;
// only their bodies where no cloth of the lot may be trim.
func aloneProblem(cloths []Cloth, size PlanSize) (p *planning.Problem, bodies bool) {
	trims := size.addTrims(nil)
	p = &planning.Problem{Unit: string(length.MM), Trims: map[string][]string{}, Kit: planning.KitRule{Cases: 50}}
	var groups []group
	var room length.Area
	for _, c := range cloths {
		g := c.group(trims)
		p.Fabrics = append(p.Fabrics, planning.Fabric{
			ID: c.ID, Length: mm(c.Length), Width: mm(c.Width), Pieces: c.Pieces, Group: g.id, Roles: g.roles, Turn: g.turn,
		})
		room += length.Area(c.Pieces) * area(c.Width, c.Length)
		if !slices.ContainsFunc(groups, func(o group) bool { return o.id == g.id }) {
			groups = append(groups, g)
		}
	}
	bodies = len(trims) > 0
	q := planning.Quota{ID: size.ID, Cases: []string{size.ID}, Weight: planning.Whole(1)}
	for _, g := range groups {
		q.Bodies = append(q.Bodies, g.id)
		if g.mayTrim() {
			bodies = false
		}
		for _, trim := range groups {
			if trim.mayTrim() {
				p.Trims[g.id] = append(p.Trims[g.id], trim.id)
			}
		}
	}
	one := size
	if bodies {
		one.Panels = slices.DeleteFunc(slices.Clone(size.Panels), func(p sizing.Panel) bool { return p.Role != planning.Body })
	}
	p.Cases = []planning.Case{one.asCase()}
	var each length.Area
	for _, panel := range one.Panels {
		each += length.Area(panel.Pieces) * area(panel.Around, panel.Along)
	}
	if each > 0 {
		q.Wanted = int(min(room/each, 5000))
	}
	p.Quotas = []planning.Quota{q}
	return p, bodies
}

// Cloths gives what is free of a lot as the planner sees it, identical pieces together.
func (l Lot) Cloths(pieces []Piece) []Cloth {
	parted := slices.ContainsFunc(pieces, func(p Piece) bool { return p.Kind == PieceBorder && p.Received > 0 })
	var out []Cloth
	for _, p := range pieces {
		if p.FreeLength > 0 {
			out = addCloth(out, l, p.Piece, p.Kind, p.Width, p.FreeLength, parted)
		}
	}
	return out
}

// Cloths gives the same for a lot that is being measured.
func (m MeasuredLot) Cloths() []Cloth {
	parted := slices.ContainsFunc(m.Pieces, func(p NewPiece) bool { return p.Kind == PieceBorder })
	var out []Cloth
	for i, p := range m.Pieces {
		if m.Lengths[i] > 0 {
			out = addCloth(out, m.Lot, p.Piece, p.Kind, p.Width, m.Lengths[i], parted)
		}
	}
	return out
}

func addCloth(list []Cloth, l Lot, piece int, kind PieceKind, width, long length.Length, parted bool) []Cloth {
	strip := kind == PieceBorder
	for i, c := range list {
		if c.Width == width && c.Length == long && c.Strip == strip {
			list[i].Pieces++
			return list
		}
	}
	c := Cloth{
		ID: ClothID(l.Number, piece), Pieces: 1, Width: width, Length: long, Fibre: l.Fibre, Weight: l.Weight, Washed: l.Washed,
		Print: l.Print, Turn: l.Turn, Border: l.Border, Strip: strip, TrimOK: l.TrimOK, Colours: l.Colours, Themes: l.Themes,
	}
	if parted {
		c.Border = ""
	}
	return append(list, c)
}
