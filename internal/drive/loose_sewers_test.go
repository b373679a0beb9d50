package drive

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Who may have sewn what lies without a kit: everybody whose pillowcases came to it since it was last
// empty, looked for through promises, checks and mendings.
func TestLooseSewersOf(t *testing.T) {
	const ada, bo, cy, di = 1, 2, 3, 4
	names := map[int64]string{ada: "Ada", bo: "Bo", cy: "Cy", di: "Di"}
	came := func(asked int64, n int, by int64) LooseStep {
		return LooseStep{Size: 1, N: n, From: CaseBorn, ToAsked: asked, To: CaseSewn, Sewer: by, Name: names[by], Sews: by != cy}
	}
	goes := func(asked int64, n int, from, to CaseState) LooseStep {
		return LooseStep{Size: 1, N: n, Asked: asked, From: from, ToAsked: asked, To: to}
	}
	promised := func(n int) LooseStep {
		return LooseStep{Size: 1, N: n, From: CaseSewn, ToAsked: 7, To: CaseSewn}
	}
	sent := goes(0, 2, CaseToMend, CaseToMend)
	sent.ToKit = 12
	back := goes(7, 2, CaseDelivered, CaseSewn)
	sewn, mend, ofWard := Stack{Size: 1, State: CaseSewn}, Stack{Size: 1, State: CaseToMend}, Stack{Asked: 7, Size: 1, State: CaseSewn}
	for _, c := range []struct {
		name  string
		of    Stack
		steps []LooseStep // the oldest first
		says  string
		only  int64
	}{
		{"one", sewn, []LooseStep{came(0, 3, ada)}, "Ada", ada},
		{"one who rests", sewn, []LooseStep{came(0, 3, cy)}, "Cy", 0},
		{"nobody noted", sewn, []LooseStep{came(0, 3, 0)}, "", 0},
		{"two", sewn, []LooseStep{came(0, 3, ada), came(0, 2, bo)}, "Bo or Ada", 0},
		{"one, and nobody noted of some", sewn, []LooseStep{came(0, 3, ada), came(0, 2, 0)}, "Ada or others", 0},
		{"many", sewn, []LooseStep{came(0, 1, di), came(0, 3, ada), came(0, 2, bo), came(0, 2, cy)}, "Cy, Bo, Ada or others", 0},
		{"some of them are checked", sewn, []LooseStep{came(0, 3, ada), came(0, 2, bo), goes(0, 3, CaseSewn, CaseGood)}, "Bo or Ada", 0},
		{"empty in between", sewn, []LooseStep{came(0, 3, ada), goes(0, 3, CaseSewn, CaseGood), came(0, 2, bo)}, "Bo", bo},
		{"of another size or line", sewn, []LooseStep{came(0, 3, ada), {Size: 2, N: 4, From: CaseBorn, To: CaseSewn, Sewer: bo, Name: "Bo"}, came(7, 2, cy)}, "Ada", ada},
		{"promised, and more came since", ofWard, []LooseStep{came(0, 3, ada), promised(3), came(0, 2, bo)}, "Ada", ada},
		{"promised in part", ofWard, []LooseStep{came(0, 3, ada), came(0, 2, bo), promised(2)}, "Bo or Ada", 0},
		{"what is left of the promised", sewn, []LooseStep{came(0, 3, ada), promised(2)}, "Ada", ada},
		{"to mend", mend, []LooseStep{came(0, 3, ada), goes(0, 2, CaseSewn, CaseToMend), goes(0, 1, CaseSewn, CaseGood), came(0, 4, bo)}, "Ada", ada},
		{"mended here", sewn, []LooseStep{came(0, 3, ada), goes(0, 3, CaseSewn, CaseToMend), came(0, 2, bo), goes(0, 1, CaseToMend, CaseSewn)}, "Ada or Bo", 0},
		{"again and again", sewn, []LooseStep{
			came(0, 3, ada), goes(0, 3, CaseSewn, CaseToMend), goes(0, 3, CaseToMend, CaseSewn), goes(0, 3, CaseSewn, CaseToMend), goes(0, 3, CaseToMend, CaseSewn),
		}, "Ada", ada},
		{"others went out to be mended", mend, []LooseStep{came(0, 2, ada), goes(0, 2, CaseSewn, CaseToMend), sent, came(0, 1, bo), goes(0, 1, CaseSewn, CaseToMend)}, "Bo", bo},
		{"back from the ward", ofWard, []LooseStep{came(7, 3, ada), back}, "Ada or others", 0},
	} {
		lies := map[looseAt]int{}
		newest := make([]LooseStep, len(c.steps))
		for i, s := range c.steps {
			if s.From != CaseBorn {
				lies[looseAt{s.Asked, s.Size, s.From}] -= s.N
			}
			if s.ToKit == 0 {
				lies[looseAt{s.ToAsked, s.Size, s.To}] += s.N
			}
			newest[len(c.steps)-1-i] = s
		}
		var now []Stack
		for at, n := range lies {
			now = append(now, Stack{Asked: at.asked, Size: at.size, State: at.state, N: n})
		}
		got := LooseSewersOf(c.of, newest, now)
		require.Equal(t, c.says, got.Words(), c.name)
		require.Equal(t, c.only, got.Only, c.name)
		if len(newest) > 1 {
			require.True(t, LooseSewersOf(c.of, nil, now).Others, "%s: what is older than the steps is of somebody unknown", c.name)
		}
	}
}
