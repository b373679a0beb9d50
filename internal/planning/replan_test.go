package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"boltward/internal/apperr"
)

// requireChanged holds what every changed plan keeps to: it is valid, also in terms of the
// problem as given, its bound is proven for what it keeps, and what was settled has stayed.
func requireChanged(t require.TestingT, p *Problem, old *Plan, settled Settled, r *Replanned) {
	require.Empty(t, Check(r.Problem, r.Plan))
	requireProven(t, r.Problem, r.Plan)
	require.GreaterOrEqual(t, r.Plan.Summary.WeightBound.Cmp(r.Plan.Summary.WeightMade), 0)
	sewn := map[string]bool{}
	for i := range r.Plan.Kits {
		for _, id := range r.Plan.Kits[i].panels() {
			sewn[id] = true
		}
	}
	for _, l := range r.Plan.Layouts {
		for _, x := range l.Panels {
			require.True(t, sewn[x.ID] || slices.Contains(settled.Pieces, PieceName{l.Fabric, l.Piece}), "panel %s of %s is cut for nothing", x.ID, l.Fabric)
		}
	}
	joined := r.Joined(p)
	for _, at := range settled.Pieces {
		require.Equal(t, old.LayoutOf(at.Fabric, at.Piece), joined.LayoutOf(at.Fabric, at.Piece))
	}
	bare := *p
	bare.Fixed = &Fixed{Kits: joined.Kits, Layouts: joined.Layouts} // how many kits there are is judged of plans that keep none
	require.Empty(t, Check(&bare, joined))
	was, is := old.Panels(), joined.Panels()
	for _, id := range settled.Kits {
		require.Contains(t, r.Kept, id)
		require.Equal(t, kitOf(old, id), kitOf(r.Plan, id))
		for _, x := range kitOf(old, id).panels() {
			require.Equal(t, was[x].Layout.Fabric, is[x].Layout.Fabric)
			if settled.Lie {
				require.Equal(t, was[x].Panel, is[x].Panel, "kit %s may be cut: its panel %s lies where it lay", id, x)
			}
		}
	}
	for _, at := range settled.Pieces {
		require.Equal(t, old.LayoutOf(at.Fabric, at.Piece), r.Plan.LayoutOf(at.Fabric, at.Piece))
		require.NotContains(t, r.Recut, at)
	}
	require.Len(t, old.Kits, len(r.Kept)+len(r.Changed)+len(r.Gone))
	require.Len(t, r.Plan.Kits, len(r.Kept)+len(r.Changed)+len(r.New))
	for _, id := range r.Kept {
		require.Equal(t, content(kitOf(old, id)), content(kitOf(r.Plan, id)))
	}
}

func kitOf(plan *Plan, id string) *Kit {
	for i := range plan.Kits {
		if plan.Kits[i].ID == id {
			return &plan.Kits[i]
		}
	}
	return nil
}

func TestReplanKeepsWhatItCan(t *testing.T) {
	p := teaTable(t)
	old := solved(t, p, Options{})
	require.Greater(t, len(old.Kits), 1)
	// The first piece that the last kit is cut from came up short.
	last := old.Kits[len(old.Kits)-1]
	place := old.Panels()[last.Pillowcases[0][Body][0]]
	p.fabric(place.Layout.Fabric).Length = Whole(5)
	whole := StillWhole(p, old, Settled{})
	var settled Settled
	for _, k := range old.Kits {
		if whole[k.ID] && len(settled.Kits) == 0 {
			settled.Kits = append(settled.Kits, k.ID)
		}
	}
	r, err := Replan(context.Background(), p, old, settled, Options{Effort: 60})
	require.NoError(t, err)
	requireChanged(t, p, old, settled, r)
	require.Contains(t, append(r.Changed, r.Gone...), last.ID)
	_, err = Replan(context.Background(), p, old, Settled{Kits: []string{last.ID}}, Options{Effort: 60})
	require.True(t, apperr.Is(err, apperr.KindConflict), "a settled kit that has lost its fabric cannot be kept: %v", err)
}

