package proof

import (
	"fmt"
	"math/big"
)

// casework is the problem in the certificate's terms: what each way to make a pillowcase
// takes, by the certificate's numbers of panels, quotas and trims.
type casework struct {
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
	taken       map[string]bool // pieces cut by fixed layouts
	groups      []*cloth
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

func newCase(p *problem, claim *plan) (*casework, error) {
	c := &casework{p: p, claim: claim, step: claim.cert.Step.Rat, fixedWeight: new(big.Rat), panelAt: map[string]int{}, taken: map[string]bool{}, can: map[string]bool{}, tried: map[string]bool{}}
	for i, x := range claim.cert.Panels {
		c.panelAt[kindKey(x.Group, x.Role, x.Around.Rat, x.Along.Rat)] = i
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
	for _, t := range claim.cert.Trims {
		c.trims = append(c.trims, trim{n: t.Pieces})
	}
	c.takeCloth()
	if err := c.takeWays(); err != nil {
		return nil, err
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
	held := map[string]bool{}
	for _, k := range c.p.Fixed.Kits {
		for _, one := range k.Pillowcases {
			for _, ids := range one {
				for _, id := range ids {
					held[id] = true
				}
			}
		}
		for q := range c.p.quotas {
			if c.p.Quotas[q].ID == k.Quota {
				n := int64(len(k.Pillowcases))
				c.p.quotas[q].wanted -= n
				c.fixedCases += n
				c.fixedWeight.Add(c.fixedWeight, new(big.Rat).Mul(c.p.quotas[q].weight, big.NewRat(n, 1)))
			}
		}
	}
	group := map[string]string{}
	for _, f := range c.p.Fabrics {
		group[f.ID] = f.Group
	}
	for _, l := range c.p.Fixed.Layouts {
		c.taken[fmt.Sprintf("%s/%d", l.Fabric, l.Piece)] = true
		for _, x := range l.Panels {
			for _, spec := range c.p.Cases {
				for _, line := range spec.Panels {
					if spec.ID == x.Case && line.Role == x.Role && !held[x.ID] {
						if at, ok := c.panelAt[kindKey(group[l.Fabric], x.Role, line.Around.Rat, line.Along.Rat)]; ok {
							c.given[at]++
						}
					}
				}
			}
		}
	}
}

// takeWays lists every way to make a pillowcase that the rules allow and the cloth could
// yield. A way that the certificate has no prices for refutes it: leaving one out would prove too much.
func (c *casework) takeWays() error {
	for q := range c.p.Quotas {
		seen := map[string]bool{}
		for _, name := range c.p.Quotas[q].Cases {
			for _, body := range c.p.Quotas[q].Bodies {
				key := fmt.Sprintf("way %d %q %q", q, name, body)
				if seen[key] || c.p.quotas[q].wanted <= 0 {
					continue
				}
				seen[key] = true
				for i := range c.p.Cases {
					if c.p.Cases[i].ID == name {
						if err := c.takeWay(key, q, c.p.Cases[i].Panels, body); err != nil {
							return err
						}
					}
				}
			}
		}
	}
	return nil
}

func (c *casework) takeWay(key string, q int, lines []panel, body string) error {
	var from [][]string // groups that can be each line
	for _, l := range lines {
		groups := []string{body}
		if l.Role != "body" {
			groups = c.p.Trims[body]
		}
		var can []string
		for _, g := range groups {
			if c.possible(g, l) && !has(can, g) {
				can = append(can, g)
			}
		}
		if len(can) == 0 {
			return nil
		}
		from = append(from, can)
	}
	w := way{key: key, quota: q}
	for i, l := range lines {
		var options []option
		for _, g := range from[i] {
			at, ok := c.panelAt[kindKey(g, l.Role, l.Around.Rat, l.Along.Rat)]
			if !ok {
				return fmt.Errorf("the certificate has no price for a %s from %s", l.Role, g)
			}
			options = append(options, option{g, at})
		}
		if len(options) == 1 {
			w.panels = append(w.panels, use{options[0].at, l.count()})
			continue
		}
		t := c.trimFor(body, l)
		if t < 0 {
			return fmt.Errorf("the certificate has no worth for a %s with bodies from %s", l.Role, body)
		}
		for k := range options {
			options[k].key = fmt.Sprintf("choice %d %q", t, options[k].key)
		}
		c.trims[t].options = options
		c.trims[t].most += c.p.quotas[q].wanted
		w.trims = append(w.trims, t)
	}
	c.ways = append(c.ways, w)
	return nil
}

func (c *casework) trimFor(body string, l panel) int {
	for t, x := range c.claim.cert.Trims {
		if x.Body == body && x.Role == l.Role && x.Pieces == l.count() && x.Around.Cmp(l.Around.Rat) == 0 && x.Along.Cmp(l.Along.Rat) == 0 {
			return t
		}
	}
	return -1
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
const mostUsed = 1 << 40
