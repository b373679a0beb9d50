package site

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

func listingOf(address string) listing {
	c, _ := gin.CreateTestContext(httptest.NewRecorder())
	c.Request = httptest.NewRequest("GET", address, nil)
	return (&Site{}).listing(c, "number", "name")
}

func TestListingFromTheAddress(t *testing.T) {
	l := listingOf("/lots")
	require.Equal(t, "number", l.Sort)
	require.Equal(t, 0, l.Offset())
	require.Equal(t, "/lots?order=down", l.Head("number", "Lot").Link, "a second click turns it round")
	require.Equal(t, "ascending", l.Head("number", "Lot").Sorted)
	require.Equal(t, "/lots?sort=name", l.Head("name", "Name").Link)
	require.Empty(t, l.Head("name", "Name").Sorted)

	l = listingOf("/lots?q=+whale+%26&sort=name&order=down&page=3&state=out&shelf=C")
	state := l.Choose("state", "Where", []option{{"", "anywhere"}, {"out", "out"}})
	require.Equal(t, "out", state)
	require.Equal(t, "C", l.Filter("shelf"))
	require.Equal(t, "whale &", l.Q)
	require.Equal(t, 2*rowsShown, l.Offset())
	l.Total = 4 * rowsShown
	require.Equal(t, "/lots?order=down&page=2&q=whale+%26&shelf=C&sort=name&state=out", l.Before())
	require.Equal(t, "/lots?order=down&page=4&q=whale+%26&shelf=C&sort=name&state=out", l.After())
	require.Equal(t, "descending", l.HeadN("name", "Name").Sorted)
	require.Equal(t, []option{{"order", "down"}, {"shelf", "C"}, {"sort", "name"}}, l.Kept(), "what the form does not show itself")
	words, err := l.Range()
	require.NoError(t, err)
	require.Equal(t, "101 to 150 of 200", words)

	for _, address := range []string{"/lots?sort=password", "/lots?page=-1", "/lots?page=99999999999999999999", "/lots?page=0"} {
		l := listingOf(address)
		require.Equal(t, "number", l.Sort, "only what may be sorted by: %s", address)
		require.Equal(t, 1, l.Page, address)
	}
	l = listingOf("/lots?state=elsewhere")
	require.Equal(t, "", l.Choose("state", "Where", []option{{"", "anywhere"}, {"out", "out"}}), "only what can be chosen")

	for total, want := range map[int]string{0: "Nothing found", 1: "1 in all", 50: "50 in all", 51: "1 to 50 of 51", 1204: "1 to 50 of 1,204"} {
		words, err := listing{Page: 1, Total: total}.Range()
		require.NoError(t, err)
		require.Equal(t, want, words)
	}
}

// Whoever opens a page of a list that has become shorter since is not told that there is nothing.
func TestAPageBehindTheEndOfAList(t *testing.T) {
	ts := newTestSite(t)
	who := ts.addPerson("Mary Ellis")
	ts.giveKits(ts.addSize(), who, 1, 2)
	organiser := ts.as(account.Organiser)
	for _, list := range []string{"people", "kits", "kits?where=out&sort=number", "asked", "fabric", "cutting", "cutting/loose", "donors", "plan", "trail", "trail?by=program"} {
		page := "?page=2"
		if strings.Contains(list, "?") {
			page = "&page=2"
		}
		r := organiser.get("/drives/spring/" + list + page)
		require.Equal(t, http.StatusSeeOther, r.Status, list)
		require.NotContains(t, r.Header.Get("Location"), "page=", list)
		require.Equal(t, http.StatusOK, organiser.get(r.Header.Get("Location")).Status, list)
	}
	r := organiser.get("/drives/spring/kits?q=mary&page=3")
	require.Equal(t, "/drives/spring/kits?q=mary", r.Header.Get("Location"), "what was looked for stays")
	organiser.follow(r).has("Mary Ellis")
}
