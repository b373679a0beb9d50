package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// Whoever brought the wrong file in takes it back where files are brought, and reads what stays.
func TestTheWrongFileIsTakenBack(t *testing.T) {
	ts := newTestSite(t)
	rosa := ts.as(account.Organiser)
	file := "Code;Yardage;Width;Given by;Print;Fibre\nX1;2,5 m;44\";Orla;solid;cotton\nX2;2 m;44;Orla;solid;cotton\n"
	rosa.upload("/drives/spring/books/in", "hall.csv", []byte(file), "kind", "fabric")
	r := rosa.post("/drives/spring/books/in/1/take")
	rosa.follow(r).has("2 rows taken, 0 here already, 0 refused.", "The wrong file?")
	rosa.get("/drives/spring/books/in").has("Brought in lately", "/drives/spring/books/brought/1", "2 rows")
	rosa.post("/drives/spring/fabric/2/aside", "set_aside", "mildew")
	page := rosa.get("/drives/spring/books/brought/1")
	page.has("1 lot can be taken back", "Lot 2, X2", "Lot 2 was changed since.", "Gave a lot that stays.")
	r = rosa.post("/drives/spring/books/brought/1/undo")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	rosa.follow(r).has("Taken back, but for 2 things", "so it stays", "Lot 2, X2")
	rosa.get("/drives/spring/books/in").has("2 rows, taken back in part")
	rosa.get("/drives/spring/fabric?state=all").has("X2").lacks("X1")
	require.Equal(t, http.StatusConflict, rosa.post("/drives/spring/books/brought/1/undo").Status)
	require.Equal(t, http.StatusNotFound, rosa.get("/drives/spring/books/brought/9").Status)
	require.Equal(t, http.StatusNotFound, ts.as(account.Desk).get("/drives/spring/books/brought/1").Status)
}
