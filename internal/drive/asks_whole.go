package drive

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// LineNeed is the cloth that a line takes for all that a plan leaves short of it, when none of
// it comes from what lies here already.
type LineNeed struct {
	Want    Want
	Missing int
	Cloth   []ClothNeed // by role, the body first; none where no size is chosen
}

// ClothNeed is cloth of one role, counted in pieces of a width.
type ClothNeed struct {
	Role          string
	Length, Width length.Length
}

// Yardage says how much of it is asked for, rounded up.
func (c ClothNeed) Yardage(unit length.Unit) string { return Yardage(mm(c.Length), unit) }

// WholeNeed tells what cloth everything takes that a plan of a problem leaves short, by the
// lines that are still asked for, most pillowcases first.
func WholeNeed(problem *planning.Problem, plan *planning.Plan, wants []Want) ([]LineNeed, error) {
	var list []LineNeed
	for i := range problem.Quotas {
		q := &problem.Quotas[i]
		at := slices.IndexFunc(wants, func(w Want) bool { return w.ID == q.ID })
		missing := q.Wanted - plan.Made(q.ID)
		if at < 0 || missing <= 0 {
			continue
		}
		need := LineNeed{Want: wants[at], Missing: missing}
		for _, n := range problem.Takes(q, missing) {
			long, err := side(n.Length)
			if err != nil {
				return nil, fmt.Errorf("cloth that is short: %w", err)
			}
			wide, err := side(n.Width)
			if err != nil {
				return nil, fmt.Errorf("width of cloth that is short: %w", err)
			}
			need.Cloth = addNeed(need.Cloth, ClothNeed{n.Role, long, wide})
		}
		list = append(list, need)
	}
	slices.SortStableFunc(list, func(a, b LineNeed) int { return cmp.Compare(b.Missing, a.Missing) })
	return list, nil
}

// AllNeeds adds up what lines need.
func AllNeeds(needs []LineNeed) (missing int, cloth []ClothNeed) {
	for _, n := range needs {
		missing += n.Missing
		for _, c := range n.Cloth {
			cloth = addNeed(cloth, c)
		}
	}
	return missing, cloth
}

// addNeed adds cloth of a role, as wide as the widest of it: bodies before what trims them.
func addNeed(list []ClothNeed, c ClothNeed) []ClothNeed {
	if at := slices.IndexFunc(list, func(o ClothNeed) bool { return o.Role == c.Role }); at >= 0 {
		list[at].Length += c.Length
		list[at].Width = max(list[at].Width, c.Width)
		return list
	}
	list = append(list, c)
	slices.SortStableFunc(list, func(a, b ClothNeed) int {
		body := func(c ClothNeed) int {
			if c.Role == planning.Body {
				return 0
			}
			return 1
		}
		return cmp.Or(body(a)-body(b), strings.Compare(b.Role, a.Role))
	})
	return list
}

// ClothWords says how much cloth of each role: "12 1/2 yd for bodies and 3 yd for cuffs".
func ClothWords(cloth []ClothNeed, unit length.Unit) string {
	var list []string
	for _, c := range cloth {
		roles := map[string]string{planning.Body: "bodies", "cuff": "cuffs", "accent": "accents"}
		name := cmp.Or(roles[c.Role], c.Role)
		list = append(list, c.Yardage(unit)+" for "+name)
	}
	return and(list)
}

// Kind says of which cloth a line's bodies are: "cotton, space or sea, no skulls".
func (w Want) Kind() string {
	var parts []string
	if len(w.Fibres) > 0 {
		parts = append(parts, strings.Join(w.Fibres, " or "))
	}
	if len(w.ThemesWanted) > 0 {
		parts = append(parts, strings.Join(w.ThemesWanted, " or "))
	}
	if len(w.ThemesAvoid) > 0 {
		parts = append(parts, "no "+strings.Join(w.ThemesAvoid, " or "))
	}
	return strings.Join(parts, ", ")
}
