package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// teaTable is a drive of a few lots: two prints, two solids, three sizes.
func teaTable(t testing.TB) *Problem {
	var fabrics []string
	lot := func(id, length, width, group, roles, turn string, pieces int) {
		fabrics = append(fabrics, fmt.Sprintf(`{"id": %q, "length": %s, "width": %s, "pieces": %d, "group": %q, "roles": [%s], "turn": %q}`, id, length, width, pieces, group, roles, turn))
	}
	lot("L1", "54", "42.5", "boats", `"body"`, "across", 1)
	lot("L2", "31.25", "43", "boats", `"body"`, "across", 2)
	lot("L3", "88", "42", "owls", `"body"`, "either", 1)
	lot("L4", "36", "42", "navy", `"body", "cuff", "accent"`, "either", 1)
	lot("L5", "18", "21", "navy", `"body", "cuff", "accent"`, "either", 3)
	lot("L6", "27", "42", "white", `"body", "cuff", "accent"`, "either", 1)
	text := `{"unit": "in", "fabrics": [` + strings.Join(fabrics, ",") + `], "cases": [
	 {"id": "standard", "panels": [{"role": "body", "around": 41, "along": 27}, {"role": "cuff", "around": 41, "along": 9}, {"role": "accent", "around": 41, "along": 2}]},
	 {"id": "child", "panels": [{"role": "body", "around": 29, "along": 17.5}, {"role": "cuff", "around": 29, "along": 7}]},
	 {"id": "two", "panels": [{"role": "body", "around": 20.5, "along": 17, "pieces": 2}, {"role": "cuff", "around": 20.5, "along": 9, "pieces": 2}]}],
	 "trims": {"boats": ["navy", "white"], "owls": ["white"], "navy": ["white"], "white": ["navy"]},
	 "quotas": [{"id": "ward", "cases": ["standard"], "wanted": 6, "weight": 2, "bodies": ["boats", "owls"]},
	  {"id": "hospice", "cases": ["child", "two"], "wanted": 5, "bodies": ["boats", "owls", "navy"], "kit": 2}], "kit": {"cases": 3}}`
	p, err := ReadProblem(strings.NewReader(text))
	require.NoError(t, err)
	return p
}

func solved(t testing.TB, p *Problem, o Options) *Plan {
	plan, err := Solve(context.Background(), p, o)
	require.NoError(t, err)
	require.Empty(t, Check(p, plan))
	requireProven(t, p, plan)
	return plan
}

func TestTheSameProblemGivesTheSamePlanOnAnyNumberOfCores(t *testing.T) {
	p := teaTable(t)
	var first []byte
	for _, cores := range []int{1, 2, 4} {
		was := runtime.GOMAXPROCS(cores)
		plan := solved(t, p, Options{})
		runtime.GOMAXPROCS(was)
		plan.Summary.Seconds = 0
		text, err := json.Marshal(plan)
		require.NoError(t, err)
		if first == nil {
			first = text
		}
		require.Equal(t, string(first), string(text), "%d cores", cores)
	}
}

func TestStoppedByAPersonGivesAValidPlanAndBound(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	p := teaTable(t)
	plan, err := Solve(ctx, p, Options{})
	require.NoError(t, err)
	require.Empty(t, Check(p, plan))
	require.Equal(t, StoppedByPerson, plan.Summary.Stopped)
	requireProven(t, p, plan)
}

func TestProgressOnlyEverImproves(t *testing.T) {
	p := teaTable(t)
	made, bound := Whole(-1), Whole(1_000_000)
	n, most := 0, 0
	plan := solved(t, p, Options{Progress: func(x Progress) {
		n++
		require.GreaterOrEqual(t, x.Made.Cmp(made), 0, "made sinks from %s to %s", made, x.Made)
		require.LessOrEqual(t, x.Bound.Cmp(bound), 0, "the bound rises from %s to %s", bound, x.Bound)
		require.LessOrEqual(t, x.Cases, x.CasesBound)
		made, bound, most = x.Made, x.Bound, x.CasesBound
	}})
	require.Positive(t, n)
	require.Equal(t, plan.Summary.WeightBound, bound)
	require.Equal(t, plan.Summary.CasesBound, most)
}

