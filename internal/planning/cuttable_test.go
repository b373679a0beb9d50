package planning

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"

	second "boltward/internal/planning/proof"

	"github.com/stretchr/testify/require"
)

// A square of 2 by 2 gives two panels that lie across or two that lie along, never one of each;
// mixed half and half the relaxation sees a pillowcase in it.
const oneOfEach = `{"unit": "cm", "fabrics": [{"id": "f", "length": 2, "width": 2, "group": "g", "roles": ["body", "cuff"], "turn": "across"}],
 "cases": [{"id": "c", "panels": [{"role": "body", "around": 2, "along": 1}, {"role": "cuff", "around": 1, "along": 2}]}],
 "trims": {"g": ["g"]}, "quotas": [{"id": "q", "cases": ["c"], "wanted": 1, "bodies": ["g"]}], "kit": {"cases": 1}}`

func TestWhatCannotBeCutTogetherIsProven(t *testing.T) {
	p, err := ReadProblem(strings.NewReader(oneOfEach))
	require.NoError(t, err)
	plan := solved(t, p, Options{})
	require.Equal(t, Closed, plan.Summary.Stopped)
	require.Zero(t, plan.Summary.CasesBound)
	var cannot *CertifiedNode
	var walk func(n *CertifiedNode)
	walk = func(n *CertifiedNode) {
		if n.Cannot != nil {
			cannot = n
		}
		if n.Low != nil {
			walk(n.Low)
			walk(n.High)
		}
	}
	walk(plan.Certificate.Tree)
	require.NotNil(t, cannot, "nothing but what cannot be cut together closes this problem")
	require.Len(t, cannot.Cannot, 2)
	for name, spoiled := range map[string][]int{
		"one of them can be cut":  cannot.Cannot[:1],
		"a panel named twice":     {cannot.Cannot[0], cannot.Cannot[0]},
		"a panel that is none":    {99},
		"nothing that cannot be":  {},
		"a panel below the first": {-1},
	} {
		cannot.Cannot = spoiled
		problem, err := json.Marshal(p)
		require.NoError(t, err)
		text, err := json.Marshal(plan)
		require.NoError(t, err)
		_, err = second.Check(context.Background(), bytes.NewReader(problem), bytes.NewReader(text))
		require.Error(t, err, name)
	}
}
