package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// Who only looks sees which boxes wait to be sent, and nothing to fill in.
func TestBoxesThatWaitAreShownToWhoOnlyLooks(t *testing.T) {
	ts, organiser := askedSite(t)
	require.Equal(t, http.StatusSeeOther, organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "10", "matter", "must", "due", "2026-03-20").Status)
	ts.sentToWard()
	organiser.follow(organiser.post("/drives/spring/deliveries/1/undo"))
	organiser.get("/drives/spring/deliveries").has("Box 1: 5 travel", "Make the delivery note", "Untick the boxes that stay")
	ts.as(account.Reader).get("/drives/spring/deliveries").has("Box 1: 5 travel", "20 Mar 2026", "Look into box 1").
		lacks("/drives/spring/deliveries/send/1", "Make the delivery note", "Carried by", "Untick")
}
