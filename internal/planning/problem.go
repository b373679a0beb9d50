package planning

// Turn says how a panel may lie on a fabric.
type Turn string

const (
	// Across: the panel's "around" lies across the width.
	Across Turn = "across"
	// Along: the panel's "around" lies along the length.
	Along Turn = "along"
	// Either: both.
	Either Turn = "either"
)

// Body is the role every case has.
const Body = "body"

// Limits of a problem; above them it is refused.
const (
	MostPieces = 200_000
	MostKinds  = 64
	MostQuotas = 1_000
	MostWanted = 10_000_000 // pillowcases of one quota
	MostMade   = 1_000_000  // pillowcases that all cloth together could make: one takes about 2 KB
)

// Problem is what a plan is made for: fabric on the shelf and pillowcases asked for.
type Problem struct {
	Unit    string              `json:"unit"` // in, cm or mm: the unit of every length
	Fabrics []Fabric            `json:"fabrics"`
	Cases   []Case              `json:"cases"`
	Trims   map[string][]string `json:"trims"` // body group → groups that may trim it
	// TrimRoles says of a body group and a role which of those groups alone may be that trim,
	// where not all of them may.
	TrimRoles map[string]map[string][]string `json:"trim_roles,omitempty"`
	Quotas    []Quota                        `json:"quotas"`
	Kit       KitRule                        `json:"kit"`
	Keep      *Keep                          `json:"keep,omitempty"`
	Fixed     *Fixed                         `json:"fixed,omitempty"`
}

// Fabric is a number of identical pieces of cloth.
type Fabric struct {
	ID     string   `json:"id"`
	Length Decimal  `json:"length"` // usable, along the selvedge
	Width  Decimal  `json:"width"`  // usable, across
	Pieces int      `json:"pieces"`
	Group  string   `json:"group"` // fabrics of one group look alike and may stand for each other
	Roles  []string `json:"roles"`
	Turn   Turn     `json:"turn"`
}

// Case is one way to make a pillowcase: the panels it is sewn from.
type Case struct {
	ID     string  `json:"id"`
	Panels []Panel `json:"panels"`
}

// Panel is one line of a case's cutting list.
type Panel struct {
	Role   string  `json:"role"`
	Around Decimal `json:"around"` // round the pillow
	Along  Decimal `json:"along"`  // open end to closed end
	Pieces int     `json:"pieces"` // how many, all from one group
}

// Quota is what one recipient wants of one size.
type Quota struct {
	ID     string   `json:"id"`
	Cases  []string `json:"cases"` // any of these fills it
	Wanted int      `json:"wanted"`
	Weight Decimal  `json:"weight"`        // what one pillowcase is worth
	Bodies []string `json:"bodies"`        // body groups that suit it
	Kit    int      `json:"kit,omitempty"` // most pillowcases in one of its kits, 0 for the problem's
}

// KitRule says how many pillowcases go in one kit at most.
type KitRule struct {
	Cases int `json:"cases"`
}

// Keep gives the least sides of a remnant worth keeping.
type Keep struct {
	Width  Decimal `json:"width"`
	Length Decimal `json:"length"`
}

// Fixed holds what an earlier plan has settled: its kits and layouts stay as they are,
// their pieces are not cut otherwise, and what a quota wants counts them too.
type Fixed struct {
	Layouts []Layout `json:"layouts"`
	Kits    []Kit    `json:"kits"`
}

// KeepSides gives the least sides of a remnant worth keeping, the default where none are set.
func (p *Problem) KeepSides() Keep {
	switch {
	case p.Keep != nil:
		return *p.Keep
	case p.Unit == "cm":
		return Keep{Whole(23), Whole(46)}
	case p.Unit == "mm":
		return Keep{Whole(230), Whole(460)}
	}
	return Keep{Whole(9), Whole(18)}
}

// KitCases gives the most pillowcases in one kit of a quota.
func (p *Problem) KitCases(q *Quota) int {
	if q.Kit > 0 {
		return q.Kit
	}
	return p.Kit.Cases
}

// Trimming gives the groups that may be a trim of this role on bodies of a group.
func (p *Problem) Trimming(body, role string) []string {
	if only, said := p.TrimRoles[body][role]; said {
		return only
	}
	return p.Trims[body]
}

// CaseByID gives the case of that name, or nil.
func (p *Problem) CaseByID(id string) *Case {
	for i := range p.Cases {
		if p.Cases[i].ID == id {
			return &p.Cases[i]
		}
	}
	return nil
}

// Wanted gives the number of pillowcases asked for in all.
func (p *Problem) Wanted() int {
	n := 0
	for i := range p.Quotas {
		n += p.Quotas[i].Wanted
	}
	return n
}

// panel gives the line of the case for a role, or nil.
func (c *Case) panel(role string) *Panel {
	for i := range c.Panels {
		if c.Panels[i].Role == role {
			return &c.Panels[i]
		}
	}
	return nil
}
