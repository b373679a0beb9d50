package site

import (
	"cmp"
	"context"
	"net/http"
	"strconv"
	"strings"
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
	Kinds    []string
	Reasons  []option
	Last     tagLast
	More     bool // something stands where only a few lots need anything
}

// tagLast is the lot that was tagged just now.
type tagLast struct {
	Number int64 // 0: none
	Tag    string
	Words  string
	Like   string // a donor of nearly the same name, where its donor is new
	Waits  bool   // it came just now and nobody measured it yet, so that it can be taken back
}

func (tagPage) template() string { return "fabric-tag.html" }
func (tagPage) title() string    { return "Tag a lot" }

// tagForm is as typed.
type tagForm struct {
	Donor     string   `form:"donor"`
	Pieces    string   `form:"pieces"`
	Tag       string   `form:"tag"`
	Kind      string   `form:"kind"`
	PhotoKept string   `form:"photo_kept"` // the fingerprint of a photo that came before
	Aside     []string `form:"aside"`
	SetAside  string   `form:"set_aside"`
	Shelf     string   `form:"shelf"`
	Note      string   `form:"note"`
	Received  string   `form:"received_on"`
	Then      string   `form:"then"` // measure: measure it now
}

// tagLot handles GET /drives/:drive/fabric/tag?after=42&tag=17: the form of the
// next lot, with the donor of the one before and the tag that was scanned.
func (s *Site) tagLot(c *gin.Context) error {
	page := tagPage{Form: tagForm{Pieces: "1", Tag: scanned(clean(c.Query("tag"))), Received: s.today(c).Format(time.DateOnly)}}
	if n, ok := wholeNumber(c.Query("after")); ok {
		last, err := s.db.Lot(c.Request.Context(), s.driveID(c), n)
		if err != nil {
			return err
		}
		if err := last.StillALot(); err != nil {
			return err
		}
		page.Form.Donor, page.Form.Received = last.DonorName, last.ReceivedOn.Format(time.DateOnly)
		page.Last = tagLast{Number: n, Words: counted(last.PiecesCounted(), "piece", "pieces") + " from " + cmp.Or(last.DonorName, "nobody known"), Waits: !last.Measured() && s.lately(last.CreatedAt)}
		if last.Tag != nil {
			page.Last.Tag = *last.Tag
		}
		if page.Last.Like, err = s.nearlyNamed(c, last.DonorName); err != nil {
			return err
		}
	}
	return s.tagWith(c, http.StatusOK, page)
}

// nearlyNamed gives another donor of nearly the same name, where this one is as
// good as new: a slip makes two of one.
func (s *Site) nearlyNamed(c *gin.Context, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	donors, err := s.db.KnownDonors(c.Request.Context(), s.driveID(c), 0)
	if err != nil {
		return "", err
	}
	var others []string
	for _, d := range donors {
		switch {
		case !drive.SameName(d.Name, name):
			others = append(others, d.Name)
		case d.Lots > 1:
			return "", nil
		}
	}
	if like := drive.NamesLike(others, name, 1); len(like) > 0 {
		return like[0], nil
	}
	return "", nil
}

// tagLotNow handles POST /drives/:drive/fabric/tag.
func (s *Site) tagLotNow(c *gin.Context) error {
	page := tagPage{}
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	var t drive.Tagging
	t, page.Problems = page.Form.tagging(s.today(c))
	hash, err := s.photoOf(c, page.Form.PhotoKept, page.Problems)
	if err != nil {
		return err
	}
	t.Photo, page.Form.PhotoKept = hash, hash
	if len(page.Problems) == 0 {
		tagged, err := s.db.TagLots(c.Request.Context(), s.act(c), []drive.Tagging{t})
		if err == nil {
			lot := tagged.Numbers[0]
			if page.Form.Then == "measure" {
				if _, err := s.db.TakeInHand(c.Request.Context(), s.driveID(c), lot, s.tablet(c), visitorOf(c).person.ID); err != nil {
					return err
				}
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

// untagLot handles POST /drives/:drive/fabric/:lot/untag: one Enter too many is
// undone where it was pressed, and the door shows the lot before it again.
func (s *Site) untagLot(c *gin.Context) error {
	number, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	before, err := s.db.UntagLot(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	s.flash(c, "Lot %d is taken back: there is no such lot, and no other gets its number.", number)
	to := s.path(c, "fabric", "tag")
	if before != 0 {
		last, err := s.db.Lot(c.Request.Context(), s.driveID(c), before)
		if err != nil {
			return err
		}
		if s.lately(last.CreatedAt) { // not one of a drop-off weeks ago
			to += "?after=" + strconv.FormatInt(before, 10)
		}
	}
	return s.seeOther(c, to)
}

// lately says whether something was done in the hour that somebody stands at the door.
func (s *Site) lately(at time.Time) bool { return s.now().Sub(at) < time.Hour }

func (s *Site) tagWith(c *gin.Context, status int, page tagPage) error {
	id := s.driveID(c)
	err := s.db.Together(c.Request.Context(),
		func(ctx context.Context) (err error) { page.Donors, err = s.offered(ctx, id); return err },
		func(ctx context.Context) (err error) { page.Shelves, err = s.db.Shelves(ctx, id); return err })
	if err != nil {
		return err
	}
	page.Reasons, page.Kinds = optionsOf(usualReasons()), lotKinds()
	f := page.Form
	page.More = f.Kind != "" || len(f.Aside) > 0 || f.SetAside != "" || f.Shelf != "" || f.Note != "" || page.Problems["received_on"] != ""
	return s.page(c, status, page)
}

// usualReasons are what fabric is most often set aside for, as taps.
func usualReasons() []string { return []string{"smell", "mildew", "pet hair", "stains all over"} }

// asideReasons are the same for a field that takes one.
func asideReasons() []string { return append(usualReasons(), "wait for the donor") }

// lotKinds are what most lots are called at the door.
func lotKinds() []string {
	return []string{"bolt", "bolt end", "cut", "fat quarters", "wide backing", "border print", "bed sheet", "bag of pieces"}
}

// tagging reads the form, with what is wrong with it.
func (f tagForm) tagging(today time.Time) (drive.Tagging, map[string]string) {
	problems := map[string]string{}
	t := drive.Tagging{
		Donor: f.Donor, Tag: scanned(f.Tag), Kind: f.Kind, Shelf: f.Shelf, Note: f.Note,
		SetAside: strings.Join(drive.TidySentences(append(append([]string{}, f.Aside...), f.SetAside)), ", "),
		Pieces:   typedCount(problems, "pieces", f.Pieces, 1), ReceivedOn: today,
	}
	if day := typedDay(problems, "received_on", f.Received); day != nil {
		t.ReceivedOn = *day
	}
	return t, problems
}

// scanned gives the number of a printed tag. A scanner that types gives what the
// code holds: an address that ends with the number.
func scanned(typed string) string {
	if at := strings.LastIndex(typed, "/"); at >= 0 && strings.Contains(typed, "/l/") {
		return typed[at+1:]
	}
	return typed
}
