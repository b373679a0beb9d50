package planning

import (
	"fmt"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/cutting"
	"boltward/internal/planning/lp"
)

// model is a problem in whole numbers: lengths in 10^-places units, weights in units of
// their greatest common divisor, pieces of one group that are worth the same put together.
type model struct {
	p         *Problem
	places    int
	kinds     []modelKind
	groups    []*group
	stock     []*stock
	supply    []supplyRow // every (group, kind) that can be cut and is of use
	quotas    []modelQuota
	makes     []making
	trims     []trimming
	weight    int64 // the unit of weights in 10^-weightPlaces
	wp        int
	heaviest  int64    // weight of a quota
	unit      int64    // prices are whole multiples of weight/unit
	assembled int64    // work done by assemblies
	sewer     *master  // theirs
	footing   *footing // where the next of them begins, nil before the first
	alone     bool     // use one core, as others work beside it
	hurried   bool     // somebody waits for the end of the search
	fixed     []int    // pillowcases of each quota that fixed kits hold
}

type modelKind struct {
	kind
	around, along int64
}

// group is one look of fabric: what can be cut from it and the programme that prices it.
type group struct {
	name   string
	forms  []cutting.Form
	real   []cutting.Form // the same in true lengths, where the programme works on a coarser grid
	kind   []int          // kind of each form
	row    []int          // supply row of each form
	prog   *cutting.Program
	grid   int64
	down   []cutting.Form     // rounded down, where the grid is coarser
	loose  *cutting.Program   // prices those for bounds, nil where the grid is exact
	size   map[[2]int64]int64 // pieces by width and length in grid units, for loose
	stock  []int
	values []int64 // of the forms at the last run
}

// stock is a number of pieces that are worth the same: one group, and lengths and widths that
// differ by less than any panel can use.
type stock struct {
	group  int
	point  int32 // raster point of the length
	width  int   // index of the width in the group's programme
	pieces []piece
}

type piece struct {
	fabric, number int
	length, width  int64
}

// supplyRow is a kind of panel from a group; given are panels that lie cut already.
type supplyRow struct {
	group, kind int
	given       int64
	batch       int64 // every number that pillowcases take is a multiple of it; 0 where none takes any
}

type modelQuota struct {
	wanted int64 // without what fixed kits hold
	most   int64 // the same, or one more than the fabric could ever make
	weight int64
}

// making is a way to fill a quota: a case with the bodies from one group. Its trims are
// counted in trimming rows, or in the supply itself where only one group will do.
type making struct {
	quota, spec int
	group       int
	uses        []use // the body first, then trims without a choice
	trims       []int // trimmings it needs
}

type use struct {
	row   int
	count int64
}

// trimming is a trim that pillowcases with bodies of one group need, whichever quota or case
// they are for, and the supplies that can be it.
type trimming struct {
	body  int
	kind  int
	count int64
	rows  []int
	most  int64 // pillowcases that may need it
	cap   int64 // the same, or more than the fabric could ever make
}

func newModel(p *Problem) (*model, error) {
	m := &model{p: p, places: finest(p, nil), sewer: &master{lp: lp.New()}}
	if err := m.takeWeights(); err != nil {
		return nil, err
	}
	if err := m.takeKinds(); err != nil {
		return nil, err
	}
	taken := m.takeFixed()
	if err := m.takeGroups(taken); err != nil {
		return nil, err
	}
	m.takeMakings()
	if err := m.fits(); err != nil {
		return nil, err
	}
	return m, m.chooseUnit()
}

func (m *model) length(d Decimal) int64 {
	n, _ := d.units(m.places) // places is the most decimals of all lengths
	return n
}

// mostSteps is how many times the unit of weights the largest may be, so that sums of prices,
// which are finer than a unit, stay in int64 and a linear programme in floats still sees it.
const mostSteps = 1_000_000_000

func (m *model) takeWeights() error {
	places := uint8(0)
	for i := range m.p.Quotas {
		places = max(places, m.p.Quotas[i].Weight.places)
	}
	var g int64
	for i := range m.p.Quotas {
		n, ok := m.p.Quotas[i].Weight.units(int(places))
		if !ok {
			return apperr.Invalid(fmt.Sprintf("quotas[%d].weight", i), "%s cannot stand beside weights of %d decimals", m.p.Quotas[i].Weight, places)
		}
		for b := n; b != 0; {
			g, b = b, g%b
		}
		m.quotas = append(m.quotas, modelQuota{wanted: int64(m.p.Quotas[i].Wanted), weight: n})
	}
	m.weight, m.wp = max(g, 1), int(places)
	for i := range m.quotas {
		m.quotas[i].weight /= m.weight
		if m.quotas[i].weight > mostSteps {
			step := scaled(m.weight, m.wp)
			return apperr.Invalid(fmt.Sprintf("quotas[%d].weight", i), "%s is too much beside the other weights: they are all whole multiples of %s, and the largest that is planned is %d times that",
				m.p.Quotas[i].Weight, step, mostSteps)
		}
	}
	return nil
}

