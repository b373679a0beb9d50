package drive_test

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

var today = time.Date(2026, time.October, 3, 0, 0, 0, 0, time.UTC)

func inDays(n int) *time.Time {
	day := today.AddDate(0, 0, n)
	return &day
}

func TestLinesThatNeedSomebody(t *testing.T) {
	tests := []struct {
		name   string
		due    *time.Time
		counts drive.Counts
		closed bool
		want   drive.NeedKind // none: nothing to do
		cases  int
	}{
		{"without a day", nil, nil, false, "", 0},
		{"yesterday, nothing there", inDays(-1), nil, false, drive.NeedLineLate, 10},
		{"yesterday, part delivered", inDays(-1), drive.Counts{drive.CaseDelivered: 4, drive.CaseConfirmed: 3, drive.CasePacked: 3}, false, drive.NeedLineLate, 3},
		{"yesterday, all delivered", inDays(-1), drive.Counts{drive.CaseDelivered: 10}, false, "", 0},
		{"yesterday, but closed", inDays(-1), nil, true, "", 0},
		{"today", inDays(0), nil, false, drive.NeedLineDue, 10},
		{"in seven days", inDays(7), drive.Counts{drive.CaseGood: 10}, false, drive.NeedLineDue, 10},
		{"in eight days", inDays(8), nil, false, "", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			line := drive.AskedLine{Asked: drive.Asked{Number: 1, Recipient: 7, Wanted: 10, Due: tt.due, Closed: tt.closed}, RecipientName: "Ward 4", Counts: tt.counts}
			needs := drive.Needs([]drive.AskedLine{line}, nil, today)
			if tt.want == "" {
				require.Empty(t, needs)
				return
			}
			require.Len(t, needs, 1)
			require.Equal(t, tt.want, needs[0].Kind)
			require.Equal(t, tt.cases, needs[0].Cases)
			require.Equal(t, int64(7), needs[0].Number)
			require.Equal(t, tt.want == drive.NeedLineLate, needs[0].Late())
		})
	}
}

func TestWhatWaitsLongEnough(t *testing.T) {
	tests := []struct {
		w    drive.Waiting
		want bool
	}{
		{drive.Waiting{Kind: drive.NeedKitsLate, N: 2, Day: inDays(-1)}, true},
		{drive.Waiting{Kind: drive.NeedKitsLate, N: 2, Day: inDays(0)}, false},
		{drive.Waiting{Kind: drive.NeedKitsDue, N: 2, Day: inDays(0)}, true},
		{drive.Waiting{Kind: drive.NeedKitsDue, N: 2, Day: inDays(7)}, true},
		{drive.Waiting{Kind: drive.NeedKitsDue, N: 2, Day: inDays(8)}, false},
		{drive.Waiting{Kind: drive.NeedKitsDue}, false},
		{drive.Waiting{Kind: drive.NeedSheetOut, N: 1, Day: inDays(0)}, false},
		{drive.Waiting{Kind: drive.NeedSheetOut, N: 1, Day: inDays(-1)}, true},
		{drive.Waiting{Kind: drive.NeedConfirmation, N: 1, Day: inDays(-2)}, false},
		{drive.Waiting{Kind: drive.NeedConfirmation, N: 1, Day: inDays(-3)}, true},
		{drive.Waiting{Kind: drive.NeedFile, N: 1, Day: inDays(0)}, false},
		{drive.Waiting{Kind: drive.NeedFile, N: 1, Day: inDays(-1)}, true},
		{drive.Waiting{Kind: drive.NeedStocktake, N: 1, Day: inDays(0)}, false},
		{drive.Waiting{Kind: drive.NeedKitsSilent, N: 1, Day: inDays(-30)}, true},
		{drive.Waiting{Kind: drive.NeedClothShort, N: 0}, false},
		{drive.Waiting{Kind: drive.NeedCountsDiffer, N: 1, Day: inDays(-1)}, true},
		{drive.Waiting{Kind: drive.NeedCountsDiffer, N: 1, Cases: 2, Day: inDays(-90)}, true},
		{drive.Waiting{Kind: drive.NeedToCheck, Cases: 1}, true},
		{drive.Waiting{Kind: drive.NeedToCheck}, false},
		{drive.Waiting{Kind: drive.NeedToMend, Cases: 1}, true},
		{drive.Waiting{Kind: drive.NeedToPack, Cases: 1}, true},
		{drive.Waiting{Kind: drive.NeedToPromise, Cases: 1}, true},
		{drive.Waiting{Kind: drive.NeedToMeasure, N: 0}, false},
		{drive.Waiting{Kind: drive.NeedToMeasure, N: 3}, true},
		{drive.Waiting{Kind: drive.PlanBusy, N: 1}, false},
		{drive.Waiting{Kind: drive.NeedSupplyShort, N: 1}, true},
	}
	for _, tt := range tests {
		needs := drive.Needs(nil, []drive.Waiting{tt.w}, today)
		require.Equal(t, tt.want, len(needs) == 1, "Needs(%+v) = %+v", tt.w, needs)
	}
}