// Daily life, planned and explained, never refused.
func TestDailyLife(t *testing.T) {
	for name, change := range map[string]func(p *Problem){
		"no fabric":                 func(p *Problem) { p.Fabrics = nil },
		"no quotas":                 func(p *Problem) { p.Quotas = nil },
		"nothing wanted":            func(p *Problem) { p.Quotas[0].Wanted, p.Quotas[1].Wanted = 0, 0 },
		"no pieces":                 func(p *Problem) { p.Fabrics[0].Pieces = 0 },
		"a trim listed twice":       func(p *Problem) { p.Trims["boats"] = []string{"navy", "navy", "white"} },
		"groups named nowhere":      func(p *Problem) { p.Trims["ghost"], p.Quotas[0].Bodies = []string{"spook"}, []string{"spook"} },
		"a panel that fits nowhere": func(p *Problem) { p.Cases[0].Panels[0].Around = Whole(900) },
		"a million wanted":          func(p *Problem) { p.Quotas[0].Wanted = 1_000_000 },
		"steep weights":             func(p *Problem) { p.Quotas[0].Weight = Whole(100_000_000) },
		"a body that trims itself":  func(p *Problem) { p.Trims["navy"] = []string{"navy", "white"} },
	} {
		t.Run(name, func(t *testing.T) {
			p := teaTable(t)
			change(p)
			require.NoError(t, p.Validate())
			solved(t, p, Options{Effort: 40})
			_, err := WhyNot(context.Background(), p, solved(t, p, Options{Effort: 20}))
			require.NoError(t, err)
		})
	}
}

func TestAThousandIdenticalPieces(t *testing.T) {
	p := teaTable(t)
	p.Fabrics[0].Pieces, p.Fabrics[3].Pieces = 1000, 400
	p.Quotas[0].Wanted = 700
	plan := solved(t, p, Options{Effort: 300})
	require.GreaterOrEqual(t, plan.Summary.CasesMade, 690)
}

// Long bolts, and sides that add up in more ways than a table can hold: the plan is made on a
// coarser grid, the bound on one that is coarser the other way.
func TestLongStockAndOddSizes(t *testing.T) {
	p := teaTable(t)
	p.Fabrics[0].Length, p.Fabrics[3].Length = Whole(39370), Whole(4000) // a kilometre, a hundred metres
	p.Quotas[0].Wanted = 3000
	start := time.Now()
	plan := solved(t, p, Options{Effort: 100})
	require.Greater(t, plan.Summary.CasesMade, 100)
	t.Logf("a kilometre: %s, %v", Words(plan), time.Since(start))

	odd := teaTable(t)
	for i := range odd.Cases {
		for j := range odd.Cases[i].Panels {
			l := &odd.Cases[i].Panels[j]
			l.Around, l.Along = scaled(l.Around.coef*10007+int64(13*j+i), int(l.Around.places)+4), scaled(l.Along.coef*10007+int64(7*i+3*j), int(l.Along.places)+4)
		}
	}
	odd.Fabrics[0].Length = Whole(3937)
	start = time.Now()
	plan = solved(t, odd, Options{Effort: 100})
	require.NotEmpty(t, plan.Certificate.Grids, "these sides were meant to be too many")
	require.Positive(t, plan.Summary.CasesMade)
	t.Logf("odd sizes: %s, %v", Words(plan), time.Since(start))
}

func TestCentimetresAndMillimetresAgree(t *testing.T) {
	cm, mm := teaTable(t), teaTable(t)
	grow := func(p *Problem, by int64) {
		times := func(d Decimal) Decimal { return scaled(d.coef*by, int(d.places)) }
		for i := range p.Fabrics {
			p.Fabrics[i].Length, p.Fabrics[i].Width = times(p.Fabrics[i].Length), times(p.Fabrics[i].Width)
		}
		for i := range p.Cases {
			for j := range p.Cases[i].Panels {
				l := &p.Cases[i].Panels[j]
				l.Around, l.Along = times(l.Around), times(l.Along)
			}
		}
	}
	cm.Unit, mm.Unit = "cm", "mm"
	grow(mm, 10)
	require.Equal(t, solved(t, cm, Options{}).Summary.WeightMade, solved(t, mm, Options{}).Summary.WeightMade)
}

