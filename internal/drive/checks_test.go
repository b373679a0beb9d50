package drive

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

func standardCase(t testing.TB) sizing.Spec {
	t.Helper()
	c, ok := sizing.CaseNamed("standard")
	require.True(t, ok)
	return c.Spec
}

// TestExpectedSize: a case cut larger for its first wash is larger until then, by
// wanted / (1 − s): 30 in at 5 % → 31.579, not 31.5 (computed from the formula of
// AATCC TM135 and ISO 5077).
func TestExpectedSize(t *testing.T) {
	spec := standardCase(t)
	spec.Length, spec.Shrink = 30*length.Inch, sizing.Shrink{Along: 500, Across: 300}
	list := UsualCheckList(length.In)
	washed := list.Expect(spec, WashedFirst)
	require.False(t, washed.Shrinks(), "cloth that was washed before it was cut stays")
	larger := list.Expect(spec, CutLarger)
	require.True(t, larger.Shrinks())
	require.InDelta(t, 31.579, float64(larger.Unwashed.Length)/float64(length.Inch), 0.001)
	require.Equal(t, washed.Washed, larger.Washed)
}

func TestCheckHoldsTheFinding(t *testing.T) {
	spec := standardCase(t)
	list := UsualCheckList(length.In)
	expect := list.Expect(spec, WashedFirst)
	at := Stack{Size: 1, State: CaseSewn, N: 6}
	fits := sizing.Rect{Width: spec.Width + length.Inch/2, Length: spec.Length}
	small := sizing.Rect{Width: spec.Width - length.Inch, Length: spec.Length}
	off := list
	off.Points = append([]CheckPoint(nil), list.Points...)
	off.Points[0].Off = true
	mend := []Failed{{N: 2, To: CaseToMend, Reasons: []string{"seam open", "loose threads"}}}
	for _, c := range []struct {
		name  string
		found Checked
		list  CheckList
		field string // that is refused; empty: none
	}{
		{"without a look for pins", Checked{Good: 6}, list, "pins"},
		{"nothing", Checked{Pins: true}, list, "good"},
		{"more than lie here", Checked{Good: 5, Failed: mend, Pins: true}, list, "good"},
		{"less than none", Checked{Good: 7, Failed: []Failed{{N: -1, To: CaseToMend, Reasons: []string{"seam open"}}}, Pins: true}, list, "good"},
		{"a fault without its reason", Checked{Failed: []Failed{{N: 1, To: CaseToMend}}, Pins: true}, list, "row1_reasons"},
		{"a reason that is no point", Checked{Failed: []Failed{{N: 1, To: CaseToMend, Reasons: []string{"ugly"}}}, Pins: true}, list, "row1_reasons"},
		{"a reason without how many", Checked{Good: 6, Failed: []Failed{{To: CaseToMend, Reasons: []string{"seam open"}}}, Pins: true}, list, "row1_n"},
		{"a finding that is none", Checked{Failed: []Failed{{N: 1, To: CaseGood, Reasons: []string{"seam open"}}}, Pins: true}, list, "row1_to"},
		{"size looked at, nothing measured", Checked{Good: 6, Looked: list.Faults(), Pins: true}, list, "width"},
		{"too small to be good", Checked{Good: 6, Measured: &small, Pins: true}, list, "width"},
		{"half measured", Checked{Good: 6, Measured: &sizing.Rect{Width: spec.Width}, Pins: true}, list, "width"},
		{"within what it may be off", Checked{Good: 4, Failed: mend, Looked: list.Faults(), Measured: &fits, Pins: true}, list, ""},
		{"none good, so nothing good to measure", Checked{Failed: mend, Looked: list.Faults(), Pins: true}, list, ""},
		{"size not looked at in this drive", Checked{Good: 6, Looked: list.Faults(), Pins: true}, off, ""},
		{"a note in place of a reason", Checked{Failed: []Failed{{N: 1, To: CaseNotUsable}}, Note: "smells of smoke", Pins: true}, list, ""},
	} {
		entries, err := at.Check(c.found, c.list, expect, length.In)
		if c.field != "" {
			require.Contains(t, apperr.Fields(err), c.field, c.name)
			continue
		}
		require.NoError(t, err, c.name)
		require.Len(t, entries, len(c.found.Lines()), c.name)
		for i, line := range c.found.Lines() {
			require.Equal(t, []any{line.N, line.To}, []any{entries[i].N, entries[i].To}, c.name)
		}
	}
	_, err := Stack{State: CaseGood, N: 1}.Check(Checked{Good: 1, Pins: true}, list, expect, length.In)
	require.True(t, apperr.Is(err, apperr.KindConflict))
}

func TestCheckListRefuses(t *testing.T) {
	usual := UsualCheckList(length.CM)
	require.NoError(t, usual.Check())
	require.Equal(t, length.Centimetre, usual.Tolerance)
	for field, change := range map[string]func(*CheckList){
		"tolerance":    func(l *CheckList) { l.Tolerance = 0 },
		"point1_look":  func(l *CheckList) { l.Points[0].Look = " " },
		"point2_fault": func(l *CheckList) { l.Points[1].Fault = "Wrong SIZE" },
		"point3_fault": func(l *CheckList) { l.Points[2].Fault = PinsFound },
		"point4_fault": func(l *CheckList) { l.Points[3].Fault = "short, narrow" },
	} {
		l := UsualCheckList(length.CM)
		change(&l)
		require.Contains(t, apperr.Fields(l.Tidy().Check()), field)
	}
	blank := usual
	blank.Points = append([]CheckPoint{{Kind: CheckOwn}}, usual.Points...)
	require.NoError(t, blank.Check(), "a row that says nothing is none")
	require.Equal(t, usual.Points, blank.Said().Points)
	for i := range usual.Points {
		usual.Points[i].Off = true
	}
	require.Equal(t, []string{PinsFound}, usual.Faults(), "pins cannot be turned off")
}

// Few are chance; one pair of hands is told alone; a pin is told from the first on.
func TestLessonsAreFewAndNameNobody(t *testing.T) {
	list := UsualCheckList(length.In)
	list.Points[4].Off = true
	f := Findings{Of: 40, Faults: []FaultFound{
		{Fault: "loose threads", N: 6, Makers: 4},
		{Fault: "wrong size", N: 5, Makers: 1},
		{Fault: "cuff twisted", N: 5, Makers: 3},
		{Fault: "raw edge shows", N: 3, Makers: 2},
		{Fault: "a fault that is in the list no more", N: 3, Makers: 2},
		{Fault: "seam open", N: 2, Makers: 2},
		{Fault: PinsFound, N: 1, Makers: 1},
	}}
	var told []string
	for _, l := range f.Lessons(list) {
		require.Equal(t, 40, l.Of)
		told = append(told, l.Fault)
	}
	require.Equal(t, []string{PinsFound, "loose threads", "raw edge shows"}, told)
	f.Of = 61
	require.Len(t, f.Lessons(list), 2, "3 of 61 are less than one in twenty")
	f.Of = 19
	require.Len(t, f.Lessons(list), 1, "of so few nothing is told but the pin")
}