func TestNeedsInOrderOfHarm(t *testing.T) {
	lines := []drive.AskedLine{
		{Asked: drive.Asked{Number: 1, Recipient: 1, Wanted: 5, Due: inDays(3)}, ToPlan: 5},
		{Asked: drive.Asked{Number: 2, Recipient: 2, Wanted: 5, Due: inDays(-3)}, ToPlan: 5},
		{Asked: drive.Asked{Number: 3, Recipient: 3, Wanted: 5, Due: inDays(-9)}, ToPlan: 5},
	}
	waiting := []drive.Waiting{
		{Kind: drive.NeedToMeasure, N: 4},
		{Kind: drive.NeedPlanFailed, N: 1},
		{Kind: drive.NeedKitsReady, N: 2},
		{Kind: drive.NeedKitsLate, Number: 8, N: 1, Cases: 4, Day: inDays(-2)},
		{Kind: drive.NeedKitsLate, Number: 9, N: 1, Cases: 4, Day: inDays(-5)},
		{Kind: drive.NeedKitsLate, Number: 7, N: 2, Cases: 8, Day: inDays(-2)},
		{Kind: drive.NeedCountsDiffer, Number: 1, N: 1, Cases: 1, Day: inDays(-1)},
	}
	type at struct {
		kind   drive.NeedKind
		number int64
	}
	var got []at
	for _, n := range drive.Needs(lines, waiting, today) {
		got = append(got, at{n.Kind, n.Number})
	}
	require.Equal(t, []at{
		{drive.NeedLineLate, 3},
		{drive.NeedLineLate, 2},
		{drive.NeedLineDue, 1},
		{drive.NeedKitsLate, 9},
		{drive.NeedKitsLate, 7},
		{drive.NeedKitsLate, 8},
		{drive.NeedCountsDiffer, 1},
		{drive.NeedPlanFailed, 0},
		{drive.NeedKitsReady, 0},
		{drive.NeedToPlan, 0},
		{drive.NeedToMeasure, 0},
	}, got)
}

func TestNobodyAsksForAPlanThatIsComing(t *testing.T) {
	lines := []drive.AskedLine{{Asked: drive.Asked{Number: 1, Wanted: 5}, Counts: drive.Counts{drive.CaseOut: 2}, ToPlan: 4}}
	needs := drive.Needs(lines, nil, today)
	require.Len(t, needs, 1)
	require.Equal(t, drive.NeedToPlan, needs[0].Kind)
	require.Equal(t, 3, needs[0].Cases, "what is missing, not the spares on top")
	for _, kind := range []drive.NeedKind{drive.NeedPlanReady, drive.PlanBusy} {
		for _, n := range drive.Needs(lines, []drive.Waiting{{Kind: kind, N: 1}}, today) {
			require.NotEqual(t, drive.NeedToPlan, n.Kind, "with %s", kind)
		}
	}
}
