package truth

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning/proof"
)

// A problem of one long piece and sides that add up to nearly every length of a fine grid.
const fineProblem = `{"unit":"mm","fabrics":[{"id":"F","length":9999999,"width":9999,"group":"a","roles":["body","cuff"]}],
"cases":[{"id":"c","panels":[{"role":"body","around":1041.387,"along":685.813},{"role":"cuff","around":1041.387,"along":50.801}]}],
"trims":{"a":["a"]},"quotas":[{"id":"q","cases":["c"],"wanted":10000000,"bodies":["a"]}],"kit":{"cases":4}}`

// What a certificate asks of the checker is bounded in time and memory, and it heeds its context.
func TestHostileCertificatesAreRefusedSoon(t *testing.T) {
	certificate := func(grid, tree string) string {
		return `{"summary":{"weight_bound":0,"cases_bound":0},"certificate":{"step":1,"unit":1000,"quotas":["q"],"trims":[],
"panels":[{"group":"a","role":"body","around":1041.387,"along":685.813},{"group":"a","role":"cuff","around":1041.387,"along":50.801}],
"grids":[` + grid + `],"sums":[` + strings.TrimSuffix(strings.Repeat(`{"quotas":[0]},`, 9000), ",") + `],"tree":` + tree + `}}`
	}
	const leaf = `{"price":[900,100],"quota":[1000],"trim":[]}`
	deep := func(leaf string) string {
		var s strings.Builder
		for i := range 9000 {
			fmt.Fprintf(&s, `{"split":{"of":"sum","sum":%d},"at":3,"high":%s,"low":`, i, leaf)
		}
		return s.String() + leaf + strings.Repeat("}", 9000)
	}
	wide := strings.Replace(deep(leaf), `"price":[900,100]`, `"price":[900,101]`, 4000)
	// 70 × 70 parts of what never lies cut, on a width of thousands of points.
	parts := `{"split":{"of":"panel","panel":0},"at":69,"low":` + leaf + `,"high":{"split":{"of":"panel","panel":1},"at":69,"low":` + leaf + `,"high":{"cannot":[0,1]}}}`
	coarse := `{"group":"a","grid":1}`
	for name, c := range map[string]struct{ problem, plan, why string }{
		"a grid that wraps every count":    {fineProblem, certificate(`{"group":"a","grid":1e-18}`, leaf), "too fine"},
		"a grid of a thousandth of a hair": {fineProblem, certificate(`{"group":"a","grid":1e-9}`, leaf), ""},
		"no grid given":                    {fineProblem, certificate("", leaf), ""},
		"nine thousand levels":             {fineProblem, certificate(coarse, deep(leaf)), ""},
		"leaves without end":               {fineProblem, certificate(coarse, wide), ""},
		"a hundred thousand levels":        {fineProblem, certificate(coarse, strings.Repeat(`{"low":`, 100_000)+"{}"+strings.Repeat("}", 100_000)), "depth"},
		"many parts to try":                {fineProblem, certificate(coarse, parts), ""},
		"an exponent of a million":         {strings.Replace(fineProblem, "9999999", "1e999999", 1), certificate("", leaf), "of this size"},
		"pieces without number":            {strings.Replace(fineProblem, `"id":"F"`, `"id":"F","pieces":9000000000000000000`, 1), certificate("", leaf), "pieces"},
		"pieces below 0":                   {strings.Replace(fineProblem, `"id":"F"`, `"id":"F","pieces":-5`, 1), certificate("", leaf), "pieces"},
		"a piece twice":                    {strings.Replace(fineProblem, `"fabrics":[`, `"fabrics":[{"id":"F","length":9,"width":9,"group":"b","roles":[]},`, 1), certificate("", leaf), "twice"},
		"a second problem":                 {fineProblem + fineProblem, certificate("", leaf), "follows"},
		"a second plan":                    {fineProblem, certificate("", leaf) + certificate("", leaf), "follows"},
	} {
		t.Run(name, func(t *testing.T) {
			// The long rounds wait for the end, which the count of work brings.
			wait := 200 * time.Millisecond
			if long() {
				wait = 20 * time.Minute
			}
			ctx, stop := context.WithTimeout(context.Background(), wait)
			defer stop()
			peak := heapPeak()
			began := time.Now()
			_, err := proof.Check(ctx, strings.NewReader(c.problem), strings.NewReader(c.plan))
			took, most := time.Since(began), peak()
			require.ErrorContains(t, err, c.why)
			require.False(t, long() && errors.Is(err, context.DeadlineExceeded))
			require.Less(t, most>>20, uint64(900), "MiB")
			require.Less(t, took, wait+20*time.Second, "it does not heed its context")
			t.Logf("%v, %d MiB: %.150s", took.Round(time.Millisecond), most>>20, err)
		})
	}
}

// heapPeak watches how large the heap gets until the function it gives is called.
func heapPeak() func() uint64 {
	var most atomic.Uint64
	end, ended := make(chan struct{}), make(chan struct{})
	runtime.GC()
	go func() {
		defer close(ended)
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most.Store(max(most.Load(), m.HeapAlloc))
			select {
			case <-end:
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	return func() uint64 {
		close(end)
		<-ended
		return most.Load()
	}
}

// A panel that lies cut and has no price is not forgotten.
func TestPanelsThatLieCutAreCounted(t *testing.T) {
	problem := `{"unit":"in","fabrics":[{"id":"F","length":10,"width":10,"group":"a","roles":["body"]},{"id":"G","length":1,"width":1,"group":"a","roles":["body"]}],
"cases":[{"id":"c","panels":[{"role":"body","around":10,"along":10}]}],"trims":{},"quotas":[{"id":"q","cases":["c"],"wanted":5,"bodies":["a"]}],"kit":{"cases":4},
"fixed":{"layouts":[{"fabric":"F","piece":1,"used":10,"panels":[{"id":"x","role":"body","case":"c","x":0,"y":0,"w":10,"h":10}],"remnants":[]}],"kits":[]}}`
	plan := `{"summary":{"weight_bound":0,"cases_bound":0},"certificate":{"step":1,"unit":1000,"quotas":["q"],"trims":[],"panels":[],"tree":{"price":[],"quota":[0],"trim":[]}}}`
	_, err := proof.Check(context.Background(), bytes.NewReader([]byte(problem)), strings.NewReader(plan))
	require.ErrorContains(t, err, "no price")
}
