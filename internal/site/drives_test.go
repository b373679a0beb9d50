package site

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
)

func TestStartTheFirstDrive(t *testing.T) {
	ts := newTestSite(t)
	p, err := ts.Store.AddAccount(t.Context(), drive.Act{Key: "key-first-organiser", At: ts.Clock.Now()}, "Rosa Lind", "rosa@example.org", true)
	require.NoError(t, err)
	rosa := ts.signedInAs(p)
	require.Equal(t, "/drives/new", rosa.get("/").Location, "whoever may start a drive and has none is led there")
	rosa.get("/drives/new").has("Start a drive", `name="zone"`)

	r := rosa.post("/drives/new", "name", "Ward pillowcases", "unit", "cm", "zone", "Mars/Base")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Give a time zone such as", `value="Ward pillowcases"`, `value="Mars/Base"`)

	r = rosa.post("/drives/new", "name", "Ward pillowcases", "unit", "cm", "zone", "Europe/Dublin")
	require.Equal(t, http.StatusSeeOther, r.Status)
	require.Equal(t, "/drives/ward-pillowcases/needs", r.Location)
	rosa.follow(r).has("Ward pillowcases is started", "Four first steps", "Choose a size", "Add a recipient")
	require.Equal(t, "/drives/ward-pillowcases", rosa.get("/").Location)

	r = rosa.post("/drives/new", "name", "Ward pillowcases", "unit", "in", "zone", "Europe/Dublin")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Another drive has this address already")
}

// A zone is chosen, or typed as people call it.
func TestZoneTyped(t *testing.T) {
	for typed, want := range map[string]string{
		"Europe/Dublin": "Europe/Dublin", "europe/dublin": "Europe/Dublin", "Dublin": "Europe/Dublin", "new york": "America/New_York",
		"Asia/Tbilisi": "Asia/Tbilisi", "Mars/Base": "Mars/Base", "": "", "UTC": "UTC",
	} {
		require.Equal(t, want, zoneTyped(typed), typed)
	}
}

func TestStartADriveRefused(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	for name, tt := range map[string]struct {
		fields []string
		want   string
	}{
		"no name":                            {[]string{"unit", "in", "zone", "UTC"}, "Say what the drive is called"},
		"a name without an addres":           {[]string{"name", "愛", "unit", "in", "zone", "UTC"}, "Give an address of small letters"},
		"an address that is taken by a page": {[]string{"name", "New", "unit", "in", "zone", "UTC"}, "The address cannot be"},
		"an odd address":                     {[]string{"name", "Spring", "id", "Spring Ward!", "unit", "in", "zone", "UTC"}, "Use small letters, digits and single dashes"},
		"no unit":                            {[]string{"name", "Spring", "zone", "UTC"}, "Choose inches or centimetres"},
	} {
		r := organiser.post("/drives/new", tt.fields...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, name)
		r.has(tt.want)
	}
	require.Equal(t, http.StatusUnprocessableEntity, organiser.post("/drives/new", "name", "X", "unit", "in", "zone", "UTC", "once", "").Status, "no key")
	require.Equal(t, http.StatusNotFound, ts.as(account.Desk).get("/drives/new").Status, "the desk does not start drives")
}

func TestSettings(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	reader := ts.as(account.Reader)
	reader.get("/drives/spring/settings").has("America/Chicago", "An organiser can change these").lacks("Save the settings", "settings/passes")
	require.Equal(t, http.StatusNotFound, reader.post("/drives/spring/settings").Status)
	organiser.get("/drives/spring/settings").has(`value="9"`, `value="18"`, `name="version" value="1"`)

	typed := []string{
		"name", "Spring ward", "zone", "America/Chicago", "unit", "in", "washing", drive.WashedFirst,
		"kit_cases", "6", "spare_share", "5 %", "keep_width", "23 cm", "keep_length", "18 1/2", "version", "1",
	}
	r := organiser.post("/drives/spring/settings", typed...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.follow(r).has("The settings are saved", `value="6"`, `value="18 1/2"`, `value="230 mm"`)

	r = organiser.post("/drives/spring/settings", typed...)
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", `name="version" value="2"`)

	typed[len(typed)-1] = "2"
	for name, bad := range map[string][2]string{
		"kit_cases":   {"0", "A kit holds 1 to 50 pillowcases."},
		"spare_share": {"sixty", "Type a whole number"},
		"keep_width":  {"-3", "keep_width"},
		"zone":        {"", "Give a time zone"},
	} {
		changed := append([]string{name, bad[0]}, without(typed, name)...)
		r = organiser.post("/drives/spring/settings", changed...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, name)
		r.has(bad[1], `value="`+bad[0]+`"`)
	}
}

// A bare length is in the unit that stood beside its field, not in the one just chosen.
func TestSettingsUnitChanges(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	r := organiser.post("/drives/spring/settings", "name", "Spring", "zone", "UTC", "unit", "cm", "washing", drive.WashedFirst,
		"kit_cases", "4", "spare_share", "0", "keep_width", "9", "keep_length", "18", "version", "1")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	shown := organiser.follow(r)
	shown.has(`value="22.86"`, `value="45.72"`)
	require.Equal(t, "cm", shown.hidden("typed"))
	// Whoever had it open in inches meant inches, and still does.
	r = organiser.post("/drives/spring/settings", "name", "Spring", "zone", "UTC", "unit", "in", "washing", drive.WashedFirst,
		"kit_cases", "4", "spare_share", "0", "keep_width", "10", "keep_length", "18 in", "version", "1", "typed", "in")
	require.Equal(t, http.StatusConflict, r.Status)
	r.has(`value="10 in"`, `value="18 in"`, `data-label="You typed">10 in<`).lacks(`data-label="You typed">18 in<`)
	require.Equal(t, "cm", r.hidden("typed"))
	r = organiser.post("/drives/spring/settings", "name", "Spring", "zone", "UTC", "unit", "in", "washing", drive.WashedFirst,
		"kit_cases", "none", "spare_share", "0", "keep_width", "10", "keep_length", "18", "version", "2", "typed", "cm")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has(`value="10"`, `value="18"`)
}

// without gives pairs without those of one name.
func without(pairs []string, name string) []string {
	var kept []string
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i] != name {
			kept = append(kept, pairs[i], pairs[i+1])
		}
	}
	return kept
}

func TestNextStepLeadsOn(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/needs").has("Four first steps")
	organiser.get("/drives/spring/sizes").lacks("Next:")
	organiser.get("/drives/spring/asked").has("Nobody asks for anything yet", `href="/drives/spring/recipients/new"`)
	r := organiser.post("/drives/spring/sizes/ready-made", "name", "standard")
	organiser.follow(r).has("The size standard is added", "Next: A recipient")
	r = organiser.post("/drives/spring/recipients/new", "name", "Ward 4", "kind", "ward")
	organiser.follow(r).has("Ward 4 is added", "Next: Something asked for")
	r = organiser.post("/drives/spring/asked/new", "recipient", "1", "sizes", "1", "wanted", "6", "matter", "must")
	page := organiser.follow(r)
	page.has("Next: Fabric")
	require.Equal(t, 1, strings.Count(page.Body, "Next: "))
	ts.as(account.Reader).get("/drives/spring/sizes").lacks("Next:")
}
