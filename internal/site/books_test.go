package site

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/workbook"
)

func TestBooksPage(t *testing.T) {
	ts := newTestSite(t)
	p := drive.Person{Kind: "volunteer", Name: "=Ada", Heads: 1, Active: true}
	_, err := ts.Store.CreatePerson(t.Context(), ts.act("ada"), p, &drive.Contacts{Phone: "+353 1 555 0100", Address: "2 Quay Lane"})
	require.NoError(t, err)
	org, reader := ts.as(account.Organiser), ts.as(account.Reader)
	page := org.get("/drives/spring/books")
	page.has("This month", "Last year", "All", `formaction="/drives/spring/books/lists/fabric-entries.csv"`, "hand them on only to those who may read that")
	reader.get("/drives/spring/books").has("is left out")
	org.get("/drives/spring/books?from=2026-01-05&to=2026-02-03").has(`value="2026-01-05"`, `value="2026-02-03"`)

	days := "?from=2026-01-01&to=2026-12-31"
	for _, l := range workbook.Lists() {
		r := org.get("/drives/spring/books/lists/" + l.Name + ".csv" + days)
		require.Equal(t, http.StatusOK, r.Status, l.Name)
		require.True(t, strings.HasPrefix(r.Body, "\ufeff"), l.Name)
		require.Contains(t, r.Header.Get("Content-Type"), "text/csv", l.Name)
		require.Contains(t, r.Header.Get("Content-Disposition"), "spring-"+l.Name+"-2026-01-01-to-2026-12-31.csv")
		require.Equal(t, "no-store", r.Header.Get("Cache-Control"))
	}
	require.Contains(t, org.get("/drives/spring/books/lists/people.csv"+days).Body, "'+353 1 555 0100")
	people := reader.get("/drives/spring/books/lists/people.csv" + days)
	require.Contains(t, people.Body, "'=Ada")
	require.NotContains(t, people.Body, "555 0100")
	require.NotContains(t, people.Body, "Quay")

	for _, tt := range []struct{ days, says string }{
		{"", "Give the first day."},
		{"?from=2026-02-30&to=2026-03-01", "Type a day such as"},
		{"?from=2026-03-02&to=2026-03-01", "before the first"},
		{"?from=1991-03-02&to=2099-03-01", "more than 50 years"},
	} {
		for _, address := range []string{"books.xlsx", "lists/kits.csv"} {
			r := org.get("/drives/spring/books/" + address + tt.days)
			require.Equal(t, http.StatusUnprocessableEntity, r.Status, "%s%s", address, tt.days)
			r.has(tt.says)
		}
	}
	for _, none := range []string{"lists/attic.csv", "lists/kits.xlsx", "lists/kits"} {
		require.Equal(t, http.StatusNotFound, org.get("/drives/spring/books/"+none+days).Status, none)
	}
	require.Equal(t, http.StatusNotFound, ts.as(account.Packer).get("/drives/spring/books/lists/people.csv"+days).Status)
}

// Lists are the same as a spreadsheet: what was searched for and chosen, all of its rows.
func TestKitsAndDonorsAsSpreadsheets(t *testing.T) {
	ts := newTestSite(t)
	for i, name := range []string{"=Orla", "Bo Lund"} {
		_, err := ts.Store.CreateDonor(t.Context(), ts.act(name), drive.Donor{Name: name, Letter: i == 1}, nil)
		require.NoError(t, err)
	}
	z := ts.addSize()
	org := ts.as(account.Organiser)
	require.Equal(t, http.StatusSeeOther, org.post("/drives/spring/kits/own", "size", fmt.Sprint(z.Number), "cases", "4", "kits", "2").Status)
	org.get("/drives/spring/donors?q=bo").has(`href="/drives/spring/donors/donors.csv?q=bo"`)
	found := org.get("/drives/spring/donors/donors.csv?q=bo").Body
	require.Contains(t, found, "Bo Lund")
	require.NotContains(t, found, "Orla")
	require.Contains(t, org.get("/drives/spring/donors/donors.csv").Body, "'=Orla")
	org.get("/drives/spring/kits?where=all").has(`href="/drives/spring/kits/kits.csv?where=all"`)
	require.Contains(t, org.get("/drives/spring/kits/kits.csv?where=all").Body, "their own")
	require.NotContains(t, org.get("/drives/spring/kits/kits.csv?where=lost").Body, "their own")
	// Nobody has sewn these eight: they are born all the same, and the books call them what they are.
	cases, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(org.get("/drives/spring/books/lists/pillowcases.csv?from=2026-03-01&to=2026-03-31").Body, "\ufeff"))).ReadAll()
	require.NoError(t, err)
	born, cut := slices.Index(cases[0], "Own fabric or brought in"), slices.Index(cases[0], "Cut")
	require.Equal(t, []string{"8", "8"}, []string{cases[1][born], cases[1][cut]}, "%v", cases)
}
