package drive_test

import (
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestAskedCheck(t *testing.T) {
	good := drive.Asked{Recipient: 1, Sizes: []int64{1}, Wanted: 5, Due: inDays(0), Matter: drive.MatterShould}
	require.NoError(t, good.Tidy().Check(today, nil))
	n := func(n int) *int { return &n }
	tests := []struct {
		name  string
		spoil func(*drive.Asked)
		field string
	}{
		{"nobody asks", func(a *drive.Asked) { a.Recipient = 0 }, "recipient"},
		{"no size", func(a *drive.Asked) { a.Sizes = nil }, "sizes"},
		{"none", func(a *drive.Asked) { a.Wanted = 0 }, "wanted"},
		{"a negative count", func(a *drive.Asked) { a.Wanted = -3 }, "wanted"},
		{"absurdly many", func(a *drive.Asked) { a.Wanted = 100_001 }, "wanted"},
		{"unknown matter", func(a *drive.Asked) { a.Matter = "urgent" }, "matter"},
		{"own weight of none", func(a *drive.Asked) { a.Matter = drive.MatterOwn }, "weight"},
		{"own weight too great", func(a *drive.Asked) { a.Matter, a.Weight = drive.MatterOwn, 10_001 }, "weight"},
		{"kits of none", func(a *drive.Asked) { a.KitCases = n(0) }, "kit_cases"},
		{"kits of 51", func(a *drive.Asked) { a.KitCases = n(51) }, "kit_cases"},
		{"yesterday", func(a *drive.Asked) { a.Due = inDays(-1) }, "due"},
		{"the year mistyped", func(a *drive.Asked) { a.Due = inDays(40_000) }, "due"},
		{"wanted and avoided", func(a *drive.Asked) { a.ThemesWanted, a.ThemesAvoid = []string{"Space"}, []string{"bugs", " space"} }, "themes_avoid"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := good
			tt.spoil(&a)
			fields := apperr.Fields(a.Tidy().Check(today, nil))
			require.Len(t, fields, 1, "Check(%+v) = %v", a, fields)
			require.Contains(t, fields, tt.field)
		})
	}
}

func TestADayThatHasPassedMayStay(t *testing.T) {
	before := drive.Asked{Recipient: 1, Sizes: []int64{1}, Wanted: 5, Due: inDays(-4), Matter: drive.MatterShould}
	after := before
	after.Wanted = 6
	require.NoError(t, after.Check(today, &before))
	after.Due = inDays(-3)
	require.Contains(t, apperr.Fields(after.Check(today, &before)), "due")
	after.Due = nil
	require.NoError(t, after.Check(today, &before))
}

func TestMatterWeights(t *testing.T) {
	require.Equal(t, 10*drive.MatterShould.Weight(), drive.MatterMust.Weight(), "one must outweighs ten should")
	require.Equal(t, 10*drive.MatterIfEnough.Weight(), drive.MatterShould.Weight(), "one should outweighs ten if there is enough")
	require.Equal(t, 37, drive.Asked{Matter: drive.MatterOwn, Weight: 37}.Tidy().Weight)
	require.Equal(t, 100, drive.Asked{Matter: drive.MatterMust, Weight: 37}.Tidy().Weight)
}

func TestStillToPlan(t *testing.T) {
	tests := []struct {
		wanted, alive, share int
		closed               bool
		want                 int
	}{
		{30, 0, 0, false, 30},
		{30, 11, 10, false, 21},
		{30, 30, 10, false, 0},
		{30, 33, 10, false, 0},
		{1, 0, 1, false, 2},
		{30, 0, 10, true, 0},
	}
	for _, tt := range tests {
		a := drive.Asked{Wanted: tt.wanted, Closed: tt.closed}
		got := a.StillToPlan(drive.Counts{drive.CaseOut: tt.alive, drive.CaseLost: 5, drive.CaseNotUsable: 5}, tt.share)
		require.Equal(t, tt.want, got, "StillToPlan of %+v", tt)
	}
}