func TestFixedKitsStandAndCount(t *testing.T) {
	p := teaTable(t)
	old := solved(t, p, Options{})
	first := old.Kits[0]
	p.Fixed = &Fixed{Kits: []Kit{first}}
	held := old.Panels()
	for i := range old.Layouts {
		for _, x := range old.Layouts[i].Panels {
			if held[x.ID].Kit != nil && held[x.ID].Kit.ID == first.ID {
				p.Fixed.Layouts = append(p.Fixed.Layouts, old.Layouts[i])
				break
			}
		}
	}
	plan := solved(t, p, Options{})
	require.GreaterOrEqual(t, plan.Summary.CasesMade, len(first.Pillowcases))
	require.True(t, slices.ContainsFunc(plan.Kits, func(k Kit) bool { return k.ID == first.ID }))
	p.Fixed.Kits[0].Quota = "nobody"
	require.Error(t, p.Validate())
}

func TestCheckFindsWhatIsBroken(t *testing.T) {
	p := teaTable(t)
	for name, spoil := range map[string]func(plan *Plan){
		"unit":            func(plan *Plan) { plan.Unit = "cm" },
		"panel moved out": func(plan *Plan) { plan.Layouts[0].Panels[0].X = Whole(40) },
		"panel shrunk":    func(plan *Plan) { plan.Layouts[0].Panels[0].W = Whole(1) },
		"piece twice":     func(plan *Plan) { plan.Layouts = append(plan.Layouts, plan.Layouts[0]) },
		"no such piece":   func(plan *Plan) { plan.Layouts[0].Piece = 99 },
		"used":            func(plan *Plan) { plan.Layouts[0].Used = Whole(1) },
		"kit too large": func(plan *Plan) {
			plan.Kits[0].Pillowcases = append(plan.Kits[0].Pillowcases, plan.Kits[0].Pillowcases...)
		},
		"kit missing":       func(plan *Plan) { plan.Kits = plan.Kits[1:] },
		"role missing":      func(plan *Plan) { delete(plan.Kits[0].Pillowcases[0], "cuff") },
		"unknown panel":     func(plan *Plan) { plan.Kits[0].Pillowcases[0]["cuff"] = []string{"nowhere"} },
		"made too many":     func(plan *Plan) { plan.Quotas[0].Made++ },
		"bound too low":     func(plan *Plan) { plan.Summary.WeightBound = Decimal{} },
		"wrong area":        func(plan *Plan) { plan.Summary.AreaUsed = Whole(1) },
		"poor remnant kept": func(plan *Plan) { plan.Layouts[0].Remnants = []Remnant{{W: Whole(1), H: Whole(1)}} },
	} {
		plan := solved(t, p, Options{Effort: 20})
		spoil(plan)
		require.NotEmpty(t, Check(p, plan), name)
	}
}

func TestWithinIsACeiling(t *testing.T) {
	start := time.Now()
	plan := solved(t, teaTable(t), Options{Effort: 1 << 40, Within: 200 * time.Millisecond})
	require.Contains(t, []Stopped{Closed, StoppedByTime}, plan.Summary.Stopped)
	require.Less(t, time.Since(start), 20*time.Second)
}

func ExampleSolve() {
	p, err := ReadProblem(strings.NewReader(sound))
	if err != nil {
		panic(err)
	}
	plan, err := Solve(context.Background(), p, Options{})
	if err != nil {
		panic(err)
	}
	fmt.Println(Words(plan))
	// Output: Makes 2 pillowcases. Under these rules (three stages of cuts, these sizes, these matches) no cutting of this fabric makes more.
}
