package main

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A ward says on a phone, with scripts and without, what arrived; the drive sees it, settles
// what differs, and the ward may correct itself.
func TestAWardOnAPhone(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, packer := withDemo(t)
	packer.open("/drives/lantern-row/deliveries")
	packer.press("2")
	own := attr(packer.page().pressable(t, "Look at it as they see it"), "href")
	for name, hand := range everyHand() {
		h := hand(t, p)
		if b, browser := h.(*tab); browser {
			b.size(phone, 800)
		}
		t.Log(name)
		h.open(own)
		says(t, h, "Pillowcases for Fernway shelter", "What was sent", "Delivery 2", "What you asked for")
		h.open(own + "/deliveries/2")
		says(t, h, "18 pillowcases in 1 box", "infection-control policy comes first", "No pillow for a baby")
		if name := "It is otherwise after all"; strings.Contains(h.page().says(), name) { // the hand before this one has answered
			h.press(name)
		}
		h.tick("another count")
		h.fill("How many arrived", "180")
		h.press("Send what arrived")
		require.Equal(t, http.StatusUnprocessableEntity, h.status())
		says(t, h, "Not noted yet", "The note says 18, so 180 looks like a slip")
		h.fill("How many arrived", "17")
		h.fill("Anything to say with it", "One bag was torn.")
		press(t, h, "Send what arrived")
		says(t, h, "Thank you. It is noted.", "Our count and yours differ", "You have 17 of them")
		packer.open("/drives/lantern-row/needs")
		says(t, packer, "Counts differ: of delivery 2 to Fernway shelter, 1 pillowcase did not arrive.", "Fernway shelter wrote something with delivery 2.")
		packer.open("/drives/lantern-row/deliveries/2")
		says(t, packer, "One bag was torn.", "17 arrived, 18 were sent")
		press(t, packer, "It is read")

		h.press("It is otherwise after all")
		h.tick("arrived, as the note says")
		press(t, h, "Send what arrived")
		says(t, h, "You have all of them.")
		require.NotContains(t, h.page().says(), "differ")
	}
}
