package drive

import (
	"cmp"
	"fmt"
	"slices"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// Side is a length on a sheet.
type Side = length.Length

// Place is a rectangle on a sheet: X and W across the width, Y and H along the
// length from the squared end.
type Place struct {
	X Side `db:"x"`
	Y Side `db:"y"`
	W Side `db:"w"`
	H Side `db:"h"`
}

// Panel is one panel of a sheet and the pillowcase it is for. Panels are
// numbered in cutting order.
type Panel struct {
	Panel int    `db:"panel"`
	Role  string `db:"role"`
	Size  int64  `db:"size"`
	Place
	Kit        KitRef `db:"-"`
	Pillowcase int    `db:"pillowcase"` // of its kit, from 1
	Gone       bool   `db:"-"`          // it is cut and lies there no more
}

// Remnant is a rectangle inside the used part that is worth keeping.
type Remnant struct {
	Remnant int `db:"remnant"`
	Place
	Label    int  `db:"label"`     // the number of the piece of the same lot that it is to be
	NewPiece *int `db:"new_piece"` // that piece, once it is cut
}

// CutItem is what comes out of a cut: a panel or a remnant, as the number that is not 0.
type CutItem struct {
	Place
	Panel   int
	Remnant int
}

// CutColumn lies between two cuts along the length, CutItems one after the other in it.
type CutColumn struct {
	X, W  Side
	Items []CutItem
}

// CutStrip is cut off across the full width; its columns lie side by side.
type CutStrip struct {
	Y, H    Side
	Columns []CutColumn
}

// CutOrder parts a sheet as it is cut: strips across the full width from the
// squared end on, each along into columns, each column across. It is right for
// every layout that the planner's check passes.
func CutOrder(panels []Panel, remnants []Remnant) []CutStrip {
	var items []CutItem
	for _, p := range panels {
		items = append(items, CutItem{Place: p.Place, Panel: p.Panel})
	}
	for _, r := range remnants {
		items = append(items, CutItem{Place: r.Place, Remnant: r.Remnant})
	}
	along := func(i CutItem) (Side, Side) { return i.Y, i.Y + i.H }
	across := func(i CutItem) (Side, Side) { return i.X, i.X + i.W }
	var strips []CutStrip
	for _, s := range parts(items, along) {
		strip := CutStrip{Y: s.from, H: s.to - s.from}
		for _, c := range parts(s.items, across) {
			column := CutColumn{X: c.from, W: c.to - c.from, Items: c.items}
			slices.SortStableFunc(column.Items, func(a, b CutItem) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X)) })
			strip.Columns = append(strip.Columns, column)
		}
		strips = append(strips, strip)
	}
	return strips
}

type part struct {
	from, to Side
	items    []CutItem
}

// parts groups items between which no straight cut of this direction passes.
func parts(items []CutItem, span func(CutItem) (Side, Side)) []part {
	items = slices.Clone(items)
	slices.SortStableFunc(items, func(a, b CutItem) int {
		x, _ := span(a)
		y, _ := span(b)
		return cmp.Compare(x, y)
	})
	var list []part
	for _, i := range items {
		from, to := span(i)
		if n := len(list); n > 0 && from < list[n-1].to {
			list[n-1].to = max(list[n-1].to, to)
			list[n-1].items = append(list[n-1].items, i)
			continue
		}
		list = append(list, part{from, to, []CutItem{i}})
	}
	return list
}

// LaidOut is how a plan would cut one piece, with its kits numbered from 1.
type LaidOut struct {
	NewSheet
	Cloth  string // the piece's id
	Width  Side
	Length Side
	Turn   planning.Turn
}

