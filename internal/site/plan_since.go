package site

import (
	"fmt"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// changeOffer is what has happened to an accepted plan since, in words, each a reason to change it.
type changeOffer struct {
	Plan    int64
	Reasons []string
}

// sinceAccepted says what became of a plan since it was accepted.
func (s *Site) sinceAccepted(c *gin.Context, page *planPage) (err error) {
	switch page.Plan.State {
	case drive.PlanAccepted:
		page.Offer, err = s.offerChange(c, page.Plan.Number)
	case drive.PlanReplaced:
		page.Now, err = s.db.StandsNow(c.Request.Context(), s.driveID(c), page.Plan.Number)
	}
	return err
}

// offerChange says what has happened to an accepted plan since it was made.
func (s *Site) offerChange(c *gin.Context, number int64) (*changeOffer, error) {
	since, err := s.db.PlanSince(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return nil, err
	}
	return &changeOffer{number, sinceReasons(since)}, nil
}

func sinceReasons(w postgres.Since) []string {
	var list []string
	if len(w.Short) > 0 {
		list = append(list, upperFirst(numbered("sheet", "sheets", w.Short))+" came up short.")
	}
	if len(w.Broken) > 0 {
		list = append(list, upperFirst(numbered("kit", "kits", w.Broken))+" cannot be cut as planned any more.")
	}
	for _, l := range w.Lines {
		list = append(list, lineSinceWords(l)...)
	}
	if len(w.Lots) > 0 {
		list = append(list, upperFirst(numbered("lot", "lots", w.Lots))+" came since: the plan does not know "+oneOr(len(w.Lots), "it", "them")+".")
	}
	return list
}

func lineSinceWords(l drive.LineSince) []string {
	name := l.Name
	if name == "" {
		name = "Line " + l.ID
	}
	var list []string
	if l.Lost > 0 {
		list = append(list, fmt.Sprintf("%s: %s of this plan %s no more, lost or not usable.", name, countCases(l.Lost), oneOr(l.Lost, "counts", "count")))
	}
	switch {
	case l.More > 0:
		list = append(list, fmt.Sprintf("%s: %s more are needed than this plan was made for.", name, thousands(int64(l.More))))
	case l.More < 0:
		list = append(list, fmt.Sprintf("%s: %s fewer are needed than this plan makes.", name, thousands(int64(-l.More))))
	}
	return list
}

// numbered names up to eight things: "sheet 4", "sheets 4, 7 and 9".
func numbered(one, many string, numbers []int64) string {
	var words []string
	for _, n := range numbers[:min(len(numbers), 8)] {
		words = append(words, fmt.Sprint(n))
	}
	if more := len(numbers) - len(words); more > 0 {
		return fmt.Sprintf("%s %s and %d more", many, strings.Join(words, ", "), more)
	}
	if len(words) == 1 {
		return one + " " + words[0]
	}
	return many + " " + strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
