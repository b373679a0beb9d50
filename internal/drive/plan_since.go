package drive

import (
	"slices"

	"boltward/internal/planning"
)

// LineSince is a line that is not as it was when a plan was made.
type LineSince struct {
	ID   string
	Name string
	More int // pillowcases more than the plan was made for; negative for how many too many stand
	Lost int // of those it made, how many count no more
}

// LinesSince compares what a plan was made for, and what it made, with what is asked for of it
// now and what still stands.
func LinesSince(made *planning.Problem, plan *planning.Plan, now *planning.Problem, stands PlanStands) []LineSince {
	wanted := map[string]int{}
	var ids []string
	see := func(p *planning.Problem, sign int) {
		for _, q := range p.Quotas {
			if _, known := wanted[q.ID]; !known {
				ids = append(ids, q.ID)
			}
			wanted[q.ID] += sign * q.Wanted
		}
	}
	see(now, 1)
	see(made, -1)
	var list []LineSince
	for _, id := range ids {
		l := LineSince{ID: id, Name: stands.Lines[id].Name, More: wanted[id], Lost: max(0, plan.Made(id)-stands.Plan.Made(id))}
		if l.More < 0 {
			// Fewer is a reason only where more of it still stands than is needed.
			l.More = min(0, wantedOf(now, id)-stands.Plan.Made(id))
		}
		if l.More != 0 || l.Lost > 0 {
			list = append(list, l)
		}
	}
	return list
}

func wantedOf(p *planning.Problem, id string) int {
	for _, q := range p.Quotas {
		if q.ID == id {
			return q.Wanted
		}
	}
	return 0
}

// LotsSince gives the lots that have cloth now and had none when a plan was made.
func LotsSince(made, now *planning.Problem) []int64 {
	known := map[int64]bool{}
	for _, f := range made.Fabrics {
		if lot, _, err := ParseClothID(f.ID); err == nil {
			known[lot] = true
		}
	}
	var lots []int64
	for _, f := range now.Fabrics {
		if lot, _, err := ParseClothID(f.ID); err == nil && !known[lot] && !slices.Contains(lots, lot) {
			lots = append(lots, lot)
		}
	}
	slices.Sort(lots)
	return lots
}