func TestReplanOfNothingChangesNothing(t *testing.T) {
	p := teaTable(t)
	old := solved(t, p, Options{})
	r, err := Replan(context.Background(), p, old, Settled{}, Options{})
	require.NoError(t, err)
	requireChanged(t, p, old, Settled{}, r)
	require.Empty(t, slices.Concat(r.Changed, r.Gone, r.New))
	require.Empty(t, r.Recut)
	require.Empty(t, r.Quotas)
	for i := range old.Layouts {
		require.Contains(t, r.Plan.Layouts, old.Layouts[i])
	}
}

// New fabric came: what a kept layout leaves of its piece is used before a kit is given up.
func TestReplanUsesWhatKeptLayoutsLeave(t *testing.T) {
	p := teaTable(t)
	p.Fabrics = slices.DeleteFunc(p.Fabrics, func(f Fabric) bool { return f.ID != "L3" && f.ID != "L6" })
	p.fabric("L3").Length, p.fabric("L6").Length = Whole(88), Whole(14)
	p.Quotas = p.Quotas[:1]
	old := solved(t, p, Options{})
	require.Equal(t, 1, old.Summary.CasesMade, "the white is enough for one")
	p.Fabrics = append(p.Fabrics, Fabric{ID: "L9", Length: Whole(30), Width: Whole(42), Pieces: 1, Group: "white", Roles: p.fabric("L6").Roles, Turn: Either})
	r, err := Replan(context.Background(), p, old, Settled{}, Options{})
	require.NoError(t, err)
	requireChanged(t, p, old, Settled{}, r)
	require.Equal(t, 3, r.Plan.Summary.CasesMade, "88 in hold three bodies of 27 in")
	require.Equal(t, []string{"K1"}, r.Kept)
	require.Len(t, r.Problem.Fabrics, len(p.Fabrics)+2, "the rests of two pieces")
	joined := r.Joined(p)
	require.Len(t, joined.LayoutOf("L3", 1).Panels, 3)
	require.Equal(t, Whole(81), joined.LayoutOf("L3", 1).Used)
}

// What is cut for a settled kit stays where it lies, though what lay before it falls away and
// nobody has said that the piece is cut.
func TestReplanMovesNoPanelOfASettledKit(t *testing.T) {
	p := teaTable(t)
	p.Fabrics = slices.DeleteFunc(p.Fabrics, func(f Fabric) bool { return f.ID != "L3" && f.ID != "L6" })
	p.fabric("L3").Length, p.fabric("L6").Length = Whole(88), Whole(44)
	p.Quotas, p.Kit.Cases = p.Quotas[:1], 1
	old := solved(t, p, Options{})
	require.Equal(t, 3, old.Summary.CasesMade)
	p.Quotas[0].Wanted = 1
	for i := range old.Kits {
		settled := Settled{Kits: []string{old.Kits[i].ID}, Lie: true}
		r, err := Replan(context.Background(), p, old, settled, Options{})
		require.NoError(t, err)
		requireChanged(t, p, old, settled, r)
		require.Equal(t, 1, r.Plan.Summary.CasesMade)
	}
}

