// Package proof checks the certificate of a plan: that no valid plan of the problem is worth
// more than weight_bound, nor makes more pillowcases than cases_bound. It reads the two files
// by itself and shares no code with the planner; the guillotine programme here is the plain
// one, on every point that panel sides can add up to, in whole numbers of unlimited size
// where sums are formed.
//
// What it relies on: weak duality (Everett 1963; Geoffrion 1974): whatever the multipliers,
// the Lagrangian of a maximisation is at least its optimum. So nothing of how the multipliers
// were found has to be trusted. The formula of a leaf is written out beside
// planning.Certificate.
package proof

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/big"
)

// Verdict is what the certificate proves.
type Verdict struct {
	WeightBound *big.Rat // the least weight bound that the certificate proves
	CasesBound  *big.Int
	Leaves      int
	Work        int64 // steps it took to check
}

// Check re-prices every leaf of the plan's certificate against the problem and gives what it
// proves. The error says in what way it fails to prove the bounds that the plan claims, or why
// the files cannot be read. Work and memory are bounded whatever the files say; where ctx ends
// its error comes back.
func Check(ctx context.Context, problem, plan io.Reader) (*Verdict, error) {
	p, err := readProblem(problem)
	if err != nil {
		return nil, fmt.Errorf("problem: %w", err)
	}
	claim, err := readPlan(plan)
	if err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	c, err := newCase(ctx, p, claim)
	if err != nil {
		return nil, err
	}
	v := &Verdict{}
	worst, err := c.tree(claim.cert.Tree, limits{}, false, v)
	if err != nil {
		return nil, err
	}
	if worst == nil {
		return nil, errors.New("the certificate leaves no room for any plan, not even an empty one")
	}
	steps := c.floorSteps(worst)
	v.WeightBound = new(big.Rat).Mul(new(big.Rat).SetInt(steps), c.step)
	v.WeightBound.Add(v.WeightBound, c.fixedWeight)
	if claim.cert.Cases != nil {
		if worst, err = c.tree(claim.cert.Cases, limits{}, true, v); err != nil {
			return nil, err
		}
		if worst == nil {
			return nil, errors.New("the certificate leaves no room for any number of pillowcases")
		}
	} else if !c.equalWeights() {
		return nil, errors.New("the weights differ and nothing proves the bound of pillowcases")
	}
	v.Work = mostWork - c.left
	v.CasesBound = new(big.Int).Add(c.floorSteps(worst), big.NewInt(c.fixedCases))
	if v.WeightBound.Cmp(claim.weightBound) > 0 {
		return v, fmt.Errorf("the certificate proves %s, the plan claims that no plan is worth more than %s", v.WeightBound.RatString(), claim.weightBound.RatString())
	}
	if v.CasesBound.Cmp(claim.casesBound) > 0 {
		return v, fmt.Errorf("the certificate proves %s pillowcases, the plan claims that none makes more than %s", v.CasesBound, claim.casesBound)
	}
	return v, nil
}

// floorSteps rounds a bound in price units down to whole steps of weight.
func (c *casework) floorSteps(b *big.Int) *big.Int {
	return new(big.Int).Div(b, big.NewInt(c.claim.cert.Unit))
}

// span is what a quantity may be.
type span struct{ lo, hi int64 }

// limits are the splits on the way to a node, by the name of the quantity.
type limits map[string]span

// tree gives the highest bound of the leaves below a node, nil where no plan lies there. A split needs no trust: every plan
// has at most At of the quantity or more.
func (c *casework) tree(n *node, on limits, count bool, v *Verdict) (*big.Int, error) {
	if n == nil {
		return nil, errors.New("the certificate has no tree, or a split lacks a half")
	}
	if n.Cannot != nil {
		v.Leaves++
		return nil, c.cannot(n.Cannot, on)
	}
	if n.Split == nil {
		v.Leaves++
		return c.leaf(n, on, count)
	}
	key, all, err := c.quantity(n.Split)
	if err != nil {
		return nil, err
	}
	by := c.multiple(n.Split)
	had, known := on[key]
	if known {
		all = had
	}
	if n.At < all.lo || n.At >= all.hi {
		return nil, fmt.Errorf("a split of %s at %d leaves nothing on one side of %d to %d", key, n.At, all.lo, all.hi)
	}
	var worst *big.Int
	for _, half := range []struct {
		n *node
		s span
	}{{n.Low, span{all.lo, n.At / by * by}}, {n.High, span{(n.At/by + 1) * by, all.hi}}} {
		on[key] = half.s
		b, err := c.tree(half.n, on, count, v)
		if err != nil {
			return nil, err
		}
		if worst == nil || b != nil && b.Cmp(worst) > 0 {
			worst = b
		}
	}
	if delete(on, key); known {
		on[key] = had
	}
	return worst, nil
}