// LayOut gives a plan's layouts as the sheets they would become, in the order of
// lots and pieces.
func LayOut(problem *planning.Problem, plan *planning.Plan) ([]LaidOut, error) {
	a := Accepting{FirstNew: PlanNumbers{Kit: 1}, Problem: problem, Plan: plan}
	_, panelOf, err := a.kits()
	if err != nil {
		return nil, err
	}
	fabrics := map[string]planning.Fabric{}
	for _, f := range problem.Fabrics {
		fabrics[f.ID] = f
	}
	list := make([]LaidOut, len(plan.Layouts))
	for i, l := range plan.Layouts {
		f := fabrics[l.Fabric]
		out := LaidOut{Cloth: l.Fabric, Turn: f.Turn}
		where := Shelved{}
		if where.Lot, where.Piece, err = ParseClothID(l.Fabric); err != nil {
			return nil, err
		}
		if out.NewSheet, err = newSheet(0, where, l, panelOf); err != nil {
			return nil, err
		}
		if out.Width, err = side(f.Width); err != nil {
			return nil, fmt.Errorf("piece %s: %w", l.Fabric, err)
		}
		if out.Length, err = side(f.Length); err != nil {
			return nil, fmt.Errorf("piece %s: %w", l.Fabric, err)
		}
		list[i] = out
	}
	slices.SortFunc(list, func(a, b LaidOut) int {
		return Shelved{Lot: a.Lot, Piece: a.Piece}.compare(Shelved{Lot: b.Lot, Piece: b.Piece})
	})
	return list, nil
}

func newSheet(number int64, cloth Shelved, l planning.Layout, panelOf map[string]Panel) (NewSheet, error) {
	sheet := NewSheet{Number: number, Lot: cloth.Lot, Piece: cloth.Piece}
	var err error
	if sheet.Used, err = side(l.Used); err != nil {
		return sheet, fmt.Errorf("sheet of %s: %w", l.Fabric, err)
	}
	for _, laid := range l.Panels {
		p := panelOf[laid.ID]
		if p.Place, err = place(laid.X, laid.Y, laid.W, laid.H); err != nil {
			return sheet, fmt.Errorf("sheet of %s: %w", l.Fabric, err)
		}
		sheet.Panels = append(sheet.Panels, p)
	}
	for i, r := range l.Remnants {
		at, err := place(r.X, r.Y, r.W, r.H)
		if err != nil {
			return sheet, fmt.Errorf("sheet of %s: %w", l.Fabric, err)
		}
		sheet.Remnants = append(sheet.Remnants, Remnant{Remnant: i + 1, Place: at})
	}
	numberInCuttingOrder(&sheet)
	return sheet, nil
}

// numberInCuttingOrder numbers the panels and remnants of a sheet as they come off the table.
func numberInCuttingOrder(sheet *NewSheet) {
	for i := range sheet.Panels {
		sheet.Panels[i].Panel = i + 1
	}
	for i := range sheet.Remnants {
		sheet.Remnants[i].Remnant = i + 1
	}
	var panels []Panel
	var remnants []Remnant
	for _, strip := range CutOrder(sheet.Panels, sheet.Remnants) {
		for _, column := range strip.Columns {
			for _, item := range column.Items {
				if item.Panel > 0 {
					p := sheet.Panels[item.Panel-1]
					p.Panel = len(panels) + 1
					panels = append(panels, p)
				} else {
					r := sheet.Remnants[item.Remnant-1]
					r.Remnant = len(remnants) + 1
					remnants = append(remnants, r)
				}
			}
		}
	}
	sheet.Panels, sheet.Remnants = panels, remnants
}

// side reads a length of a plan, which is in millimetres.
func side(d planning.Decimal) (Side, error) {
	l, _, err := length.ParseWritten(d.String(), length.MM, length.Down)
	if err != nil {
		return 0, err
	}
	if mm(l) != d {
		return 0, fmt.Errorf("%s mm is finer than cloth is measured", d)
	}
	return l, nil
}

func place(x, y, w, h planning.Decimal) (Place, error) {
	var p Place
	var err error
	for _, s := range []struct {
		into *Side
		from planning.Decimal
	}{{&p.X, x}, {&p.Y, y}, {&p.W, w}, {&p.H, h}} {
		if s.from.Sign() == 0 {
			continue
		}
		if *s.into, err = side(s.from); err != nil {
			return p, err
		}
	}
	return p, nil
}