// Whatever happens to a plan, what is settled stays, the changed plan is valid, its bound is
// proven, and it makes no less than the whole kits that it could have kept.
func TestReplanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t)
		old, err := Solve(context.Background(), p, Options{Effort: 40})
		require.NoError(t, err)
		settled := Settled{Lie: rapid.Bool().Draw(t, "lie"), Whole: rapid.IntRange(0, 2).Draw(t, "leave kits") == 0}
		for i := range old.Kits {
			if rapid.IntRange(0, 3).Draw(t, "settled") == 0 {
				settled.Kits = append(settled.Kits, old.Kits[i].ID)
			}
		}
		for i := range old.Layouts {
			if rapid.IntRange(0, 5).Draw(t, "cut") == 0 {
				settled.Pieces = append(settled.Pieces, PieceName{old.Layouts[i].Fabric, old.Layouts[i].Piece})
			}
		}
		q := happens(t, p)
		whole := wholeKits(q, old, salvaged(q, old), settled)
		r, err := Replan(context.Background(), q, old, settled, Options{Effort: 40})
		broken := slices.ContainsFunc(settled.Kits, func(id string) bool { return !whole[id] })
		if broken {
			require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
			return
		}
		if apperr.Is(err, apperr.KindInvalid) {
			return // a settled piece does not fit the problem any more
		}
		require.NoError(t, err)
		requireChanged(t, q, old, settled, r)
		sum := 0.0
		for i := range old.Kits {
			if k := &old.Kits[i]; whole[k.ID] {
				require.True(t, !settled.Whole || slices.Contains(r.Kept, k.ID), "kit %s could stay", k.ID)
				sum += float64(len(k.Pillowcases)) * quotaOf(q, k.Quota).Weight.Float()
			}
		}
		require.GreaterOrEqual(t, r.Plan.Summary.WeightMade.Float(), sum)
	})
}

func quotaOf(p *Problem, id string) *Quota {
	for i := range p.Quotas {
		if p.Quotas[i].ID == id {
			return &p.Quotas[i]
		}
	}
	return nil
}

// happens draws what happened since: shorter and longer pieces, other numbers, new fabric.
func happens(t *rapid.T, p *Problem) *Problem {
	q := *p
	q.Fabrics, q.Quotas = slices.Clone(p.Fabrics), slices.Clone(p.Quotas)
	for i := range q.Fabrics {
		if rapid.IntRange(0, 3).Draw(t, "another length") == 0 {
			q.Fabrics[i].Length = Whole(int64(rapid.IntRange(1, 9).Draw(t, "length now")))
		}
	}
	for i := range q.Quotas {
		if rapid.IntRange(0, 3).Draw(t, "another number") == 0 {
			q.Quotas[i].Wanted = rapid.IntRange(0, 4).Draw(t, "wanted now")
		}
	}
	if rapid.Bool().Draw(t, "new fabric") && len(p.Fabrics) > 0 {
		f := p.Fabrics[0]
		f.ID, f.Pieces = "new", 1
		f.Length, f.Width = Whole(int64(rapid.IntRange(1, 9).Draw(t, "new length"))), Whole(int64(rapid.IntRange(1, 7).Draw(t, "new width")))
		q.Fabrics = append(q.Fabrics, f)
	}
	return &q
}

