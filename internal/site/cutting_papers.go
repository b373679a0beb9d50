package site

import (
	"bytes"
	"net/http"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
)

// cuttingPapersPage is what is printed for cutting day.
type cuttingPapersPage struct {
	Plan   int64 // of one plan only, 0: of any
	All    bool  // sheets that are cut too
	Sheets int
	On     string // the paper
	Papers []cuttingPaperLink
	Which  []paperChoice
	Size   []paperChoice
}

func (cuttingPapersPage) template() string { return "cutting-papers.html" }
func (cuttingPapersPage) title() string    { return "Print for cutting day" }

// cuttingPaperLink is one paper with its address.
type cuttingPaperLink struct{ Path, Name, About string }

// paperChoice is one way to have the papers.
type paperChoice struct {
	Path, Name string
	On         bool
}

// cuttingPaperKinds are the papers, in the order in which they are needed.
func cuttingPaperKinds() []cuttingPaperLink {
	return []cuttingPaperLink{
		{"pull-list", "Pull list", "What to fetch from the shelves, in their order, to tick off."},
		{"cut-sheets", "Cut sheets", "One for each piece of cloth, in the order of the shelves: the layout to scale with a ruler, the steps, where the panels go, what is left and its label."},
		{"bundle-slips", "Bundle slips", "One to pin to each stack that is cut: which kit it goes to."},
		{"large-tags", "Large tags", "A place on the table for each kit, to read across a room, and a label for each remnant."},
		{"sort-by-kit", "Sort by kit", "Each kit with the bundles that belong to it, to tick off."},
	}
}

// cuttingPapers handles GET /drives/:drive/cutting/papers?plan=N&which=all&paper=a4.
func (s *Site) cuttingPapers(c *gin.Context) error {
	plan, _ := wholeNumber(c.Query("plan"))
	all := c.Query("which") == "all"
	sheets, err := s.db.SheetsToPrint(c.Request.Context(), s.driveID(c), plan, all)
	if err != nil {
		return err
	}
	_, on := paperNamed(c.Query("paper"), s.drive(c))
	page := cuttingPapersPage{Plan: plan, All: all, Sheets: len(sheets), On: on}
	wish := func(all bool, on string) string {
		q := url.Values{"paper": {on}}
		if plan > 0 {
			q.Set("plan", strconv.FormatInt(plan, 10))
		}
		if all {
			q.Set("which", "all")
		}
		return "?" + q.Encode()
	}
	for _, k := range cuttingPaperKinds() {
		page.Papers = append(page.Papers, cuttingPaperLink{s.path(c, "cutting", "papers", k.Path+".pdf") + wish(all, on), k.Name, k.About})
	}
	here := s.path(c, "cutting", "papers")
	page.Which = []paperChoice{{here + wish(false, on), "still to cut", !all}, {here + wish(true, on), "all, cut ones too", all}}
	page.Size = []paperChoice{{here + wish(all, "a4"), "A4", on == "a4"}, {here + wish(all, "letter"), "Letter", on == "letter"}}
	return s.page(c, http.StatusOK, page)
}

// cuttingPaper handles GET /drives/:drive/cutting/papers/:paper, such as cut-sheets.pdf.
func (s *Site) cuttingPaper(c *gin.Context) error {
	plan, _ := wholeNumber(c.Query("plan"))
	found, err := s.db.SheetsToPrint(c.Request.Context(), s.driveID(c), plan, c.Query("which") == "all")
	if err != nil {
		return err
	}
	if len(found) == 0 {
		return apperr.NotFound("No sheet is left to print here.")
	}
	d, base, name := s.drive(c), s.url.String(), c.Param("paper")
	on, _ := paperNamed(c.Query("paper"), d)
	sheets := make([]drive.CutSheet, len(found))
	for i, sheet := range found {
		sheets[i] = sheet.CutSheet(d.Unit)
	}
	return s.printed(c, name, func(b *bytes.Buffer) error {
		switch name {
		case "cut-sheets.pdf":
			return paper.CutSheets(b, d, base, on, sheets, s.now())
		case "pull-list.pdf":
			return paper.PullList(b, d, on, sheets, s.now())
		case "bundle-slips.pdf":
			return paper.BundleSlips(b, d, base, on, sheets, s.now())
		case "sort-by-kit.pdf":
			return paper.SortByKit(b, d, on, sheets, s.now())
		case "large-tags.pdf":
			return paper.LargeTags(b, d, base, on, sheets, s.now())
		}
		return noSuchPage()
	})
}
