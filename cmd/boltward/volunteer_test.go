package main

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Somebody who sews opens their own page on a phone, with scripts and without,
// says how it goes, and the drive sees it.
func TestAVolunteerOnAPhone(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, desk := withDemo(t)
	desk.open("/drives/lantern-row/people?q=Petra")
	desk.press("Petra Holloway-Sand")
	own := attr(desk.page().pressable(t, "Look at it as they see it"), "href")
	for name, hand := range everyHand() {
		h := hand(t, p)
		if b, browser := h.(*tab); browser {
			b.size(phone, 800)
		}
		t.Log(name)
		h.open(own)
		says(t, h, "Hello Petra Holloway-Sand. You have 1 kit with")
		kit := h.page().links()[slices.IndexFunc(h.page().links(), func(to string) bool { return strings.HasPrefix(to, own+"/kits/") })]
		h.open(kit)
		says(t, h, "How does it go?", "Rotary cutter", "Count your pins")
		h.fill("Finished so far", "99")
		h.press("I have finished these")
		require.Equal(t, http.StatusUnprocessableEntity, h.status())
		says(t, h, "Not noted yet", "The kit holds")
		h.fill("Finished so far", "1")
		press(t, h, "I have finished these")
		says(t, h, "You said: 1 of")
		h.press("I need longer")
		h.fill("Until", time.Now().AddDate(0, 0, 30).Format(time.DateOnly))
		press(t, h, "Ask for that day")
		says(t, h, "You asked for time until")
		desk.open("/drives/lantern-row/needs")
		says(t, desk, "Petra Holloway-Sand has finished 1 pillowcase of kit", "Petra Holloway-Sand asks for more time")
		press(t, h, "Undo that I need longer")
		press(t, h, "Undo what I said is finished")
		require.NotContains(t, h.page().says(), "You said")
		require.NotContains(t, h.page().says(), "You asked")
	}
}
