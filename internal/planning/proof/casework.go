package proof

import (
	"context"
	"fmt"
	"math/big"
)

// casework is the problem in the certificate's terms: what each way to make a pillowcase
// takes, by the certificate's numbers of panels, quotas and trims.
type casework struct {
	meter
	p     *problem
	claim *plan
	step  *big.Rat

	steps       []int64 // weight of each quota in steps
	given       []int64 // panels that lie cut, by panel
	ways        []way
	trims       []trim
	fixedWeight *big.Rat
	fixedCases  int64
	panelAt     map[string]int
	trimAt      map[string]int
	lies        map[string]bool // panels that lie cut, priced or not
	leafWork    int64
	together    []int64         // by panel: what every number of it that pillowcases take is a multiple of
	taken       map[string]bool // pieces cut by fixed layouts
	groups      []*cloth
	byName      map[string]*cloth
	caseAt      map[string]int
	tried       map[string]bool // what cannot be cut together, by what was tried
	can         map[string]bool // whether a group could give a panel
}

type use struct {
	at int
	n  int64
}

type way struct {
	key    string
	quota  int
	panels []use
	trims  []int
}

type trim struct {
	n       int64
	most    int64
	options []option
}

type option struct {
	key string
	at  int
}

func kindKey(group, role string, around, along *big.Rat) string {
	return fmt.Sprintf("%q %q %s %s", group, role, around.RatString(), along.RatString())
}

func newCase(ctx context.Context, p *problem, claim *plan) (*casework, error) {
	c := &casework{
		meter: meter{ctx: ctx, left: mostWork, asked: mostWork},
		p:     p, claim: claim, step: claim.cert.Step.Rat, fixedWeight: new(big.Rat), panelAt: map[string]int{},
		trimAt: map[string]int{}, caseAt: map[string]int{}, taken: map[string]bool{}, lies: map[string]bool{}, can: map[string]bool{}, tried: map[string]bool{},
	}
	for i, x := range claim.cert.Panels {
		c.panelAt[kindKey(x.Group, x.Role, x.Around.Rat, x.Along.Rat)] = i
	}
	for i := range p.Cases {
		c.caseAt[p.Cases[i].ID] = i
	}
	if len(claim.cert.Quotas) != len(p.Quotas) {
		return nil, fmt.Errorf("the certificate has %d quotas, the problem %d", len(claim.cert.Quotas), len(p.Quotas))
	}
	for q := range p.quotas {
		if claim.cert.Quotas[q] != p.Quotas[q].ID {
			return nil, fmt.Errorf("the certificate has the quota %s where the problem has %s", claim.cert.Quotas[q], p.Quotas[q].ID)
		}
		n := new(big.Rat).Quo(p.quotas[q].weight, c.step)
		if !n.IsInt() || !n.Num().IsInt64() || n.Num().Int64() > 1<<31 {
			return nil, fmt.Errorf("the weight of %s is not a whole number of steps", p.Quotas[q].ID)
		}
		c.steps = append(c.steps, n.Num().Int64())
	}
	if err := c.checkSums(); err != nil {
		return nil, err
	}
	c.given = make([]int64, len(claim.cert.Panels))
	c.takeFixed()
	for i, t := range claim.cert.Trims {
		c.trims = append(c.trims, trim{n: t.Pieces})
		if key := trimKey(t.Body, t.Role, t.Pieces, t.Around.Rat, t.Along.Rat); !hasKey(c.trimAt, key) {
			c.trimAt[key] = i
		}
	}
	if err := c.takeCloth(); err != nil {
		return nil, err
	}
	if err := c.takeWays(); err != nil {
		return nil, err
	}
	c.takeMultiples()
	c.leafWork = 50 * int64(len(c.ways)+len(c.p.quotas)+len(claim.cert.Panels)+len(claim.cert.Trims))
	for _, w := range c.ways {
		c.leafWork += 50 * int64(len(w.panels)+len(w.trims))
	}
	for _, t := range c.trims {
		c.leafWork += 50 * int64(len(t.options))
	}
	for _, s := range claim.cert.Sums {
		c.leafWork += 50 * int64(1+len(s.Quotas)+len(s.Panels))
	}
	return c, nil
}

