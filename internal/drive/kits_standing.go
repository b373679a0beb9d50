package drive

import (
	"slices"
	"time"
)

// PartedStep is when a part parted from its kit, and when it counted in it again; nil: it is apart still.
type PartedStep struct {
	At    time.Time  `db:"at"`
	Again *time.Time `db:"again"`
}

// LastStanding gives the entry by which a kit moved last, and the last one of it at all, of those that stand: what
// was undone, and what undid it, counts for nothing. 0: none. history is the kit's, parted are the parts of it.
// A step that several parts came of is undone once all of them count in the kit again.
func LastStanding(history []KitStep, parted []PartedStep) (moved, last int64) {
	var standing []int // in history
	for i, step := range history {
		if step.Reason != undone || i == 0 {
			standing = append(standing, i)
			continue
		}
		if step.Cases == history[i-1].Cases {
			standing = standing[:max(len(standing)-1, 0)]
			continue
		}
		standing = slices.DeleteFunc(standing, func(at int) bool { return partedInVain(parted, history[at].At, step.At) })
	}
	for _, i := range standing {
		last = history[i].ID
		if i == 0 || history[i].To != history[i-1].To || history[i].Cases != history[i-1].Cases || !same(history[i].Holder, history[i-1].Holder) {
			moved = last
		}
	}
	return moved, last
}

// partedInVain says whether parts came of what happened at a moment, and all of them count in their kit again by another.
func partedInVain(parted []PartedStep, at, by time.Time) bool {
	of := func(p PartedStep) bool { return p.At.Equal(at) }
	apart := func(p PartedStep) bool { return of(p) && (p.Again == nil || p.Again.After(by)) }
	return slices.ContainsFunc(parted, of) && !slices.ContainsFunc(parted, apart)
}
