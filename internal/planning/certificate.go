package planning

// Certificate proves the bounds of a plan to a program that knows nothing of how they were
// found. Prices are whole numbers: one stands for Step/Unit of the problem's weights.
//
// Every way that takes a panel may take two of it, or some other number: what is used of it, and sums
// of such, are then multiples of that number, and a limit is rounded to one.
//
// Tree parts all plans of the problem by halves until each leaf's multipliers prove its
// bound; weight_bound is the highest of them, rounded down to whole steps. The bound of a
// leaf, under the limits on the way to it, is
//
//	Σ panels price·given + Σ pieces (most that its pattern is worth at the prices)
//	+ Σ quotas max(quota·n)                 n within the limits of the quota's total
//	+ Σ panels max(use·n)                   n within the limits of the panel's use
//	+ Σ sums   max(sum·n)                   n within the limits of the sum
//	+ Σ ways   max((weight − Σ(price+use) − Σ trim − quota)·n)
//	+ Σ choices max((trim − (price+use)·pieces)·n)
//
// where a way is a quota, case and body group; its panels are charged at price+use where only
// one group can be the part, and at trim where several can. Without a limit n runs from 0 to
// what is wanted, and use and sum must be 0. A sum adds its multiplier to the use of each of its
// panels, and to what a pillowcase of each of its quotas is charged.
type Certificate struct {
	Step   Decimal          `json:"step"`
	Unit   int64            `json:"unit"`
	Panels []CertifiedPanel `json:"panels"`
	Quotas []string         `json:"quotas"`
	Trims  []CertifiedTrim  `json:"trims"`
	Grids  []CertifiedGrid  `json:"grids,omitempty"` // groups whose panels are rounded down to a coarser grid, which only raises the bound
	Sums   []CertifiedSum   `json:"sums,omitempty"`
	Tree   *CertifiedNode   `json:"tree"`
	Cases  *CertifiedNode   `json:"cases,omitempty"` // a leaf for cases_bound: every pillowcase worth one step; absent where that is so anyway
}

// CertifiedSum is a quantity made up of others: pillowcases of some quotas, or panels used.
type CertifiedSum struct {
	Quotas []int `json:"quotas,omitempty"`
	Panels []int `json:"panels,omitempty"`
}

// CertifiedGrid gives the grid of a group whose panel sides add up in too many ways.
type CertifiedGrid struct {
	Group string  `json:"group"`
	Grid  Decimal `json:"grid"`
}

// CertifiedPanel names a kind of panel from a group.
type CertifiedPanel struct {
	Group  string  `json:"group"`
	Role   string  `json:"role"`
	Around Decimal `json:"around"`
	Along  Decimal `json:"along"`
}

// CertifiedTrim names what pillowcases with bodies of a group need and several groups can be.
type CertifiedTrim struct {
	Body   string  `json:"body"`
	Role   string  `json:"role"`
	Around Decimal `json:"around"`
	Along  Decimal `json:"along"`
	Pieces int64   `json:"pieces"`
}

// CertifiedNode is a leaf with its multipliers, or a split: plans with at most At of a
// quantity, and those with more.
type CertifiedNode struct {
	Split *Quantity      `json:"split,omitempty"`
	At    int64          `json:"at,omitempty"`
	Low   *CertifiedNode `json:"low,omitempty"`
	High  *CertifiedNode `json:"high,omitempty"`

	Price []int64 `json:"price,omitempty"` // by panel
	Use   []int64 `json:"use,omitempty"`   // by panel, absent where all are 0
	Quota []int64 `json:"quota,omitempty"`
	Trim  []int64 `json:"trim,omitempty"`
	Sums  []int64 `json:"sums,omitempty"` // absent where all are 0

	// Cannot lists panels of one group of which no cutting of its pieces gives as many, all
	// together, as the splits on the way here ask for: no plan lies here.
	Cannot []int `json:"cannot,omitempty"`
}

