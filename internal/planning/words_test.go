package planning

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWords(t *testing.T) {
	const rules = "Under these rules (three stages of cuts, these sizes, these matches) no cutting of this fabric makes more"
	for _, test := range []struct {
		cases, casesBound, made, bound int64
		want                           string
	}{
		{62, 63, 62, 63, "Makes 62 pillowcases. " + rules + " than 63: at most 1 more."},
		{1, 1, 1, 1, "Makes 1 pillowcase. " + rules + "."},
		{0, 0, 0, 0, "Makes 0 pillowcases. " + rules + "."},
		// Each worth the same, whatever that is: the weight tells nothing more.
		{62, 63, 620, 630, "Makes 62 pillowcases. " + rules + " than 63: at most 1 more."},
		{15, 15, 1212, 1212, "Makes 15 pillowcases. " + rules + "."},
		{15, 17, 1212, 1212, "Makes 15 pillowcases. " + rules + " than 17: at most 2 more. By what matters most it is the best there is: worth 1212."},
		{15, 15, 1212, 1230, "Makes 15 pillowcases. " + rules + ". By what matters most it is worth 1212, and no plan is worth more than 1230."},
	} {
		p := &Plan{Summary: Summary{CasesMade: int(test.cases), CasesBound: int(test.casesBound), WeightMade: Whole(test.made), WeightBound: Whole(test.bound)}}
		require.Equal(t, test.want, Words(p))
	}
}

// Each phase the planner tells of has words of its own.
func TestDoing(t *testing.T) {
	p := teaTable(t)
	solved(t, p, Options{Progress: func(x Progress) {
		require.NotEqual(t, Doing(""), Doing(x.Phase), "phase %q", x.Phase)
	}})
}

func TestEnded(t *testing.T) {
	said := map[string]bool{}
	for _, why := range []Stopped{Closed, StoppedByEffort, StoppedByTime, StoppedByPerson} {
		said[Ended(why)] = true
	}
	require.Len(t, said, 4)
}
