package main

import (
	"fmt"
	"net/http"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// twoServers gives two web processes on one database, a hand at each signed in as
// the same person, and the settings.
func twoServers(t testing.TB) (set settings, one, other *plain) {
	t.Helper()
	set, _ = withDatabase(t)
	first, second := launch(t, set, "serve"), launch(t, set, "serve", "--jobs=false")
	first.answers()
	second.answers()
	one, other = newPlain(t, first.address), newPlain(t, second.address)
	organiser(t, one, first)
	other.client.Jar = one.client.Jar
	return set, one, other
}

// atOnce presses the button of that name at both servers at the same moment and
// gives the two answers, unfollowed, and where they lead.
func atOnce(t testing.TB, name string, both ...*plain) (codes []int, to []string) {
	t.Helper()
	codes, to = make([]int, len(both)), make([]string, len(both))
	requests := make([]*http.Request, len(both))
	for i, h := range both {
		button := h.page().pressable(t, name)
		requests[i] = h.submission(formOf(h.page().root, button), button)
	}
	var pressing sync.WaitGroup
	for i, h := range both {
		client := *h.client
		client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
		pressing.Go(func() {
			answer, err := client.Do(requests[i])
			if err != nil {
				t.Errorf("%s: %v", name, err)
				return
			}
			codes[i], to[i] = answer.StatusCode, answer.Header.Get("Location")
			if err := answer.Body.Close(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		})
	}
	pressing.Wait()
	return codes, to
}

// oneOfTwo requires that of two who press at once one is taken, and the other is
// told that it cannot be, or taken to what stands now.
func oneOfTwo(t testing.TB, name string, both ...*plain) {
	t.Helper()
	taken := 0
	codes, to := atOnce(t, name, both...)
	for i, code := range codes {
		switch code {
		case http.StatusSeeOther:
			if to[i] != home+"/deliveries" { // whoever comes too late to a box is led there, and told
				taken++
			}
		case http.StatusConflict, http.StatusUnprocessableEntity, http.StatusNotFound: // nothing is left of it
		default:
			t.Errorf("%s at once: %v", name, codes)
		}
	}
	require.Equal(t, 1, taken, "%s at once: %v, to %v", name, codes, to)
}

// Two people at two web processes want the same: accept plans over the same lots,
// hand out the same kit, pack the last pillowcases. One of them gets it, each time.
func TestTwoWantTheSame(t *testing.T) {
	t.Parallel()
	rounds := 1
	if longRun() {
		rounds = 20
	}
	for range rounds {
		set, one, other := twoServers(t)
		startDrive(t, one, "Harbour pillowcases")
		askForSix(t, one)
		takeInThreeLots(t, one)
		for plan, button := range []string{"Make a plan", "Plan again with what is free"} {
			one.open(home + "/plan")
			one.press(button)
			path := fmt.Sprintf("%s/plan/%d", home, plan+1)
			becomesPlanned(t, one, path)
		}
		one.open(home + "/plan/1")
		other.open(home + "/plan/2")
		oneOfTwo(t, "Accept this plan", one, other)
		cutAllSheets(t, one)

		for _, name := range []string{"Agnes Dunmore", "Bo Lund"} {
			one.open(home + "/people/new")
			one.fill("Name", name)
			press(t, one, "Add to the list")
		}
		for h, name := range map[*plain]string{one: "Agnes Dunmore", other: "Bo Lund"} {
			h.open(home + "/kits/hand-out?kit=1")
			h.fill("Who takes them", name)
		}
		oneOfTwo(t, "Hand them out", one, other)
		one.open(home + "/back")
		one.fill("Kit", "1")
		one.fill("Sewn", "6")
		press(t, one, "Next")
		press(t, one, "Check these")
		one.fill("Passed all of it", "6")
		one.fill("Width, laid flat", "20")
		one.fill("Length", "30 1/2")
		one.tick("Every one was looked through for pins and needles")
		press(t, one, "Save the check")
		for _, h := range []*plain{one, other} {
			h.open(home + "/deliveries")
			press(t, h, "Pack a box")
			h.tick("washed hot")
			h.fill("Not ticked: why it goes", "unscented soap was out")
			h.fill("Packed by", "RL")
			h.fill("Counted again by", "AD")
		}
		oneOfTwo(t, "Close this box", one, other)
		wellChecked(t, set)
		require.Equal(t, figures{asked: 6, good: 6}, figuresOf(t, other))
	}
}

// becomesPlanned waits until a plan can be accepted.
func becomesPlanned(t testing.TB, h *plain, path string) {
	t.Helper()
	for end := patience(); ; end.wait(t, h.page().says()) {
		h.open(path)
		if h.page().has("Accept this plan") {
			return
		}
	}
}

// One form from two hundred fingers at two web processes: all get the first answer,
// and it is done once.
func TestOneFormFromTwoHundredAtTwoServers(t *testing.T) {
	t.Parallel()
	times := 1
	if longRun() {
		times = 60
	}
	set, one, other := twoServers(t)
	startDrive(t, one, "Harbour pillowcases")
	one.open(home + "/sizes")
	press(t, one, "Add standard")
	here := newCrowd(t, one)
	there := newCrowd(t, other)
	db := poolOf(t, set)
	for n := range times {
		f := here.form([]string{"kit", "person", "lot"}[n%3], n)
		answers := make([]string, 200)
		var sending sync.WaitGroup
		for i := range answers {
			sending.Go(func() {
				who := here
				if i%2 == 1 {
					who = there
				}
				answers[i] = who.post(f)
			})
		}
		sending.Wait()
		require.NotEmpty(t, answers[0], "%s", f.name)
		for _, a := range answers {
			require.Equal(t, answers[0], a, "%s", f.name)
		}
		here.told[f.name] = toldForm{f, answers[0]}
	}
	require.Empty(t, there.wrong)
	here.there(t.Context(), db)
	wellChecked(t, set)
}
