package site

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/words"
)

// Whoever comes by a personal link reads one language, also in what stands around the
// pages and in what is refused; those who run the drive read theirs.
func TestGuestsReadOneLanguageAllTheWay(t *testing.T) {
	ts := newTestSite(t)
	z, mary := ts.addSize(), ts.addPerson("Mary Ellis")
	ts.giveKits(z, mary, 1, 6)
	made := words.In("en")
	made.Tag = "x-made"
	made.Date = func(day time.Time) string { return day.Format("02/01/06 <o>") }
	made.Around = words.Around{
		Skip: "Skipo", ToStart: "Starto", NotFound: "Nonefindo", NotNow: "Nonnuno", NotYours: "Nonvia", PutRight: "Rektigu",
		NoPage: "Nenia pagho", NoThing: "Nenio", NoKit: "Nenia kito", NoKey: "Sen shlosilo",
	}
	english := words.In("en").Around
	ts.Site.guests = made
	nobody, path := ts.nobody(), ts.personalPath(mary, "mary")
	page := nobody.get(path)
	page.has(`<html lang="x-made">`, "Skipo", "09/03/26 &lt;o&gt;").lacks(english.Skip, "9 Mar 2026")
	nobody.get(path+"/kits/1").has("Skipo", "09/03/26 &lt;o&gt;").lacks("9 Mar 2026")
	nobody.get(path+"/kits/one").has("Nonefindo", "Nenia kito", "Starto").lacks(english.NoKit, english.NotFound)
	nobody.get(path + "/nowhere").has("Nenia pagho").lacks(english.NoPage)
	nobody.get("/r/nothing/at/all").has("Nenia pagho", "Skipo").lacks(english.NoPage)
	r := nobody.post(path+"/kits/1/finished", "finished", "2", "once", "")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("Sen shlosilo", "Rektigu").lacks(english.NoKey)
	nobody.post(path + "/kits/1/take-back/one").has("Nenio").lacks(english.NoThing)

	ts.as(account.Organiser).get("/drives/spring/kits/one").has(`<html lang="en">`, english.Skip, english.NoKit).lacks("Skipo")
}