// Whatever stands in which state, the parts of a line add up to what was asked.
func TestStandingAddsUp(t *testing.T) {
	states := []drive.CaseState{
		drive.CasePlanned, drive.CaseCut, drive.CaseOut, drive.CaseSewn, drive.CaseGood, drive.CaseToMend, drive.CaseNotUsable, drive.CasePacked,
		drive.CaseDelivered, drive.CaseConfirmed, drive.CaseLost, drive.CaseWithdrawn, drive.CaseNotReceived,
	}
	rapid.Check(t, func(t *rapid.T) {
		counts := drive.Counts{}
		for _, s := range states {
			if n := rapid.IntRange(0, 50).Draw(t, string(s)); n > 0 {
				counts[s] = n
			}
		}
		s := counts.Standing(rapid.IntRange(1, 200).Draw(t, "wanted"))
		require.Equal(t, s.Asked+s.Over, s.Delivered+s.Good+s.Back+s.Out+s.Planned+s.Missing, "%+v of %v", s, counts)
		require.True(t, s.Missing == 0 || s.Over == 0, "%+v", s)
		require.Equal(t, s.Asked+s.Asked, s.Plus(s).Asked)
	})
}

func TestCourse(t *testing.T) {
	tests := []struct {
		name   string
		due    *time.Time
		closed bool
		counts drive.Counts
		want   drive.Course
	}{
		{"nothing yet", inDays(9), false, nil, drive.CourseUnplanned},
		{"no day, nothing yet", nil, false, nil, drive.CourseUnplanned},
		{"all with volunteers", inDays(0), false, drive.Counts{drive.CaseOut: 10}, drive.CourseUnderWay},
		{"all good", inDays(0), false, drive.Counts{drive.CaseGood: 4, drive.CasePacked: 5, drive.CaseDelivered: 1}, drive.CourseReady},
		{"all good, a day late", inDays(-1), false, drive.Counts{drive.CaseGood: 10}, drive.CourseLate},
		{"all delivered late", inDays(-1), false, drive.Counts{drive.CaseConfirmed: 10}, drive.CourseDelivered},
		{"more than asked", nil, false, drive.Counts{drive.CaseConfirmed: 12}, drive.CourseDelivered},
		{"closed early", inDays(-1), true, drive.Counts{drive.CaseOut: 2}, drive.CourseClosed},
	}
	for _, tt := range tests {
		line := drive.AskedLine{Asked: drive.Asked{Wanted: 10, Due: tt.due, Closed: tt.closed}, Counts: tt.counts}
		require.Equal(t, tt.want, line.Course(today), tt.name)
	}
}

func TestWords(t *testing.T) {
	tests := []struct {
		typed string
		want  []string
	}{
		{"", []string{}},
		{" , ;\n", []string{}},
		{"Animals, space;  Deep   Sea\nanimals", []string{"animals", "space", "deep sea"}},
		{"Black and White", []string{"black", "white"}},
		{"navy/white + gold&coral, and mint", []string{"navy", "white", "gold", "coral", "mint"}},
		{"sand, candy, and, and and", []string{"sand", "candy"}},
	}
	for _, tt := range tests {
		require.Equal(t, tt.want, drive.Words(tt.typed), "Words(%q)", tt.typed)
	}
}

func TestTidySentences(t *testing.T) {
	said := []string{" Washed at 60 °C ", "no  fragrance", "", "No fragrance", "bagged singly"}
	require.Equal(t, []string{"Washed at 60 °C", "no fragrance", "bagged singly"}, drive.TidySentences(said))
	require.Equal(t, []string{}, drive.TidySentences(nil))
}

func FuzzWords(f *testing.F) {
	for _, typed := range []string{"", "Animals, space", "a;b\r\nA", " ,,\t", "\u00a0ß, SS, İ"} {
		f.Add(typed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		words := drive.Words(typed)
		seen := map[string]bool{}
		for _, w := range words {
			require.NotEmpty(t, w, "Words(%q)", typed)
			require.Equal(t, strings.TrimSpace(w), w, "Words(%q)", typed)
			require.False(t, seen[w], "Words(%q) has %q twice", typed, w)
			seen[w] = true
		}
	})
}

func TestRecipientCheck(t *testing.T) {
	long := make([]byte, 2001)
	for i := range long {
		long[i] = 'a'
	}
	r := drive.Recipient{Kind: drive.RecipientWard, Name: "Ward 4"}
	require.NoError(t, r.Tidy().Check())
	r.Note = string(long)
	require.Contains(t, apperr.Fields(r.Tidy().Check())["note"], "2000 characters, it has 2001")
	r = drive.Recipient{Kind: "castle", Name: "   ", Email: "nobody", Fibres: []string{"tin"}}
	require.Len(t, apperr.Fields(r.Tidy().Check()), 4)
}

func TestNewDriveIsWhole(t *testing.T) {
	for _, unit := range []length.Unit{length.In, length.CM} {
		d := drive.NewDrive("spring", "Spring", "Europe/Dublin", unit)
		require.NoError(t, d.Check(), "in %s", unit)
	}
}
