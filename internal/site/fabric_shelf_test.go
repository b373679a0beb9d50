package site

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

func TestShelfIsLookedAt(t *testing.T) {
	ts := newTestSite(t)
	ts.addSize()
	desk := ts.as(account.Desk)
	measuredLot(desk, "yes")
	desk.post("/drives/spring/fabric/tag", "pieces", "1", "donor", "Pim", "shelf", "B2")
	r := desk.get("/drives/spring/fabric")
	r.has("every colour", "navy", "Given by", "Would make", "/drives/spring/fabric/totals", "/drives/spring/fabric/shelf.csv")
	only := func(query string, lots ...string) {
		t.Helper()
		r := desk.get("/drives/spring/fabric?" + query)
		require.Equal(t, len(lots), strings.Count(r.Body, `<th scope="row" data-label="Lot">`), query)
		for _, lot := range lots {
			r.has(`<th scope="row" data-label="Lot"><a href="/drives/spring/fabric/` + lot + `">`)
		}
	}
	only("", "1", "2")
	only("colour=navy", "1")
	only("fibre=cotton&print=solid", "1")
	only("shelf=B2", "2")
	only("donor=2", "2")
	only("state=to+measure", "2")
	only("q=pim", "2")
	desk.get("/drives/spring/fabric?colour=navy").has("/drives/spring/fabric/totals?colour=navy", "/drives/spring/fabric/shelf.csv?colour=navy")

	r = desk.get("/drives/spring/fabric/totals")
	r.has("2.9 yd", "quilting cotton", "By colour", "How these numbers came about")
	desk.get("/drives/spring/fabric/totals?shelf=B2").has("No free cloth fits that here")
	r = desk.get("/drives/spring/fabric/shelf.csv?colour=navy")
	require.Equal(t, http.StatusOK, r.Status)
	require.Contains(t, r.Header.Get("Content-Disposition"), "spring-shelf.csv")
	require.Equal(t, 2, strings.Count(r.Body, "\r\n"), "a head and one lot")
	r.has("1,,", "Orla", "2.944")
}
