package site

import (
	"context"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// give tags lots by donors at the door, today.
func give(t *testing.T, ts *testSite, names ...string) {
	t.Helper()
	var lots []drive.Tagging
	for _, name := range names {
		lots = append(lots, drive.Tagging{Donor: name, Kind: "bolt end", Pieces: 2, ReceivedOn: ts.Clock.Now().Truncate(24 * time.Hour)})
	}
	_, err := ts.Store.TagLots(context.Background(), ts.act("give-"+strings.Join(names, "-")), lots)
	require.NoError(t, err)
}

func TestDonorsAndWhatBecameOfTheirFabric(t *testing.T) {
	ts := newTestSite(t)
	give(t, ts, "Mary Ellis", "Noor Haddad", "Mary Ellis")
	desk := ts.as(account.Desk)
	desk.get("/drives/spring/fabric").has(`href="/drives/spring/donors"`)
	list := desk.get("/drives/spring/donors")
	list.has("<b>2 donors</b>, 3 lots of 6 pieces; 2 gifts not thanked for yet", `aria-current="page">Fabric`)
	list.lacks("How letters are worded")
	desk.get("/drives/spring/donors?q=noor").lacks("Mary Ellis")
	desk.get("/drives/spring/donors?who=letter").has("No donor fits")
	desk.get("/drives/spring/donors/1").has("Gave <b>2 lots</b>", "2 pieces of bolt end", "to be measured", "not yet")
	ts.as(account.Packer).get("/drives/spring/donors/1").lacks("Thanked in person", "letter.pdf")
	require.Equal(t, 404, desk.get("/drives/spring/donors/9").Status)
}

// Two people who save the same donor: who is later is shown both, and loses nothing.
func TestDonorSavedByTwo(t *testing.T) {
	ts := newTestSite(t)
	give(t, ts, "Mary Ellis")
	organiser, desk := ts.as(account.Organiser), ts.as(account.Desk)
	organiser.get("/drives/spring/donors/1/change").has("How to reach them", `name="version" value="1"`)
	desk.get("/drives/spring/donors/1/change").has("written down by an organiser")
	r := organiser.post("/drives/spring/donors/1/change", "version", "1", "name", "Mary Ellis", "letter", "yes", "address", "4 Mill Lane\nOldtown")
	require.Equal(t, "/drives/spring/donors/1", r.Location, r.Body)
	r = desk.post("/drives/spring/donors/1/change", "version", "1", "name", "Mary Ellis-Byrne", "note", "rings at the back door", "address", "smuggled")
	require.Equal(t, 409, r.Status)
	r.has("Mary Ellis-Byrne", "rings at the back door", "Asked for a letter", `name="version" value="2"`)
	r.lacks("4 Mill Lane")
	r = desk.post("/drives/spring/donors/1/change", "version", "2", "name", "Mary Ellis-Byrne", "note", "rings at the back door", "letter", "yes")
	require.Equal(t, 303, r.Status, "sent again, it is saved")
	organiser.get("/drives/spring/donors/1").has("4 Mill Lane", "rings at the back door", "asked for one")

	r = desk.post("/drives/spring/donors/new", "name", "mary ellis-byrne", "note", "typed with care")
	require.Equal(t, 422, r.Status)
	r.has("There is a donor of this name already", "typed with care")
	desk.post("/drives/spring/donors/1/change", "version", "3", "name", "M", "letter", "yes", "no_letters", "yes").has("Untick one of the two")
}

func TestLettersOfAWeek(t *testing.T) {
	ts := newTestSite(t)
	give(t, ts, "Mary Ellis", "Noor Haddad", "Bo Lind", "Cy Quiet", "Di Gone")
	organiser := ts.as(account.Organiser)
	for path, form := range map[string][]string{
		"1": {"name", "Mary Ellis", "letter", "yes", "address", "4 Mill Lane\nOldtown"},
		"2": {"name", "Noor Haddad", "email", "noor@example.org"},
		"4": {"name", "Cy Quiet", "no_letters", "yes", "address", "5 Mill Lane"},
	} {
		require.Equal(t, 303, organiser.post("/drives/spring/donors/"+path+"/change", append(form, "version", "1")...).Status)
	}
	require.Equal(t, 422, organiser.post("/drives/spring/donors/5/erase").Status, "not without being sure")
	organiser.follow(organiser.post("/drives/spring/donors/5/erase", "sure", "yes")).has("Erased donor 5", "asked to be forgotten")

	r := organiser.post("/drives/spring/donors/letters", "version", "0", "wording", "UK", "paper", "A4", "sender", "Spring drive\n1 Quilt Street", "signed_by", "Ada",
		"window_left", "25 mm", "window_top", "50 mm")
	require.Equal(t, "/drives/spring/donors/letters", r.Location, r.Body)
	organiser.post("/drives/spring/donors/letters", "version", "0", "wording", "US", "paper", "A4", "window_left", "1", "window_top", "2").has("1 Quilt Street", "United Kingdom")
	require.Equal(t, 404, ts.as(account.Desk).get("/drives/spring/donors/letters").Status)

	desk := ts.as(account.Desk)
	page := desk.get("/drives/spring/donors/thanks")
	page.has("<b>4</b> not thanked for yet", "Open 2 letters as one PDF", "asked for a letter", "thank in person", "no address is noted", "These 2 letters have gone out")
	_, mail, _ := strings.Cut(page.Body, `href="mailto:`)
	mail, _, _ = strings.Cut(mail, `"`)
	require.True(t, strings.HasPrefix(mail, "noor@example.org?subject=Thank%20you"), mail)
	u, err := url.Parse("mailto:" + strings.ReplaceAll(mail, "&amp;", "&"))
	require.NoError(t, err)
	require.Contains(t, u.Query().Get("body"), "Dear Noor Haddad,\r\n")
	require.Contains(t, u.Query().Get("body"), "Gift Aid does not apply to gifts of goods")
	pdf := desk.get("/drives/spring/donors/thanks/letters.pdf?week=2026-03-05")
	require.Equal(t, "application/pdf", pdf.Header.Get("Content-Type"))
	require.Equal(t, 2, strings.Count(pdf.Body, "/Type /Page\n"), "a letter a sheet")
	require.Equal(t, 200, desk.get("/drives/spring/donors/1/letter.pdf?on=2026-03-02").Status)
	require.Equal(t, 409, desk.get("/drives/spring/donors/4/letter.pdf?on=2026-03-02").Status, "who does not want letters gets none")
	require.Equal(t, 409, desk.get("/drives/spring/donors/5/letter.pdf?on=2026-03-02").Status, "nor who is forgotten")
	require.Equal(t, 404, desk.get("/drives/spring/donors/1/letter.pdf?on=2026-03-03").Status)
	require.Equal(t, 404, desk.get("/drives/spring/donors/thanks/letters.pdf?week=2026-04-05").Status)

	back := "/drives/spring/donors/thanks?week=2026-03-02"
	r = desk.post("/drives/spring/donors/thanks", "gift", "1@2026-03-02", "gift", "3@2026-03-02", "way", "letter", "back", back)
	require.Equal(t, back, r.Location)
	r = desk.follow(r)
	r.has("Thanked letter: 2 gifts", `<b>2</b> not thanked for yet`, "/donors/thanks/1/undo")
	r.lacks("letters have gone out")
	require.Equal(t, 409, desk.post("/drives/spring/donors/thanks", "gift", "1@2026-03-02", "way", "in person").Status, "thanked once")
	require.Equal(t, 422, desk.post("/drives/spring/donors/thanks", "gift", "x", "way", "in person").Status)
	require.Equal(t, "/drives/spring/donors/thanks", desk.post("/drives/spring/donors/thanks", "gift", "2@2026-03-02", "way", "e-mail", "back", "//evil.example").Location)
	desk.follow(desk.post("/drives/spring/donors/thanks/1/undo?back="+url.QueryEscape(back))).has("Not thanked yet, after all", "Open 2 letters")
}

// A pillowcase counts once, those that came furthest first, and about is said where
// the books cannot know.
func TestHowFarPillowcasesCame(t *testing.T) {
	row := func(kit int64, holding int, state drive.CaseState, n int, ward string) postgres.GaveCases {
		return postgres.GaveCases{Kit: kit, Holding: holding, State: state, N: n, Recipient: ward}
	}
	cases := []postgres.GaveCases{
		row(1, 4, drive.CaseConfirmed, 3, "Ward 4"), row(1, 4, drive.CaseLost, 1, "Ward 4"),
		row(2, 2, drive.CaseOut, 4, "Ward 4"), row(3, 1, drive.CasePlanned, 4, "Hospice"),
	}
	require.Equal(t, []string{"3 delivered to Ward 4", "2 in kits", "1 planned", "1 lost or not usable"}, casesReached(cases, 0))
	mixed := append(cases, row(4, 2, drive.CaseDelivered, 3, "Hospice"), row(4, 2, drive.CaseSewn, 1, "Hospice"))
	require.Equal(t, "about 3 delivered to Ward 4", casesReached(mixed, 0)[0])
	all, delivered := holding(mixed)
	require.Equal(t, []int{8, 4}, []int{all, delivered}, "a letter tells only what is certain: one of kit 4 was delivered at least, and the lost one of kit 1 is in no bed")
	require.Empty(t, casesReached(cases, 7))
}
