package site

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/postgres"
)

// donorsPage lists who gave fabric.
type donorsPage struct {
	List   listing
	Donors []postgres.DonorLine
	Lots   int
	Pieces int
	Due    int
	Any    bool
	Writes bool
	Rules  bool // may set how letters are worded
}

func (donorsPage) template() string { return "donors.html" }
func (donorsPage) title() string    { return "Donors" }

// donors handles GET /drives/:drive/donors.
func (s *Site) donors(c *gin.Context) error {
	list := s.listing(c, "name", "lots", "pieces", "due")
	which := list.Choose("who", "Who", []option{{"", "everybody"}, {"due", "to be thanked"}, {"letter", "asked for a letter"}})
	found, err := s.db.Donors(c.Request.Context(), s.driveID(c), list.Q)
	if err != nil {
		return err
	}
	page := donorsPage{Any: len(found) > 0 || list.Q != "", Writes: s.may(c, account.Fabric, account.Write), Rules: s.may(c, account.Drive, account.Write)}
	found = slices.DeleteFunc(found, func(d postgres.DonorLine) bool {
		return which == "due" && d.Due == 0 || which == "letter" && !d.Letter
	})
	slices.SortStableFunc(found, func(a, b postgres.DonorLine) int {
		order := map[string]int{
			"name": strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)),
			"lots": cmp.Compare(a.Lots, b.Lots), "pieces": cmp.Compare(a.Pieces, b.Pieces), "due": cmp.Compare(a.Due, b.Due),
		}[list.Sort]
		if list.Desc {
			return -order
		}
		return order
	})
	for _, d := range found {
		page.Lots, page.Pieces, page.Due = page.Lots+d.Lots, page.Pieces+d.Pieces, page.Due+d.Due
	}
	list.Total = len(found)
	from := min(list.Offset(), len(found))
	page.Donors, page.List = found[from:min(from+list.Limit(), len(found))], list
	return s.page(c, http.StatusOK, page)
}