func (m *model) takeKinds() error {
	for i := range m.p.Cases {
		for _, l := range m.p.Cases[i].Panels {
			k := kind{l.Role, l.Around, l.Along}
			if m.kindOf(k) < 0 {
				m.kinds = append(m.kinds, modelKind{k, m.length(l.Around), m.length(l.Along)})
			}
		}
	}
	return nil
}

func (m *model) kindOf(k kind) int {
	return slices.IndexFunc(m.kinds, func(x modelKind) bool { return x.kind == k })
}

// takeFixed counts what fixed kits hold and gives the pieces that fixed layouts have cut.
func (m *model) takeFixed() map[[2]int]bool {
	m.fixed = make([]int, len(m.quotas))
	taken := map[[2]int]bool{}
	if m.p.Fixed == nil {
		return taken
	}
	index := map[string]int{}
	for i := range m.p.Fabrics {
		index[m.p.Fabrics[i].ID] = i
	}
	for i := range m.p.Fixed.Layouts {
		l := &m.p.Fixed.Layouts[i]
		taken[[2]int{index[l.Fabric], l.Piece}] = true
	}
	for i := range m.p.Quotas {
		for j := range m.p.Fixed.Kits {
			if k := &m.p.Fixed.Kits[j]; k.Quota == m.p.Quotas[i].ID {
				m.fixed[i] += len(k.Pillowcases)
			}
		}
		m.quotas[i].wanted -= int64(m.fixed[i])
	}
	return taken
}

// takeGroups gathers the fabrics by group and prepares each group's programme.
func (m *model) takeGroups(taken map[[2]int]bool) error {
	index := map[string]int{}
	var fabrics [][]int
	for i := range m.p.Fabrics {
		name := m.p.Fabrics[i].Group
		g, known := index[name]
		if !known {
			g = len(m.groups)
			index[name] = g
			m.groups = append(m.groups, &group{name: name})
			fabrics = append(fabrics, nil)
		}
		fabrics[g] = append(fabrics[g], i)
	}
	given := m.givenPanels(index)
	for g := range m.groups {
		if err := m.takeGroup(g, fabrics[g], given, taken); err != nil {
			return err
		}
	}
	return nil
}

// givenPanels counts panels of fixed layouts that no fixed kit holds: they lie cut and may be used.
func (m *model) givenPanels(index map[string]int) map[[2]int]int64 {
	given := map[[2]int]int64{}
	for _, x := range spare(m.p) {
		if k := m.kindOf(x.kind); k >= 0 {
			given[[2]int{index[x.group], k}]++
		}
	}
	return given
}

func (m *model) takeGroup(g int, fabrics []int, given map[[2]int]int64, taken map[[2]int]bool) error {
	gr := m.groups[g]
	first := &m.p.Fabrics[fabrics[0]]
	var pieces []piece
	var longest, widest int64
	for _, i := range fabrics {
		f := &m.p.Fabrics[i]
		for n := 1; n <= f.Pieces; n++ {
			if !taken[[2]int{i, n}] {
				pieces = append(pieces, piece{i, n, m.length(f.Length), m.length(f.Width)})
				longest, widest = max(longest, m.length(f.Length)), max(widest, m.length(f.Width))
			}
		}
	}
	for k, mk := range m.kinds {
		if !slices.Contains(first.Roles, mk.role) {
			continue
		}
		row := -1
		addForm := func(w, h int64) {
			if w > widest || h > longest || !anyHolds(pieces, w, h) {
				return
			}
			if row < 0 {
				row = len(m.supply)
				m.supply = append(m.supply, supplyRow{group: g, kind: k, given: given[[2]int{g, k}]})
			}
			gr.real = append(gr.real, cutting.Form{W: w, H: h})
			gr.kind, gr.row = append(gr.kind, k), append(gr.row, row)
		}
		if first.Turn != Along {
			addForm(mk.around, mk.along)
		}
		if first.Turn != Across && (first.Turn == Along || mk.around != mk.along) {
			addForm(mk.along, mk.around)
		}
		if n := given[[2]int{g, k}]; row < 0 && n > 0 {
			m.supply = append(m.supply, supplyRow{group: g, kind: k, given: n})
		}
	}
	if len(gr.real) == 0 {
		return nil
	}
	return m.prepare(g, pieces, longest)
}

func anyHolds(pieces []piece, w, h int64) bool {
	for i := range pieces {
		if w <= pieces[i].width && h <= pieces[i].length {
			return true
		}
	}
	return false
}