// How many kits change beside a plan made anew, on drives as the general-purpose peer's
// generator draws them, after one piece came up short. One drive alone may have to change
// most of its kits to make as much, so the sum over several is held.
func TestReplanChangesFewKits(t *testing.T) {
	gen := filepath.Join("..", "..", "..", "shared", "peer", "gen.py")
	if _, err := os.Stat(gen); err != nil {
		if gen = os.Getenv("BOLTWARD_PEER"); gen == "" {
			t.Skip("LEFT OUT: the generator of drives is not here; BOLTWARD_PEER names it")
		}
	}
	changed, anew, kits, givenUp := 0, 0, 0, 0
	for seed := 1; seed <= 8; seed++ {
		text, err := exec.Command("python3", gen, fmt.Sprint(seed), "30").Output()
		require.NoError(t, err)
		p, err := ReadProblem(strings.NewReader(string(text)))
		require.NoError(t, err)
		old := solved(t, p, Options{Effort: 100})
		if len(old.Layouts) == 0 {
			continue
		}
		l := &old.Layouts[seed*5%len(old.Layouts)]
		q := *p
		q.Fabrics = slices.Clone(p.Fabrics)
		q.fabric(l.Fabric).Length = half(l.Used)
		r, err := Replan(context.Background(), &q, old, Settled{}, Options{Effort: 100})
		require.NoError(t, err)
		requireChanged(t, &q, old, Settled{}, r)
		checkWithPeer(t, &q, r.Joined(&q))
		fresh := solved(t, &q, Options{Effort: 100})
		require.GreaterOrEqual(t, r.Plan.Summary.WeightMade.Cmp(fresh.Summary.WeightMade), 0, "seed %d makes less than a plan made anew", seed)
		left, err := Replan(context.Background(), &q, old, Settled{Whole: true}, Options{Effort: 100})
		require.NoError(t, err)
		requireChanged(t, &q, old, Settled{Whole: true}, left)
		require.LessOrEqual(t, left.Plan.Summary.WeightMade.Cmp(r.Plan.Summary.WeightMade), 0, "seed %d: fewer kits may change, and more is made", seed)
		for id, whole := range StillWhole(&q, old, Settled{}) {
			require.True(t, !whole || slices.Contains(left.Kept, id), "seed %d: kit %s could stay", seed, id)
			if whole && !slices.Contains(r.Kept, id) {
				givenUp++
			}
		}
		fixed := q
		fixed.Fixed = &Fixed{}
		rename(old, &fixed, fresh)
		c := Compare(&q, old, fresh)
		t.Logf("seed %d: %d kits; changed %d and fallen away %d in %d tries; made anew %d and %d", seed, len(old.Kits), len(r.Changed), len(r.Gone), r.Tries, len(c.Changed), len(c.Gone))
		changed, anew, kits = changed+len(r.Changed)+len(r.Gone), anew+len(c.Changed)+len(c.Gone), kits+len(old.Kits)
	}
	t.Logf("of %d kits %d change, of which %d could stay; made anew %d", kits, changed, givenUp, anew)
	require.Positive(t, givenUp, "where it makes more, kits that could stay are given up, unless they are to stay")
	require.Less(t, 3*changed, anew)
}

func half(d Decimal) Decimal { return scaled(d.coef*5, int(d.places)+1) }

// checkWithPeer holds a changed plan against the checker beside the project. It knows
// nothing of kits that stay as they are, so only what it says of the number and sizes of kits
// may stand against one.
func checkWithPeer(t *testing.T, p *Problem, plan *Plan) {
	t.Helper()
	checker := filepath.Join("..", "..", "..", "shared", "check", "check_plan.py")
	if _, err := os.Stat(checker); err != nil {
		if checker = os.Getenv("BOLTWARD_CHECKER"); checker == "" {
			t.Log("LEFT OUT: check_plan.py is not here; BOLTWARD_CHECKER names it")
			return
		}
	}
	dir := t.TempDir()
	for name, v := range map[string]any{"problem.json": p, "plan.json": plan} {
		text, err := json.Marshal(v)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	}
	out, err := exec.Command("python3", checker, filepath.Join(dir, "problem.json"), filepath.Join(dir, "plan.json")).Output()
	if err == nil {
		return
	}
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		if strings.HasPrefix(line, "fault:") {
			require.Regexp(t, `are not balanced|kits where`, line)
		}
	}
}

func TestReplanIsTheSameEachTime(t *testing.T) {
	p := teaTable(t)
	old := solved(t, p, Options{})
	p.Fabrics[3].Length = Whole(20)
	one, err := Replan(context.Background(), p, old, Settled{}, Options{Effort: 60})
	require.NoError(t, err)
	two, err := Replan(context.Background(), p, old, Settled{}, Options{Effort: 60})
	require.NoError(t, err)
	one.Plan.Summary.Seconds, two.Plan.Summary.Seconds = 0, 0
	require.True(t, reflect.DeepEqual(one.Plan, two.Plan))
}

func TestReplanStoppedByAPerson(t *testing.T) {
	p := teaTable(t)
	old := solved(t, p, Options{})
	p.Quotas[0].Wanted += 3
	ctx, stop := context.WithCancel(context.Background())
	stop()
	r, err := Replan(ctx, p, old, Settled{}, Options{})
	require.NoError(t, err)
	requireChanged(t, p, old, Settled{}, r)
	require.Len(t, r.Kept, len(old.Kits))
}