// leaf evaluates the Lagrangian.
func (c *casework) leaf(n *node, on limits, count bool) (*big.Int, error) {
	if err := c.shape(n); err != nil {
		return nil, err
	}
	if err := c.spend(c.leafWork); err != nil {
		return nil, err
	}
	sum := new(big.Int)
	within := func(key string, otherwise span) span {
		if s, ok := on[key]; ok {
			return s
		}
		return otherwise
	}
	use, toll := c.charges(n)
	for i := range c.claim.cert.Panels {
		if n.Price[i] < 0 {
			return nil, fmt.Errorf("panel %d has the price %d", i, n.Price[i])
		}
		sum.Add(sum, times(n.Price[i], c.given[i]))
		use[i].Add(use[i], big.NewInt(n.Price[i]))
	}
	for _, list := range []struct {
		name string
		each []int64
	}{{"panel", n.Use}, {"sum", n.Sums}} {
		for i, v := range list.each {
			key := fmt.Sprintf("%s %d", list.name, i)
			if _, limited := on[key]; v != 0 && !limited {
				return nil, fmt.Errorf("%s is charged for without a limit", key)
			}
			sum.Add(sum, most(big.NewInt(v), within(key, span{})))
		}
	}
	for q := range c.p.quotas {
		sum.Add(sum, most(big.NewInt(n.Quota[q]), within(fmt.Sprintf("quota %d", q), span{0, c.p.quotas[q].wanted})))
	}
	for _, w := range c.ways {
		gain := big.NewInt(c.claim.cert.Unit)
		if !count {
			gain.Mul(gain, big.NewInt(c.steps[w.quota]))
		}
		for _, u := range w.panels {
			gain.Sub(gain, new(big.Int).Mul(use[u.at], big.NewInt(u.n)))
		}
		for _, t := range w.trims {
			gain.Sub(gain, big.NewInt(n.Trim[t]))
		}
		gain.Sub(gain, big.NewInt(n.Quota[w.quota]))
		gain.Sub(gain, toll[w.quota])
		sum.Add(sum, most(gain, within(w.key, span{0, c.p.quotas[w.quota].wanted})))
	}
	for t := range c.trims {
		for _, o := range c.trims[t].options {
			gain := big.NewInt(n.Trim[t])
			gain.Sub(gain, new(big.Int).Mul(use[o.at], big.NewInt(c.trims[t].n)))
			sum.Add(sum, most(gain, within(o.key, span{0, c.trims[t].most})))
		}
	}
	cloth, err := c.fabric(n.Price)
	if err != nil {
		return nil, err
	}
	return sum.Add(sum, cloth), nil
}

// charges gives what a leaf adds to the price of each panel that is used, and what it charges for
// a pillowcase of each quota, sums included.
func (c *casework) charges(n *node) (use, toll []*big.Int) {
	for i := range c.claim.cert.Panels {
		use = append(use, new(big.Int))
		if n.Use != nil {
			use[i].SetInt64(n.Use[i])
		}
	}
	for range c.p.quotas {
		toll = append(toll, new(big.Int))
	}
	for i, v := range n.Sums {
		for _, q := range c.claim.cert.Sums[i].Quotas {
			toll[q].Add(toll[q], big.NewInt(v))
		}
		for _, at := range c.claim.cert.Sums[i].Panels {
			use[at].Add(use[at], big.NewInt(v))
		}
	}
	return use, toll
}

func times(a, b int64) *big.Int { return new(big.Int).Mul(big.NewInt(a), big.NewInt(b)) }

// most gives the greatest of each·n for n within a span.
func most(each *big.Int, s span) *big.Int {
	if each.Sign() > 0 {
		return new(big.Int).Mul(each, big.NewInt(s.hi))
	}
	return new(big.Int).Mul(each, big.NewInt(s.lo))
}

func (c *casework) shape(n *node) error {
	cert := c.claim.cert
	if len(n.Price) != len(cert.Panels) || n.Use != nil && len(n.Use) != len(cert.Panels) ||
		len(n.Quota) != len(cert.Quotas) || len(n.Trim) != len(cert.Trims) || n.Sums != nil && len(n.Sums) != len(cert.Sums) {
		return errors.New("a leaf has not one multiplier for each panel, quota, trim and sum")
	}
	for _, list := range [][]int64{n.Price, n.Use, n.Quota, n.Trim, n.Sums} {
		for _, v := range list {
			if v > mostMultiplier || v < -mostMultiplier {
				return fmt.Errorf("a multiplier of %d is beyond all reason", v)
			}
		}
	}
	return nil
}

// mostMultiplier keeps the sum of two multipliers far inside int64.
const mostMultiplier = 1 << 58
