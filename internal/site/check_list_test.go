package site

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCheckListClash: a stale edit of what is checked shows the points that stand beside those typed, row by row, and sent again
// takes their place.
func TestCheckListClash(t *testing.T) {
	_, organiser := askedSite(t)
	const page = "/drives/spring/back/list"
	tolerance := "1"
	form := func(look, on, version string) []string {
		return []string{"version", version, "tolerance", tolerance, "point1_look", look, "point1_fault", "seam open", "point1_tell", "", "point1_on", on}
	}
	r := organiser.post(page, form("every seam holds", "yes", "0")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	tolerance = "1.0 in"
	r = organiser.post(page, form("no seam gapes", "", "0")...)
	require.Equal(t, http.StatusConflict, r.Status, r.Body)
	r.has("Where the two differ", "Point 1: looked for", `data-label="Stands now">every seam holds<`, `data-label="You typed">no seam gapes<`,
		"Point 1: looked at in this drive", `value="no seam gapes"`, `name="version" value="1"`)
	r.lacks("Point 1: ticked", "Point 2:", "Give or take</th>")
	r = organiser.post(page, form("no seam gapes", "", "1")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
}
