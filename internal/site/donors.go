package site

import (
	"cmp"
	"io"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// donorsPage lists who gave fabric.
type donorsPage struct {
	List   listing
	Donors []postgres.DonorLine
	Lots   int
	Pieces int
	Due    int
	File   string // the list as a spreadsheet
	Any    bool
	Writes bool
	Rules  bool // may set how letters are worded
}

func (donorsPage) template() string { return "donors.html" }
func (donorsPage) title() string    { return "Donors" }

// donors handles GET /drives/:drive/donors.
func (s *Site) donors(c *gin.Context) error {
	list := s.listing(c, donorSorts()...)
	found, err := s.donorsFound(c, &list)
	if err != nil {
		return err
	}
	page := donorsPage{
		Any: len(found) > 0 || list.Q != "" || list.kept.Has("who"), Writes: s.may(c, account.Fabric, account.Write), Rules: s.may(c, account.Drive, account.Write),
		File: list.with(s.path(c, "donors", "donors.csv")),
	}
	for _, d := range found {
		page.Lots, page.Pieces, page.Due = page.Lots+d.Lots, page.Pieces+d.Pieces, page.Due+d.Due
	}
	list.Total = len(found)
	if to := list.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	from := min(list.Offset(), len(found))
	page.Donors, page.List = found[from:min(from+list.Limit(), len(found))], list
	return s.page(c, http.StatusOK, page)
}

// donorsFile handles GET /drives/:drive/donors/donors.csv: the list as it is looked at,
// all of its rows.
func (s *Site) donorsFile(c *gin.Context) error {
	list := s.listing(c, donorSorts()...)
	found, err := s.donorsFound(c, &list)
	if err != nil {
		return err
	}
	lines := make([]workbook.DonorLine, len(found))
	for i, d := range found {
		lines[i] = workbook.DonorLine{Donor: d.Donor, Lots: d.Lots, Pieces: d.Pieces, Due: d.Due}
	}
	return s.written(c, s.driveID(c)+"-donors.csv", asText, func(w io.Writer) error { return workbook.WriteDonors(w, lines) })
}

func donorSorts() []string { return []string{"name", "lots", "pieces", "due"} }

// donorsFound gives the donors of a list in its order.
func (s *Site) donorsFound(c *gin.Context, list *listing) ([]postgres.DonorLine, error) {
	which := list.Choose("who", "Who", []option{{"", "everybody"}, {"due", "to be thanked"}, {"letter", "asked for a letter"}})
	found, err := s.db.Donors(c.Request.Context(), s.driveID(c), list.Q)
	if err != nil {
		return nil, err
	}
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
	return found, nil
}
