package site

import (
	"net/http"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/postgres"
)

// What a closed drive has left comes into the next one: every lot that has free cloth or waits to be
// measured, as it was noted, with all its pieces and under a code of its own; and who sews.
func TestWhatIsLeftComesIntoTheNextDrive(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	for _, lot := range [][]string{
		{"pieces", "2", "tag", "B-12", "donor", "Orla", "kind", "bolt of navy", "shelf", "A1", "note", "smells of lavender"},
		{"pieces", "3", "donor", "Pim", "kind", "fat quarters", "shelf", "B2"},
		{"pieces", "1", "tag", "2", "kind", "red tonal", "set_aside", "pet hair"},
		{"pieces", "1", "tag", "B-13", "donor", "Orla"},
	} {
		require.Equal(t, http.StatusSeeOther, organiser.post("/drives/spring/fabric/tag", lot...).Status)
	}
	for _, lot := range []string{"1", "4"} {
		require.Equal(t, http.StatusSeeOther, organiser.post("/drives/spring/fabric/"+lot+"/measure", "version", "1", "length", "3 yd", "width", "44", "pieces", "2", "ends", "cut", "weight", "quilting",
			"fibre", "linen", "washed", "yes", "print", "solid", "turn", "either", "colours", "navy, white", "themes", "sea", "then", "lot").Status)
	}
	_, err := ts.DB.Owner().Exec(t.Context(), `INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		SELECT drive_id, lot, piece, 'promised', 'free', 'promised', free_length, free, now(), 1 FROM pieces WHERE lot = 4 OR lot = 1 AND piece = 2`)
	require.NoError(t, err)
	ts.addPerson("Mary Ellis")
	page := organiser.follow(organiser.post("/drives/spring/settings/closing/close")).Body

	ts.addDrive("autumn", "Autumn drive")
	next := ts.asIn(account.Organiser, "autumn")
	for _, list := range []struct{ name, kind, says string }{{"shelf", "fabric", "<b>3</b> of 3 rows to be taken"}, {"people", "people", "<b>1</b> of 1 row to be taken"}} {
		link := regexp.MustCompile(`href="([^"]*` + list.name + `\.csv[^"]*)"`).FindStringSubmatch(page)
		require.NotEmpty(t, link, list.name)
		file := next.upload("/drives/autumn/books/in", list.name+".csv", []byte(organiser.get(link[1]).Body), "kind", list.kind)
		next.follow(file).has(list.says)
		require.Equal(t, http.StatusSeeOther, next.post(file.Location+"/take").Status)
	}
	next.get("/drives/autumn/people").has("Mary Ellis")

	all := postgres.LotsQuery{State: postgres.LotsAll}
	was, err := ts.Store.Lots(t.Context(), "spring", all)
	require.NoError(t, err)
	now, err := ts.Store.Lots(t.Context(), "autumn", all)
	require.NoError(t, err)
	require.Len(t, now.Lots, 3, "not what is promised")
	codes, pieces := []string{"B-12", "spring lot 2", "2"}, []int{1, 3, 1}
	for i, l := range now.Lots {
		want := was.Lots[i]
		require.Equal(t, codes[i], *l.Tag)
		require.Equal(t, pieces[i], l.PiecesTold, codes[i])
		require.False(t, l.Measured(), codes[i])
		require.Equal(t, []any{want.DonorName, want.ReceivedOn, want.Kind, want.SetAside, want.Shelf, want.Note}, []any{l.DonorName, l.ReceivedOn, l.Kind, l.SetAside, l.Shelf, l.Note}, codes[i])
	}
	require.Equal(t, was.Lots[0].Make, now.Lots[0].Make)
}
