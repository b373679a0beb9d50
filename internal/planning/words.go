package planning

import "fmt"

// Words says in a sentence or two what a plan makes and how good that is.
func Words(p *Plan) string {
	s := &p.Summary
	made := fmt.Sprintf("Makes %s.", cases(s.CasesMade))
	rules := "Under these rules (three stages of cuts, these sizes, these matches) no cutting of this fabric makes more"
	if weightsDiffer(p) {
		if s.WeightMade == s.WeightBound {
			return fmt.Sprintf("%s By what matters most this is the best there is: worth %s of %s. %s than %d.", made, s.WeightMade, s.WeightBound, rules, s.CasesBound)
		}
		return fmt.Sprintf("%s Worth %s, and proven never more than %s. %s than %d.", made, s.WeightMade, s.WeightBound, rules, s.CasesBound)
	}
	if s.CasesMade == s.CasesBound {
		return made + " " + rules + "."
	}
	return fmt.Sprintf("%s %s than %d.", made, rules, s.CasesBound)
}

// Doing says what the planner is at in one of its phases, to go after "It is".
func Doing(phase string) string {
	switch phase {
	case "bound":
		return "working out the most that this cloth could make"
	case "cutting":
		return "laying out a first plan"
	case "improving", "proving":
		// They take turns many times a second.
		return "looking for a better way to cut, or for proof that there is none"
	case "saving cloth":
		return "looking for a way to make the same from less cloth"
	case "done":
		return "writing the plan down"
	}
	return "looking at the cloth and the sizes"
}

func cases(n int) string {
	if n == 1 {
		return "1 pillowcase"
	}
	return fmt.Sprintf("%d pillowcases", n)
}

// weightsDiffer says whether the weight of a plan tells more than its number of pillowcases.
func weightsDiffer(p *Plan) bool {
	s := &p.Summary
	return s.WeightMade != Whole(int64(s.CasesMade)) || s.WeightBound != Whole(int64(s.CasesBound))
}
