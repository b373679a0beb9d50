package main

import (
	"fmt"
	"net/http"
	"regexp"
	"strconv"
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
		says(t, h, "infection-control policy comes first", "No pillow for a baby")
		sent := countIn(t, h.page().says(), `(\d+) pillowcases in 1 box`)
		if name := "It is otherwise after all"; strings.Contains(h.page().says(), name) { // the hand before this one has answered
			h.press(name)
		}
		h.tick("another count")
		h.fill("How many arrived", fmt.Sprint(10*sent))
		h.press("Send what arrived")
		require.Equal(t, http.StatusUnprocessableEntity, h.status())
		says(t, h, "Not noted yet", fmt.Sprintf("The note says %d, so %d looks like a slip", sent, 10*sent))
		h.fill("How many arrived", fmt.Sprint(sent-1))
		h.fill("Anything to say with it", "One bag was torn.")
		press(t, h, "Send what arrived")
		says(t, h, "Thank you. It is noted.", "Our count and yours differ", fmt.Sprintf("You have %d of them", sent-1))
		packer.open("/drives/lantern-row/needs")
		says(t, packer, "Counts differ: of delivery 2 to Fernway shelter, 1 pillowcase did not arrive.", "Fernway shelter wrote something with delivery 2.")
		packer.open("/drives/lantern-row/deliveries/2")
		says(t, packer, "One bag was torn.", fmt.Sprintf("%d arrived, %d were sent", sent-1, sent))
		press(t, packer, "It is read")

		h.press("It is otherwise after all")
		h.tick("arrived, as the note says")
		press(t, h, "Send what arrived")
		says(t, h, "You have all of them.")
		require.NotContains(t, h.page().says(), "differ")
	}
}

// countIn is the number in a text that an expression's first group holds.
func countIn(t testing.TB, text, expression string) int {
	t.Helper()
	found := regexp.MustCompile(expression).FindStringSubmatch(text)
	require.NotNil(t, found, "%q in %s", expression, text)
	n, err := strconv.Atoi(found[1])
	require.NoError(t, err)
	return n
}
