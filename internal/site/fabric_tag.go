package site

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
)

// tagPage takes lots in at the door, one after the other.
type tagPage struct {
	Form     tagForm
	Problems map[string]string
	Donors   []string
	Shelves  []string
	Reasons  []string
	Last     int64 // the lot that was tagged just now, 0: none
}

func (tagPage) template() string { return "fabric-tag.html" }
func (tagPage) title() string    { return "Tag a lot" }

// tagForm is as typed.
type tagForm struct {
	Donor    string `form:"donor"`
	Pieces   string `form:"pieces"`
	Tag      string `form:"tag"`
	Kind     string `form:"kind"`
	SetAside string `form:"set_aside"`
	Shelf    string `form:"shelf"`
	Note     string `form:"note"`
	Received string `form:"received_on"`
	Then     string `form:"then"` // measure: measure it now
}

// tagLot handles GET /drives/:drive/fabric/tag?after=42: the form of the next lot,
// with the donor of the one before.
func (s *Site) tagLot(c *gin.Context) error {
	page := tagPage{Form: tagForm{Pieces: "1", Received: s.today(c).Format(time.DateOnly)}}
	if n, ok := wholeNumber(c.Query("after")); ok {
		last, err := s.db.Lot(c.Request.Context(), s.driveID(c), n)
		if err != nil {
			return err
		}
		page.Last = n
		page.Form.Donor, page.Form.Received = last.DonorName, last.ReceivedOn.Format(time.DateOnly)
	}
	return s.tagWith(c, http.StatusOK, page)
}

// tagLotNow handles POST /drives/:drive/fabric/tag.
func (s *Site) tagLotNow(c *gin.Context) error {
	page := tagPage{}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	var t drive.Tagging
	if t, page.Problems = page.Form.tagging(s.today(c)); len(page.Problems) == 0 {
		tagged, err := s.db.TagLots(c.Request.Context(), s.act(c), []drive.Tagging{t})
		if err == nil {
			lot := tagged.Numbers[0]
			if page.Form.Then == "measure" {
				s.flash(c, "Lot %d is tagged.", lot)
				return s.seeOther(c, s.path(c, "fabric", lot, "measure"))
			}
			return s.seeOther(c, s.path(c, "fabric", "tag")+"?after="+strconv.FormatInt(lot, 10))
		}
		if !adopt(page.Problems, err) {
			return err
		}
	}
	return s.tagWith(c, http.StatusUnprocessableEntity, page)
}

func (s *Site) tagWith(c *gin.Context, status int, page tagPage) error {
	donors, err := s.db.Donors(c.Request.Context(), s.driveID(c), "")
	if err != nil {
		return err
	}
	for _, d := range donors {
		page.Donors = append(page.Donors, d.Name)
	}
	if page.Shelves, err = s.db.Shelves(c.Request.Context(), s.driveID(c)); err != nil {
		return err
	}
	page.Reasons = asideReasons()
	return s.page(c, status, page)
}

// asideReasons are what fabric is most often set aside for.
func asideReasons() []string {
	return []string{"smell", "mildew", "pet hair", "stains all over", "wait for the donor"}
}

// tagging reads the form, with what is wrong with it.
func (f tagForm) tagging(today time.Time) (drive.Tagging, map[string]string) {
	problems := map[string]string{}
	t := drive.Tagging{
		Donor: f.Donor, Tag: f.Tag, Kind: f.Kind, SetAside: f.SetAside, Shelf: f.Shelf, Note: f.Note,
		Pieces: typedCount(problems, "pieces", f.Pieces, 1), ReceivedOn: today,
	}
	if day := typedDay(problems, "received_on", f.Received); day != nil {
		t.ReceivedOn = *day
	}
	return t, problems
}
