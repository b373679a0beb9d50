package site

import (
	"testing"

	"boltward/internal/account"
)

// Whoever wished to see lengths in both units sees them so on the next page too.
func TestBothUnitsAreRemembered(t *testing.T) {
	rosa := newTestSite(t).as(account.Organiser)
	const ticked = `id="both-units" autocomplete="off" checked>`
	rosa.get("/drives/spring/fabric").lacks(ticked)
	rosa.cookies["both-units"] = "yes"
	rosa.get("/drives/spring/sizes").has(ticked)
}