// checkSums refuses a sum that names something twice or not at all: it would not be what its
// limits say.
func (c *casework) checkSums() error {
	for i, s := range c.claim.cert.Sums {
		for _, list := range []struct {
			of []int
			n  int
		}{{s.Quotas, len(c.p.quotas)}, {s.Panels, len(c.claim.cert.Panels)}} {
			seen := map[int]bool{}
			for _, k := range list.of {
				if k < 0 || k >= list.n || seen[k] {
					return fmt.Errorf("sum %d names %d, which it has already or which there is not", i, k)
				}
				seen[k] = true
			}
		}
	}
	return nil
}

func (c *casework) equalWeights() bool {
	for _, n := range c.steps {
		if n != 1 {
			return false
		}
	}
	return true
}

// takeFixed takes what an earlier plan has settled out of the problem.
func (c *casework) takeFixed() {
	if c.p.Fixed == nil {
		return
	}
	held, quotaAt := map[string]bool{}, map[string]int{}
	for q := range c.p.Quotas {
		quotaAt[c.p.Quotas[q].ID] = q
	}
	for _, k := range c.p.Fixed.Kits {
		for _, one := range k.Pillowcases {
			for _, ids := range one {
				for _, id := range ids {
					held[id] = true
				}
			}
		}
		if q, ok := quotaAt[k.Quota]; ok {
			n := int64(len(k.Pillowcases))
			c.p.quotas[q].wanted -= n
			c.fixedCases += n
			c.fixedWeight.Add(c.fixedWeight, new(big.Rat).Mul(c.p.quotas[q].weight, big.NewRat(n, 1)))
		}
	}
	group := map[string]string{}
	for _, f := range c.p.Fabrics {
		group[f.ID] = f.Group
	}
	for _, l := range c.p.Fixed.Layouts {
		c.taken[fmt.Sprintf("%s/%d", l.Fabric, l.Piece)] = true
		for _, x := range l.Panels {
			at, ok := c.caseAt[x.Case]
			if !ok || held[x.ID] {
				continue
			}
			for _, line := range c.p.Cases[at].Panels {
				if line.Role != x.Role {
					continue
				}
				key := kindKey(group[l.Fabric], x.Role, line.Around.Rat, line.Along.Rat)
				c.lies[key] = true
				if at, ok := c.panelAt[key]; ok {
					c.given[at]++
				}
			}
		}
	}
}

// quantity names what a split parts, and what it may be without any limit.
func (c *casework) quantity(s *quantity) (string, span, error) {
	wanted := func(q int) (int64, bool) {
		if q < 0 || q >= len(c.p.quotas) {
			return 0, false
		}
		return c.p.quotas[q].wanted, true
	}
	switch s.Of {
	case "quota":
		if n, ok := wanted(s.Quota); ok {
			return fmt.Sprintf("quota %d", s.Quota), span{0, n}, nil
		}
	case "panel":
		if s.Panel >= 0 && s.Panel < len(c.claim.cert.Panels) {
			return fmt.Sprintf("panel %d", s.Panel), span{0, mostUsed}, nil
		}
	case "way":
		if n, ok := wanted(s.Quota); ok {
			return fmt.Sprintf("way %d %q %q", s.Quota, s.Case, s.Body), span{0, n}, nil
		}
	case "choice":
		if s.Trim >= 0 && s.Trim < len(c.trims) {
			return fmt.Sprintf("choice %d %q", s.Trim, s.Group), span{0, c.trims[s.Trim].most}, nil
		}
	case "sum":
		if s.Sum >= 0 && s.Sum < len(c.claim.cert.Sums) {
			return fmt.Sprintf("sum %d", s.Sum), span{0, mostUsed}, nil
		}
	}
	return "", span{}, fmt.Errorf("a split of an unknown quantity %+v", *s)
}

// mostUsed is more panels of a kind than any plan uses: every limit of a problem lies far below.
const mostUsed = 1 << 62
