package truth

import (
	"math/big"
	"slices"

	"boltward/internal/planning"
)

// brute tries everything: for each piece all patterns that none other covers, then all ways to
// sew, by depth first search. It takes whole numbers alone.
type brute struct {
	p      *planning.Problem
	kinds  []panelKind
	groups []string
	work   int
}

const bruteLimit = 300_000

// bruteForce gives the most weight that can be made; ok is false where trying would take too long.
func bruteForce(p *planning.Problem) (best *big.Rat, ok bool) {
	b := &brute{p: p, kinds: kindsOf(p)}
	for i := range p.Fabrics {
		if g := p.Fabrics[i].Group; !slices.Contains(b.groups, g) {
			b.groups = append(b.groups, g)
		}
	}
	// What can lie cut, as counts by group and kind, after each piece.
	all := map[string]bool{string(make([]byte, len(b.groups)*len(b.kinds))): true}
	for i := range p.Fabrics {
		f := &p.Fabrics[i]
		c := &cutter{kinds: b.kinds, work: 10 * bruteLimit}
		patterns := c.patterns(f)
		if c.work < 0 {
			return nil, false
		}
		for range f.Pieces {
			next := map[string]bool{}
			for s := range all {
				for _, v := range patterns {
					sum := []byte(s)
					at := b.groupAt(f.Group) * len(b.kinds)
					for k, n := range []byte(v) {
						sum[at+k] += n
					}
					next[string(sum)] = true
					if b.work++; b.work > bruteLimit {
						return nil, false
					}
				}
			}
			all = next
		}
	}
	best = new(big.Rat)
	for s := range all {
		if n := b.sew([]byte(s), 0, make([]int, len(p.Quotas))); n.Cmp(best) > 0 {
			best = n
		}
		if b.work > 20*bruteLimit {
			return nil, false
		}
	}
	return best, true
}

func (b *brute) groupAt(g string) int { return slices.Index(b.groups, g) }

// sew tries every next pillowcase from way number from on.
func (b *brute) sew(have []byte, from int, made []int) *big.Rat {
	best, way := new(big.Rat), 0
	if b.work++; b.work > 20*bruteLimit {
		return best
	}
	for q := range b.p.Quotas {
		quota := &b.p.Quotas[q]
		for _, id := range quota.Cases {
			for _, body := range quota.Bodies {
				for _, pick := range b.picks(b.p.CaseByID(id), body) {
					if way++; way <= from || made[q] >= quota.Wanted {
						continue
					}
					rest := slices.Clone(have)
					if !b.take(rest, pick) {
						continue
					}
					made[q]++
					worth := b.sew(rest, way-1, made)
					if worth.Add(worth, quota.Weight.Rat()); worth.Cmp(best) > 0 {
						best = worth
					}
					made[q]--
				}
			}
		}
	}
	return best
}

type need struct{ at, n int }

// picks lists the choices of groups for a case with this body group.
func (b *brute) picks(c *planning.Case, body string) [][]need {
	out := [][]need{nil}
	for _, l := range c.Panels {
		from := b.p.Trimming(body, l.Role)
		if l.Role == planning.Body {
			from = []string{body}
		}
		var next [][]need
		for _, had := range out {
			for _, g := range from {
				if at := b.groupAt(g); at >= 0 {
					k := slices.Index(b.kinds, kindOf(l))
					next = append(next, append(slices.Clone(had), need{at*len(b.kinds) + k, l.Pieces}))
				}
			}
		}
		out = next
	}
	return out
}

func (b *brute) take(have []byte, pick []need) bool {
	for _, n := range pick {
		if int(have[n.at]) < n.n {
			return false
		}
		have[n.at] -= byte(n.n)
	}
	return true
}
