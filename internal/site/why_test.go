package site

import (
	"testing"

	"boltward/internal/account"

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
	lead.get("/drives/spring/asked").has("Why plan 1 leaves", why, `href="/drives/spring/plan/1"`)
	_, err := ts.DB.Pool.Exec(t.Context(), `UPDATE plans SET why = NULL`)
	require.NoError(t, err)
	lead.get("/drives/spring/plan/1").has("short.</span>", why)
	lead.post("/drives/spring/plan/1/drop")
	lead.get("/drives/spring/asked").lacks("Why plan")
}
