package planning

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"testing"

	second "boltward/internal/planning/proof"

	"github.com/stretchr/testify/require"
)

// A certificate broken in any way must not prove the bound that the plan claims.
func TestTheSecondCheckerRefutesBrokenCertificates(t *testing.T) {
	p := teaTable(t)
	for name, spoil := range map[string]func(plan *Plan){
		"bound below what is proven": func(plan *Plan) { plan.Summary.WeightBound = Decimal{} },
		"cases below what is proven": func(plan *Plan) { plan.Summary.CasesBound = 0 },
		"no certificate":             func(plan *Plan) { plan.Certificate = nil },
		"no tree":                    func(plan *Plan) { plan.Certificate.Tree = nil },
		"a price below 0":            func(plan *Plan) { firstLeaf(plan).Price[0] = -1 },
		"a price forgotten":          func(plan *Plan) { firstLeaf(plan).Price = firstLeaf(plan).Price[1:] },
		"prices of 0":                func(plan *Plan) { clear(firstLeaf(plan).Price) },
		"places in quotas too dear":  func(plan *Plan) { firstLeaf(plan).Quota[0] += 1 << 50 },
		"a multiplier beyond reason": func(plan *Plan) { firstLeaf(plan).Price[0] = 1 << 60 },
		"use charged without limit": func(plan *Plan) {
			firstLeaf(plan).Use = make([]int64, len(plan.Certificate.Panels))
			firstLeaf(plan).Use[0] = 5
		},
		"half a split": func(plan *Plan) {
			plan.Certificate.Tree = &CertifiedNode{Split: &Quantity{Of: "quota"}, At: 1, Low: plan.Certificate.Tree}
		},
		"a split of nothing": func(plan *Plan) {
			plan.Certificate.Tree = &CertifiedNode{Split: &Quantity{Of: "moon"}, At: 1, Low: plan.Certificate.Tree, High: plan.Certificate.Tree}
		},
		"a split outside": func(plan *Plan) {
			plan.Certificate.Tree = &CertifiedNode{Split: &Quantity{Of: "quota"}, At: 1000, Low: plan.Certificate.Tree, High: plan.Certificate.Tree}
		},
		"a panel left out": func(plan *Plan) {
			plan.Certificate.Panels = plan.Certificate.Panels[1:]
			firstLeaf(plan).Price = firstLeaf(plan).Price[1:]
		},
		"another unit": func(plan *Plan) { plan.Certificate.Unit *= 2 },
		"another step": func(plan *Plan) { plan.Certificate.Step = Whole(7) },
	} {
		plan := solved(t, p, Options{Effort: 1})
		spoil(plan)
		problem, err := json.Marshal(p)
		require.NoError(t, err)
		text, err := json.Marshal(plan)
		require.NoError(t, err)
		_, err = second.Check(context.Background(), bytes.NewReader(problem), bytes.NewReader(text))
		require.Error(t, err, name)
	}
}

func firstLeaf(plan *Plan) *CertifiedNode {
	n := plan.Certificate.Tree
	for n.Split != nil {
		n = n.Low
	}
	return n
}

func requireProven(t require.TestingT, p *Problem, plan *Plan) {
	problem, err := json.Marshal(p)
	require.NoError(t, err)
	text, err := json.Marshal(plan)
	require.NoError(t, err)
	_, err = second.Check(context.Background(), bytes.NewReader(problem), bytes.NewReader(text))
	require.NoError(t, err, "the second checker on %s", problem)
}

func long() bool { return os.Getenv("BOLTWARD_LONG") != "" }
