package main

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// manyWanted and manyLots are wishes and a drop-off so large that a plan of them
// takes more than a moment.
func manyWanted(t testing.TB) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "asked.csv")
	const rows = "Recipient,What it is,Size,Wanted,By when,How much it matters,Kit size\n" +
		"Dovecote shelter,shelter,standard,500,2027-01-18,should,4\nDovecote shelter,shelter,queen,400,2027-01-18,must,4\n"
	require.NoError(t, os.WriteFile(file, []byte(rows), 0o600))
	return file
}

func manyLots(t testing.TB) string {
	t.Helper()
	var rows strings.Builder
	rows.WriteString("Tag,Date in,Given by,What is it,Yardage,Width,How many,Print,Which way,Colours,Themes,Washed?,Ends\n")
	themes, colours := []string{"space", "sea", "farm"}, []string{"navy", "teal", "coral", "plum", "sage", "gold"}
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range 300 {
		print, theme := "feature", themes[rng.IntN(3)]
		if rng.IntN(5) < 2 {
			print, theme = "tonal", ""
		}
		fmt.Fprintf(&rows, "W%03d,2026-10-24,The bolt shop,quilting cotton,%d in,%d in,1,%s,any,%s,%s,yes,cut\n",
			i, 12+rng.IntN(150), []int{20, 41, 42, 43, 56}[rng.IntN(5)], print, colours[rng.IntN(6)], theme)
	}
	file := filepath.Join(t.TempDir(), "fabric.csv")
	require.NoError(t, os.WriteFile(file, []byte(rows.String()), 0o600))
	return file
}

// records keeps what a page shows of a plan in the making, also when it turns into
// the finished plan.
const records = `(() => {
	const texts = name => document.querySelector("[data-text=" + name + "]").textContent;
	const note = () => {
		const list = JSON.parse(sessionStorage.seen || "[]");
		list.push({Made: texts("made"), Most: texts("most"), Doing: texts("doing"), Took: texts("took")});
		sessionStorage.seen = JSON.stringify(list);
	};
	note();
	new MutationObserver(note).observe(document.querySelector("[data-watch]"), {subtree: true, childList: true, characterData: true});
	return true;
})()`

type seen struct{ Made, Most, Doing, Took string }

// turns waits until the page has by itself become one that holds the words.
func (b *tab) turns(words string) {
	b.t.Helper()
	for end := time.Now().Add(startsWithin); ; time.Sleep(20 * time.Millisecond) {
		ctx, cancel := context.WithTimeout(b.ctx, actWithin)
		// Between one page and the next there is nothing to ask.
		text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.readyState === "complete" ? document.body.innerText : ""`))
		cancel()
		if err == nil && strings.Contains(text, words) {
			return
		}
		require.True(b.t, time.Now().Before(end), "the page does not come to say %q: %v %s", words, err, text)
	}
}

// Two processes for pages and one that works on plans share nothing but the
// database: figures move at the one, a plan is stopped at the other.
func TestAPlanIsWatchedAndStopped(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	set := demoSettings(t)
	code, _, errs := run(t, set, "import", "fabric", manyLots(t), "--drive", "lantern-row")
	require.Zero(t, code, errs)
	code, _, errs = run(t, set, "import", "asked", manyWanted(t), "--drive", "lantern-row")
	require.Zero(t, code, errs)
	const plans = "/drives/lantern-row/plan"
	web := [2]*program{launch(t, set, "serve", "--jobs=false"), launch(t, set, "serve", "--jobs=false")}
	for _, p := range web {
		p.answers()
	}
	other := newPlain(t, web[0].address)
	organiser(t, other, web[0])
	b := newTab(t, web[1].address)
	again(t, b)

	b.open(plans)
	press(t, b, "Plan again with what is free")
	at := eval[string](b, `location.pathname`)
	says(t, b, "It waits for its turn")
	require.Empty(t, b.look(axe(t)), "the page of a plan in the making")
	eval[bool](b, records)
	worker := launch(t, set, "work")
	b.turns("Who gets what")
	require.Equal(t, at, eval[string](b, `location.pathname + location.search`), "the page itself has turned into the finished plan")
	figuresMoved(t, eval[[]seen](b, `JSON.parse(sessionStorage.seen)`))
	b.press("How these figures came about")
	problem, plan := saved(t, b, "Download what it was made from"), saved(t, b, "Download the plan and its proof")
	code, out, errs := run(t, nil, "plan", "--prove", problem, plan)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Proven")
	require.Empty(t, b.look(axe(t)), "the page of the finished plan")

	worker.stop()
	b.open(plans)
	press(t, b, "Plan again with what is free")
	other.open(eval[string](b, `location.pathname`))
	press(t, other, "Stop and keep the best")
	says(t, other, "stops at the first good plan")
	b.turns("stops at the first good plan")
	launch(t, set, "work")
	b.turns("Who gets what")
	// It may be closed before the wish to stop is read.
	require.Regexp(t, "Somebody stopped the search|The search is closed", b.page().says())
	require.NotContains(t, b.page().says(), "nothing whole can be made")

	// A page that is watched holds up nobody who ends the program.
	other.open(plans)
	press(t, other, "Plan again with what is free")
	stream, err := other.client.Get(web[0].address + other.at.Path + "/progress")
	require.NoError(t, err)
	defer stream.Body.Close()
	require.Equal(t, http.StatusOK, stream.StatusCode)
	require.True(t, bufio.NewScanner(stream.Body).Scan())
	began := time.Now()
	web[0].stop()
	t.Logf("it ended in %v", time.Since(began))
	require.Less(t, time.Since(began), endingTime/2)
}

// saved keeps what a link downloads and gives its path.
func saved(t testing.TB, b *tab, name string) string {
	t.Helper()
	file, content := b.download(name)
	path := filepath.Join(t.TempDir(), file)
	require.NoError(t, os.WriteFile(path, content, 0o600))
	return path
}

// figuresMoved requires that a first plan was shown, and that time moved with it.
func figuresMoved(t testing.TB, list []seen) {
	t.Helper()
	made, took, doing := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, s := range list {
		made[s.Made], took[s.Took], doing[s.Doing] = true, true, true
		if s.Made != "0" {
			require.Contains(t, s.Most, "Proven so far", "what is made stands beside what could be")
		}
	}
	t.Logf("made %v, %d moments, doing %v", made, len(took), doing)
	require.True(t, made["0"] && len(made) > 1, "a first plan was shown: %v", list)
	require.Greater(t, len(took), 2, "the seconds moved: %v", list)
}