// Quantity is something a plan has a whole number of; Of says which fields name it.
type Quantity struct {
	Of    string `json:"of"` // quota: pillowcases; panel: panels used; way: pillowcases of a quota, case and body; choice: trims from a group; sum
	Quota int    `json:"quota,omitempty"`
	Panel int    `json:"panel,omitempty"`
	Case  string `json:"case,omitempty"`
	Body  string `json:"body,omitempty"`
	Trim  int    `json:"trim,omitempty"`
	Sum   int    `json:"sum,omitempty"`
	Group string `json:"group,omitempty"`
}

// certificate writes down what proves the bounds.
func (s *search) certificate() *Certificate {
	m := s.m
	c := &Certificate{Step: m.weightDecimal(1), Unit: m.unit, Panels: []CertifiedPanel{}, Quotas: []string{}, Trims: []CertifiedTrim{}}
	for _, r := range m.supply {
		k := &m.kinds[r.kind]
		c.Panels = append(c.Panels, CertifiedPanel{m.groups[r.group].name, k.role, k.kind.around, k.kind.along})
	}
	for i := range m.p.Quotas {
		c.Quotas = append(c.Quotas, m.p.Quotas[i].ID)
	}
	for _, t := range m.trims {
		k := &m.kinds[t.kind]
		c.Trims = append(c.Trims, CertifiedTrim{m.groups[t.body].name, k.role, k.kind.around, k.kind.along, t.count})
	}
	for _, gr := range m.groups {
		if gr.loose != nil {
			c.Grids = append(c.Grids, CertifiedGrid{gr.name, m.decimal(gr.grid)})
		}
	}
	if s.root != nil {
		c.Tree = m.certified(s.root)
		for _, of := range s.sums {
			c.Sums = append(c.Sums, CertifiedSum{of.quotas, of.rows})
		}
	} else {
		c.Tree = leaf(m.plainProof(s.proof, m.weightOf))
	}
	if !m.equalWeights() {
		c.Cases = leaf(m.plainProof(s.proofCases, one))
	}
	return c
}

func (m *model) certified(n *node) *CertifiedNode {
	if n.cannot != nil {
		return &CertifiedNode{Cannot: n.cannot.rows}
	}
	if n.low == nil {
		return leaf(n.proof)
	}
	q := &Quantity{}
	switch l := n.split; l.of {
	case limitQuota:
		q.Of, q.Quota = "quota", l.i
	case limitUse:
		q.Of, q.Panel = "panel", l.i
	case limitMake:
		mk := &m.makes[l.i]
		q.Of, q.Quota, q.Case, q.Body = "way", mk.quota, m.p.Cases[mk.spec].ID, m.groups[mk.group].name
	case limitChoice:
		q.Of, q.Trim, q.Group = "choice", l.i, m.groups[m.supply[m.trims[l.i].rows[l.k]].group].name
	case limitSum:
		q.Of, q.Sum = "sum", l.i
	}
	return &CertifiedNode{Split: q, At: n.at, Low: m.certified(n.low), High: m.certified(n.high)}
}

func leaf(p *proof) *CertifiedNode {
	n := &CertifiedNode{Price: p.price, Quota: p.quota, Trim: p.trim, Sums: p.sums}
	for _, u := range p.use {
		if u != 0 {
			n.Use = p.use
		}
	}
	return n
}

// plainProof completes prices to the multipliers of a bound without limits.
func (m *model) plainProof(p prices, weight func(q int) int64) *proof {
	pr := &proof{price: p, use: make([]int64, len(m.supply)), quota: make([]int64, len(m.quotas)), trim: make([]int64, len(m.trims))}
	for t := range m.trims {
		pr.trim[t] = m.cheapest(t, p)
	}
	for i := range m.makes {
		q := m.makes[i].quota
		pr.quota[q] = max(pr.quota[q], m.gainAt(i, pr, weight(q)))
	}
	return pr
}
