package main

import (
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/require"
)

// Somebody is invited, chooses a password and sets a second step up; signs in elsewhere
// with both; and a phone-sized tablet works by a pass until an organiser ends it.
func TestComingIn(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, rosa := withDemo(t)
	source := axe(t)
	look := func(b *tab, name string, width int64) {
		t.Helper()
		require.Empty(t, b.look(source), name)
		if folder := os.Getenv("BOLTWARD_PICTURES"); folder != "" {
			b.picture(folder, name)
		}
		b.size(width, 900)
	}
	own := func(h hands, label string) string {
		t.Helper()
		return strings.TrimPrefix(attr(h.page().field(t, label), "value"), p.address)
	}
	const settings = "/drives/lantern-row/settings"

	organiser := newTab(t, p.address)
	again(t, organiser)
	organiser.open(settings + "/people/invite")
	organiser.fill("For whom", "Marta")
	organiser.tick("organiser: everything")
	organiser.fill("Your password", "heron lamp seventeen")
	press(t, organiser, "Make the link")
	look(organiser, "invite-made", wide)
	link := own(organiser, "Link")

	marta := newTab(t, p.address)
	marta.open(link)
	look(marta, "invited", wide)
	marta.fill("Your name", "Marta Quill")
	marta.fill("E-mail address", "marta@example.org")
	marta.fill("Password", "heron lamp seventeen")
	press(t, marta, "Join")
	says(t, marta, "Welcome to", "Marta Quill")
	marta.open("/account")
	look(marta, "account", wide)
	marta.press("Set it up")
	press(t, marta, "Set it up")
	look(marta, "second-step", wide)
	secret := strings.ReplaceAll(eval[string](marta, `document.querySelector("kbd.secret").textContent`), " ", "")
	code := func(at time.Time) string {
		t.Helper()
		digits, err := totp.GenerateCode(secret, at)
		require.NoError(t, err)
		return digits
	}
	marta.fill("Code", code(time.Now()))
	marta.fill("Your password", "heron lamp seventeen")
	press(t, marta, "Turn it on")
	says(t, marta, "The second step is on")
	look(marta, "recovery-codes", wide)

	tablet := newTab(t, p.address)
	tablet.open("/sign-in?next=" + settings)
	tablet.fill("E-mail address", "marta@example.org")
	tablet.fill("Password", "heron lamp seventeen")
	press(t, tablet, "Sign in")
	require.Equal(t, "The second step", tablet.page().heading())
	look(tablet, "sign-in-second", wide)
	tablet.fill("Code", code(time.Now().Add(30*time.Second))) // the one of now was taken
	press(t, tablet, "Sign in")
	require.Equal(t, "Settings", tablet.page().heading())

	organiser.open(settings + "/passes")
	organiser.tick("desk: takes fabric in, hands kits out and takes them back")
	organiser.fill("Where it lies", "front table")
	press(t, organiser, "Make the pass")
	look(organiser, "pass-made", wide)
	tablet.size(phone, 844)
	tablet.open(own(organiser, "Link that opens the pass"))
	look(tablet, "pass-open", phone)
	press(t, tablet, "Use this tablet")
	look(tablet, "pass-initials", phone)
	tablet.fill("Initials", "rb")
	press(t, tablet, "That is me")
	press(t, tablet, "Somebody else")
	tablet.fill("Initials", "mk")
	press(t, tablet, "That is me")
	tablet.open("/drives/lantern-row/fabric/supplies/new")
	look(tablet, "tablet", phone)
	tablet.fill("What", "Lavender bags")
	// One tap says that it is somebody else, and what is typed stays.
	require.True(t, eval[bool](tablet, `(async () => {
	document.querySelector('#hands button[value="RB"]').click();
	while (document.querySelector("#hands > b")?.textContent !== "RB") await new Promise(done => setTimeout(done, 50));
	return true;
})()`))
	tablet.fill("There are", "40")
	press(t, tablet, "Save")
	says(t, tablet, "Lavender bags")
	rosa.open("/drives/lantern-row/trail")
	says(t, rosa, "Supply added", "RB (pass 1, front table)", "Pass opened", "Came by invitation", "Second step on")
	organiser.open(settings + "/passes")
	press(t, organiser, "End it: pass 1")
	tablet.open("/drives/lantern-row/needs")
	require.Equal(t, "This tablet's pass is over", tablet.page().heading())
	require.Equal(t, http.StatusOK, tablet.status())
	look(tablet, "pass-over", phone)

	organiser.open(settings + "/people")
	press(t, organiser, "Marta Quill")
	require.True(t, eval[bool](organiser, `document.querySelector('form[action$="/erase"]').closest("details").open = true`))
	look(organiser, "member", wide)
	organiser.fill("Your own password", "not this one at all")
	organiser.tick("I am sure")
	organiser.press("Erase them")
	require.Equal(t, http.StatusUnprocessableEntity, organiser.status())
	says(t, organiser, "This is not your password now")
	look(organiser, "member-kept", wide)
	organiser.fill("Your own password", "heron lamp seventeen")
	organiser.tick("I am sure")
	press(t, organiser, "Erase them")
	says(t, organiser, "They are erased")
	require.False(t, strings.Contains(organiser.page().says(), "Marta Quill"))
}
