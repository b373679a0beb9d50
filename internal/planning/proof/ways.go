package proof

import (
	"fmt"
	"math/big"
)

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
				at, ok := c.caseAt[name]
				if !ok {
					continue
				}
				if err := c.takeWay(key, q, c.p.Cases[at].Panels, body); err != nil {
					return err
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
			groups = c.p.trimming(body, l.Role)
		}
		var can []string
		if err := c.spend(int64(50 * len(groups) * (1 + len(groups)/50))); err != nil {
			return err
		}
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
	if t, ok := c.trimAt[trimKey(body, l.Role, l.count(), l.Around.Rat, l.Along.Rat)]; ok {
		return t
	}
	return -1
}

func trimKey(body, role string, pieces int64, around, along *big.Rat) string {
	return fmt.Sprintf("%s %d", kindKey(body, role, around, along), pieces)
}

func hasKey(m map[string]int, key string) bool {
	_, ok := m[key]
	return ok
}

// trimming gives the groups that may be a trim of a role on a body of a group.
func (p *problem) trimming(body, role string) []string {
	if only, said := p.Narrow[body][role]; said {
		return only
	}
	return p.Trims[body]
}

// takeMultiples finds what the number used of each panel is always a multiple of: every way that
// takes it takes some number at once.
func (c *casework) takeMultiples() {
	c.together = make([]int64, len(c.claim.cert.Panels))
	divide := func(at int, n int64) {
		a := new(big.Int).SetInt64(c.together[at])
		c.together[at] = a.GCD(nil, nil, a, big.NewInt(n)).Int64()
	}
	for _, w := range c.ways {
		for _, u := range w.panels {
			divide(u.at, u.n)
		}
	}
	for _, t := range c.trims {
		for _, o := range t.options {
			divide(o.at, t.n)
		}
	}
}

// multiple gives what a quantity is always a multiple of.
func (c *casework) multiple(s *quantity) int64 {
	var panels []int
	switch s.Of {
	case "panel":
		panels = []int{s.Panel}
	case "sum":
		if len(c.claim.cert.Sums[s.Sum].Quotas) > 0 {
			return 1
		}
		panels = c.claim.cert.Sums[s.Sum].Panels
	}
	all := new(big.Int)
	for _, i := range panels {
		all.GCD(nil, nil, all, big.NewInt(c.together[i]))
	}
	return max(all.Int64(), 1)
}
