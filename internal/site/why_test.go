package site

import (
	"testing"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"

	"github.com/stretchr/testify/require"
)

// The plan and the line say alike why something is short, also of a plan that was kept without
// its reasons.
func TestWhyALineIsShortIsSaidWhereItIsAsked(t *testing.T) {
	ts := newTestSite(t)
	ts.shelfAndWants(9)
	lead := ts.as(account.CuttingLead)
	lead.get("/drives/spring/asked").lacks("Why plan")
	lead.post("/drives/spring/plan")
	ts.workPlan(1)
	why := "is used up"
	lead.get("/drives/spring/plan/1").has("short.</span>", why)
	lead.get("/drives/spring/asked").has("Why plan 1 leaves", "All 9 stay missing until the plan is accepted.", why, `href="/drives/spring/plan/1"`)
	_, err := ts.DB.Pool.Exec(t.Context(), `UPDATE plans SET why = NULL`)
	require.NoError(t, err)
	lead.get("/drives/spring/plan/1").has("short.</span>", why)
	lead.post("/drives/spring/plan/1/drop")
	lead.get("/drives/spring/asked").lacks("Why plan")
}

// What a plan leaves short and what is missing now stand side by side: they are the same figure, or the page
// says what the plan counted.
func TestWhatAPlanLeavesShortIsWhatIsMissing(t *testing.T) {
	made, ready := postgres.NewestPlan{Number: 2, Accepted: true}, postgres.NewestPlan{Number: 2}
	for _, c := range []struct {
		plan                 postgres.NewestPlan
		counts, alive, spare int
		short                int
		then                 string
	}{
		{made, 40, 40, 5, 40, ""},
		{made, 42, 40, 5, 40, "Plan 2 left 42 missing when it was made, with 5 % more asked of it for kits that never come back. Now 40 are missing."},
		{made, 41, 40, 0, 40, "Plan 2 left 41 missing when it was made. Now 40 are missing."},
		{made, 3, 79, 0, 1, "Plan 2 left 3 missing when it was made. Now 1 is missing."},
		{made, 17, 60, 5, 17, "The other 3 of the 20 missing came on top since it was made."},
		{ready, 17, 60, 5, 17, "All 20 stay missing until the plan is accepted."},
	} {
		line := drive.AskedLine{Asked: drive.Asked{Number: 7, Wanted: 80}, Counts: drive.Counts{drive.CaseCut: c.alive}, ToPlan: 1}
		reasons := []planning.Reason{{Quota: drive.NumberID(7), Missing: c.counts}}
		got := linesShort(c.plan, reasons, []drive.AskedLine{line}, drive.Drive{Unit: length.In, SpareShare: c.spare})[7]
		require.Equal(t, c.short, got.Short, "%+v", c)
		require.Equal(t, c.then, got.Then, "%+v", c)
	}
}
