package planning

import (
	"cmp"
	"slices"
)

// shareNodes lets two trees work on different nodes of one: each has a share of those with the
// highest bound, which is what lowers the bound of all. A node that goes over takes all below it
// along. Whoever works on a node has read nothing from the other's programme: its limits say all.
func shareNodes(a, b *tree) {
	top := max(a.highest(), b.highest())
	of := func(t *tree) (list []*node) {
		for _, n := range t.open {
			if n.bound == top {
				list = append(list, n)
			}
		}
		return list
	}
	ours, theirs := of(a), of(b)
	switch {
	case 2*len(ours) < len(theirs):
		b.handOver(a, theirs, (len(theirs)-len(ours))/2)
	case 2*len(theirs) < len(ours):
		a.handOver(b, ours, (len(ours)-len(theirs))/2)
	}
	a.elsewhere, b.elsewhere = b.highest(), a.highest()
	a.lower()
	b.lower()
}

// handOver gives another tree some of the nodes listed, those with the fewest limits: most is
// likely to lie below them, and the tree goes on where it is with the others.
func (t *tree) handOver(to *tree, list []*node, count int) {
	slices.SortStableFunc(list, func(a, b *node) int { return cmp.Compare(len(a.limits), len(b.limits)) })
	list = list[:count]
	t.open = slices.DeleteFunc(t.open, func(n *node) bool { return slices.Contains(list, n) })
	for _, n := range list {
		n.from = nil // the other programme numbers its variables otherwise
	}
	to.open = append(to.open, list...)
}
