package planning

import (
	"fmt"
	"math/big"
)

// Words says in a few sentences what a plan makes and how good that is.
func Words(p *Plan) string {
	s := &p.Summary
	said := fmt.Sprintf("Makes %s. Under these rules (three stages of cuts, these sizes, these matches) no cutting of this fabric makes more", cases(s.CasesMade))
	if s.CasesMade == s.CasesBound {
		said += "."
	} else {
		said += fmt.Sprintf(" than %d: at most %d more.", s.CasesBound, s.CasesBound-s.CasesMade)
	}
	switch {
	case !weightsTell(s.WeightMade, s.WeightBound, s.CasesMade, s.CasesBound):
		return said
	case s.WeightMade == s.WeightBound:
		return fmt.Sprintf("%s By what matters most it is the best there is: worth %s.", said, s.WeightMade)
	}
	return fmt.Sprintf("%s By what matters most it is worth %s, and no plan is worth more than %s.", said, s.WeightMade, s.WeightBound)
}

// Figures says in a sentence each what decides between plans that are worth the same, in order.
func Figures(p *Plan) string {
	s := &p.Summary
	said := fmt.Sprintf("It takes %s square %s of cloth from %s", s.AreaUsed, p.Unit, counted(s.PiecesOpened, "piece"))
	said += fmt.Sprintf(", in %s of %s", counted(len(p.Kits), "kit"), counted(s.Bundles, "bundle"))
	switch {
	case s.BundlesLeast == s.Bundles && s.Bundles > 0:
		said += " (proven: these panels go into these kits in no fewer)"
	case s.BundlesLeast > 0:
		said += fmt.Sprintf(" (proven: in no fewer than %d)", s.BundlesLeast)
	}
	return fmt.Sprintf("%s. The lengths left on those pieces, each squared, sum up to %s square %s: the more, the longer what is left.", said, s.LeftSquares, p.Unit)
}

// Ended says why planning ended, and what that means.
func Ended(why Stopped) string {
	switch why {
	case Closed:
		return "The search is closed: nothing better exists."
	case StoppedByTime:
		return "The search stopped at its limit of time: with more it might find more, and on another day it may find another plan."
	case StoppedByPerson:
		return "Somebody stopped the search and kept the best so far."
	}
	return "The search stopped when its share of work was done: more work might find more."
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

func cases(n int) string { return counted(n, "pillowcase") }

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// WeightsDiffer says whether the weight so far tells more than the number of pillowcases.
func (p Progress) WeightsDiffer() bool {
	return weightsTell(p.Made, p.Bound, p.Cases, p.CasesBound)
}

// Closed says whether the best so far is worth what no plan is worth more than.
func (p Progress) Closed() bool { return p.Cases > 0 && p.Made == p.Bound }

// weightsTell says whether weights tell more than numbers of pillowcases: not where each is
// worth the same, nor where both figures meet their bounds.
func weightsTell(made, bound Decimal, cases, most int) bool {
	whole := func(n int) *big.Rat { return new(big.Rat).SetInt64(int64(n)) }
	return new(big.Rat).Mul(made.Rat(), whole(most)).Cmp(new(big.Rat).Mul(bound.Rat(), whole(cases))) != 0
}
