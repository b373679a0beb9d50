package planning

import (
	"errors"
	"fmt"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/cutting"
)

// prepare makes the programme of a group and puts pieces of equal worth together.
func (m *model) prepare(g int, pieces []piece, longest int64) error {
	gr := m.groups[g]
	gr.grid, gr.forms = 1, gr.real
	widths := map[int64]bool{}
	for i := range pieces {
		widths[pieces[i].width] = true
	}
	points := min(max(mostPoints/len(m.groups), 1<<13), 1<<17)
	var fine *cutting.ErrTooFine
	for {
		var list []int64
		for w := range widths {
			list = append(list, w/gr.grid)
		}
		// A first programme tells which widths are worth the same, a second keeps only those.
		prog, err := cutting.NewProgram(gr.forms, longest/gr.grid, list, points)
		if errors.As(err, &fine) {
			if f := gr.coarser(longest / int64(points)); f >= 0 {
				return m.tooSmall(g, f)
			}
			continue
		}
		if err != nil {
			return err
		}
		for i := range list {
			list[i] = prog.RasterWidth(list[i])
		}
		if gr.prog, err = cutting.NewProgram(gr.forms, longest/gr.grid, list, points); err != nil {
			return err
		}
		break
	}
	if err := gr.loosen(pieces, longest, points); err != nil {
		return err
	}
	type key struct {
		point int32
		width int
	}
	at := map[key]int{}
	slices.SortStableFunc(pieces, func(a, b piece) int {
		return compare(a.width, b.width, a.length, b.length, int64(a.fabric), int64(b.fabric), int64(a.number), int64(b.number))
	})
	for _, pc := range pieces {
		k := key{gr.prog.Point(pc.length / gr.grid), gr.prog.Width(gr.prog.RasterWidth(pc.width / gr.grid))}
		if k.point == 0 || gr.prog.RasterWidth(pc.width/gr.grid) == 0 {
			continue
		}
		s, known := at[k]
		if !known {
			s = len(m.stock)
			at[k] = s
			m.stock = append(m.stock, &stock{group: g, point: k.point, width: k.width})
			gr.stock = append(gr.stock, s)
		}
		m.stock[s].pieces = append(m.stock[s].pieces, pc)
	}
	return nil
}

// mostPoints is how many raster points along the length the programmes of all groups share.
const mostPoints = 1 << 20

// coarser puts a group on a coarser grid. For plans panels are rounded up and pieces down, so
// whatever is planned fits; bounds come from the loose programme, where panels are rounded
// down, so that no layout is left out of them. It gives a form that is too small for it, or -1.
func (gr *group) coarser(least int64) int {
	gr.grid = max(gr.grid*2, least)
	gr.forms = make([]cutting.Form, len(gr.real))
	gr.down = make([]cutting.Form, len(gr.real))
	for i, f := range gr.real {
		gr.forms[i] = cutting.Form{W: (f.W + gr.grid - 1) / gr.grid, H: (f.H + gr.grid - 1) / gr.grid}
		gr.down[i] = cutting.Form{W: f.W / gr.grid, H: f.H / gr.grid}
		if gr.down[i].W == 0 || gr.down[i].H == 0 {
			return i
		}
	}
	return -1
}

// tooSmall refuses a panel by its place in the problem.
func (m *model) tooSmall(g, form int) error {
	k := m.kinds[m.groups[g].kind[form]].kind
	where := "cases"
	for i, c := range m.p.Cases {
		for j, l := range c.Panels {
			if where == "cases" && k == (kind{l.Role, l.Around, l.Along}) {
				where = fmt.Sprintf("cases[%d].panels[%d]", i, j)
			}
		}
	}
	return apperr.Invalid(where, "%s x %s %s is too small beside the pieces of %s: it would be cut more often than can be planned", k.around, k.along, m.p.Unit, m.groups[g].name)
}

// loosen prepares the loose programme of a group on a coarser grid.
func (gr *group) loosen(pieces []piece, longest int64, points int) error {
	if gr.grid == 1 {
		return nil
	}
	var list []int64
	for i := range pieces {
		list = append(list, pieces[i].width/gr.grid)
	}
	var err error
	if gr.loose, err = cutting.NewProgram(gr.down, longest/gr.grid, list, 4*points); err != nil {
		return fmt.Errorf("prepare the bound of %s: %w", gr.name, err)
	}
	gr.size = map[[2]int64]int64{}
	for i := range pieces {
		gr.size[[2]int64{pieces[i].width / gr.grid, pieces[i].length / gr.grid}]++
	}
	return nil
}
