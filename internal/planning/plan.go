package planning

// Plan is what to cut from which piece and which panels go home together.
type Plan struct {
	Unit        string       `json:"unit"`
	Summary     Summary      `json:"summary"`
	Quotas      []QuotaMade  `json:"quotas"`
	Layouts     []Layout     `json:"layouts"`
	Kits        []Kit        `json:"kits"`
	Certificate *Certificate `json:"certificate,omitempty"`
}

// Stopped says why planning ended.
type Stopped string

const (
	// Closed: what is made meets the bound; nothing better exists.
	Closed Stopped = "closed"
	// StoppedByEffort: the effort given is spent.
	StoppedByEffort Stopped = "effort"
	// StoppedByTime: the time given is over.
	StoppedByTime Stopped = "time"
	// StoppedByPerson: somebody asked to stop.
	StoppedByPerson Stopped = "person"
)

// Summary tells how good a plan is.
type Summary struct {
	WeightMade  Decimal `json:"weight_made"`
	WeightBound Decimal `json:"weight_bound"` // proven: no valid plan of the problem is worth more
	CasesMade   int     `json:"cases_made"`
	CasesBound  int     `json:"cases_bound"` // the same for the number of pillowcases
	Seconds     float64 `json:"seconds"`
	Stopped     Stopped `json:"stopped"`
	// The figures that decide between plans of equal weight, in this order.
	AreaUsed     Decimal `json:"area_used"`     // square units: used length × width, less remnants worth keeping
	PiecesOpened int     `json:"pieces_opened"` //
	Bundles      int     `json:"bundles"`       // (kit, piece, role) stacks to cut, fold and label
	LeftSquares  Decimal `json:"left_squares"`  // square units: Σ (length left)² over the pieces opened

	// BundlesLeast is proven: the panels of this plan go into kits of these sizes in no fewer
	// bundles. Absent where kits of another plan were taken over.
	BundlesLeast int `json:"bundles_least,omitempty"`
}

// QuotaMade tells how many pillowcases of a quota a plan makes.
type QuotaMade struct {
	ID   string `json:"id"`
	Made int    `json:"made"`
}

// Layout is how one piece of fabric is cut.
type Layout struct {
	Fabric   string        `json:"fabric"`
	Piece    int           `json:"piece"` // from 1
	Used     Decimal       `json:"used"`  // length taken from the squared end
	Panels   []PlacedPanel `json:"panels"`
	Remnants []Remnant     `json:"remnants,omitempty"` // worth keeping, inside the used part
}

// PlacedPanel is one panel of a layout.
type PlacedPanel struct {
	ID   string  `json:"id"`
	Role string  `json:"role"`
	Case string  `json:"case"`
	X    Decimal `json:"x"` // from the left edge
	Y    Decimal `json:"y"` // from the squared end
	W    Decimal `json:"w"` // across the width
	H    Decimal `json:"h"` // along the length
}

// Remnant is a rectangle worth keeping.
type Remnant struct {
	X Decimal `json:"x"`
	Y Decimal `json:"y"`
	W Decimal `json:"w"`
	H Decimal `json:"h"`
}

// Kit is a bag of pillowcases to sew: all of one quota and one case.
type Kit struct {
	ID          string                `json:"id"`
	Quota       string                `json:"quota"`
	Case        string                `json:"case"`
	Pillowcases []map[string][]string `json:"pillowcases"` // for each pillowcase role → panel ids
}

// Made gives the number of pillowcases of a quota.
func (p *Plan) Made(quota string) int {
	for _, q := range p.Quotas {
		if q.ID == quota {
			return q.Made
		}
	}
	return 0
}

// Cases gives the number of pillowcases in all.
func (p *Plan) Cases() int {
	n := 0
	for _, q := range p.Quotas {
		n += q.Made
	}
	return n
}

// KitsOf gives the kits of a quota.
func (p *Plan) KitsOf(quota string) []Kit {
	var kits []Kit
	for _, k := range p.Kits {
		if k.Quota == quota {
			kits = append(kits, k)
		}
	}
	return kits
}

// LayoutOf gives the layout of one piece, or nil where it is not cut.
func (p *Plan) LayoutOf(fabric string, piece int) *Layout {
	for i := range p.Layouts {
		if l := &p.Layouts[i]; l.Fabric == fabric && l.Piece == piece {
			return l
		}
	}
	return nil
}

// PanelPlace tells where a panel is cut and which kit it goes to.
type PanelPlace struct {
	Layout *Layout
	Panel  *PlacedPanel
	Kit    *Kit
	Number int // of the pillowcase in the kit, from 1
}

// Panels gives the place of every panel by its id.
func (p *Plan) Panels() map[string]PanelPlace {
	places := map[string]PanelPlace{}
	for i := range p.Layouts {
		l := &p.Layouts[i]
		for j := range l.Panels {
			places[l.Panels[j].ID] = PanelPlace{Layout: l, Panel: &l.Panels[j]}
		}
	}
	for i := range p.Kits {
		k := &p.Kits[i]
		for n, one := range k.Pillowcases {
			for _, ids := range one {
				for _, id := range ids {
					place := places[id]
					place.Kit, place.Number = k, n+1
					places[id] = place
				}
			}
		}
	}
	return places
}
