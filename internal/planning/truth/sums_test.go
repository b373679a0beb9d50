package truth

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
)

// Sums broken on purpose: a multiplier moved, something named twice or not at all, a sum left
// out, a limit that is charged for and taken away. Each is refused, also where the plan claims
// no more than what its certificate proved before.
func TestBrokenSumsAreRefused(t *testing.T) {
	moved, doubled, unlimited := 0, 0, 0
	for _, x := range provenDrives(t, drawn{"typed", 3, 4}, drawn{"sizes", 3, 4}, drawn{"steep", 1, 4}) {
		changed := func(change func(*planning.Certificate)) *planning.Certificate {
			c := &planning.Certificate{}
			require.NoError(t, json.Unmarshal(text(t, x.plan.Certificate), c))
			change(c)
			return c
		}
		// broken gives the plan's file with its own bounds, its certificate changed.
		broken := func(change func(*planning.Certificate)) []byte {
			plan := *x.plan
			plan.Certificate = changed(change)
			return text(t, &plan)
		}
		require.NoError(t, checked(t, x.problem, broken(func(*planning.Certificate) {})))

		for i, s := range x.plan.Certificate.Sums {
			require.ErrorContains(t, checked(t, x.problem, broken(func(c *planning.Certificate) {
				of := &c.Sums[i]
				if len(of.Quotas) > 0 {
					of.Quotas = append(of.Quotas, of.Quotas[0])
				} else {
					of.Panels = append(of.Panels, of.Panels[0])
				}
			})), "it has already", "%s: %v", x.name, s)
			require.ErrorContains(t, checked(t, x.problem, broken(func(c *planning.Certificate) {
				c.Sums[i].Quotas = append(c.Sums[i].Quotas, len(c.Quotas))
			})), "which there is not", "%s: %v", x.name, s)
			require.Error(t, checked(t, x.problem, broken(func(c *planning.Certificate) {
				c.Sums = slices.Delete(c.Sums, i, i+1)
			})), "%s without %v", x.name, s)
			doubled++
		}

		for at, n := range nodesOf(x.plan.Certificate.Tree) {
			for i, v := range n.Sums {
				if v == 0 {
					continue
				}
				// So low that every pillowcase or panel of the sum would seem worth more than all of the plan.
				err := checked(t, x.problem, broken(func(c *planning.Certificate) { nodesOf(c.Tree)[at].Sums[i] = -1 << 50 }))
				require.ErrorContains(t, err, "the certificate proves", "%s: sum %d of node %d", x.name, i, at)
				for _, by := range []int64{1, -1, x.plan.Certificate.Unit, -x.plan.Certificate.Unit} {
					lie := x.lie(t, changed(func(c *planning.Certificate) { nodesOf(c.Tree)[at].Sums[i] += by }))
					require.Error(t, checked(t, x.problem, lie), "%s: sum %d of node %d moved by %d", x.name, i, at, by)
				}
				moved++
			}
			if n.Split == nil || n.Split.Of != "sum" || splitsBy(x.plan.Certificate.Tree, n.Split.Sum) > 1 {
				continue
			}
			half := n.Low
			if !charges(half, n.Split.Sum) {
				half = n.High
			}
			if !charges(half, n.Split.Sum) {
				continue
			}
			err := checked(t, x.problem, broken(func(c *planning.Certificate) { *nodesOf(c.Tree)[at] = *half }))
			require.ErrorContains(t, err, "without a limit", "%s: node %d", x.name, at)
			unlimited++
		}
	}
	require.Positive(t, moved)
	require.Positive(t, doubled)
	require.Positive(t, unlimited)
	t.Logf("%d multipliers moved, %d sums broken, %d limits taken away", moved, doubled, unlimited)
}

// nodesOf lists a tree's nodes, always in the same order.
func nodesOf(n *planning.CertifiedNode) []*planning.CertifiedNode {
	if n == nil {
		return nil
	}
	return append(append([]*planning.CertifiedNode{n}, nodesOf(n.Low)...), nodesOf(n.High)...)
}

// splitsBy counts the nodes that are parted by a sum.
func splitsBy(tree *planning.CertifiedNode, sum int) int {
	count := 0
	for _, n := range nodesOf(tree) {
		if n.Split != nil && n.Split.Of == "sum" && n.Split.Sum == sum {
			count++
		}
	}
	return count
}

// charges says whether a leaf below a node has a multiplier for a sum.
func charges(tree *planning.CertifiedNode, sum int) bool {
	return slices.ContainsFunc(nodesOf(tree), func(n *planning.CertifiedNode) bool { return n.Sums != nil && n.Sums[sum] != 0 })
}
