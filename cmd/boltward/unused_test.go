package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A page that asks by itself keeps nobody signed in: it goes to the door once nobody used it, and
// its person comes back to it. What somebody types into another stays there.
func TestAPageThatNobodyUsesGoesToTheDoor(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	set, db := withDatabase(t)
	p := launch(t, set, "serve", "--jobs=false")
	p.answers()
	b := newTab(t, p.address)
	organiser(t, b, p)
	startDrive(t, b, "Harbour pillowcases")
	askForSix(t, b)
	takeInThreeLots(t, b)
	unused := func() {
		t.Helper()
		_, err := db.Owner().Exec(t.Context(), `UPDATE sign_ins SET seen_at = now() - interval '3 hours'`)
		require.NoError(t, err)
	}

	b.open(home + "/sizes/new")
	b.fill("Name", "Cot")
	b.settled()
	before := eval[string](b, `document.getElementById("cuts").outerHTML`)
	unused()
	b.fill("Name", "Cot for the ward")
	told := `(async () => {
		document.querySelector("input[name=name]").dispatchEvent(new Event("change", {bubbles: true}));
		await new Promise(done => document.addEventListener("htmx:finally:request", done, {once: true}));
		return document.getElementById("over")?.textContent ?? "";
	})()`
	require.Contains(t, eval[string](b, told), "Nobody used this browser here for 2 hours, so it was signed out. What is typed here stays.")
	require.Equal(t, before, eval[string](b, `document.getElementById("cuts").outerHTML`))
	require.Equal(t, "Cot for the ward", eval[string](b, `document.querySelector("input[name=name]").value`), "what is typed stays")
	says(t, b, "finished")
	b.press("Save the size")
	says(t, b, "Not taken yet", "Nobody used this browser here for 2 hours")
	require.Equal(t, "Cot for the ward", eval[string](b, `document.querySelector("input[name=name]").value`), "and what was sent is kept")
	const beside = `(async () => {
		const door = new DOMParser().parseFromString(await (await fetch("/sign-in")).text(), "text/html");
		const form = new URLSearchParams(new FormData(door.querySelector("form")));
		form.set("email", "rosa@example.org");
		form.set("password", "heron lamp seventeen");
		return (await fetch("/sign-in", {method: "POST", body: form})).ok;
	})()`
	require.True(t, eval[bool](b, beside))
	b.press("Send it again")
	require.Contains(t, b.page().says(), "Cot for the ward")
	require.NotContains(t, b.page().says(), "Not taken yet")

	b.open(home + "/plan/asks")
	press(t, b, "Work out what to ask for")
	says(t, b, "It is being worked out")
	_, err := db.Owner().Exec(t.Context(), `UPDATE sign_ins SET seen_at = now() - interval '1 hour'`)
	require.NoError(t, err)
	polled := `(async () => { await new Promise(done => document.addEventListener("htmx:after:request", done, {once: true})); return true; })()`
	require.True(t, eval[bool](b, polled))
	var since time.Duration
	require.NoError(t, db.Pool.QueryRow(t.Context(), `SELECT now() - max(seen_at) FROM sign_ins WHERE ended_at IS NULL`).Scan(&since))
	require.Greater(t, since, time.Hour, "what the page asks by itself is no use")
	unused()
	b.turns("Nobody used this browser here for 2 hours")
	b.fill("E-mail address", "rosa@example.org")
	b.fill("Password", "heron lamp seventeen")
	b.press("Sign in")
	require.Equal(t, "Fabric to ask for", b.page().heading())
	require.Equal(t, home+"/plan/asks", eval[string](b, `location.pathname + location.search`))
}
