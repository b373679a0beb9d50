package site

import (
	"context"
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// stepsShown is how many of the newest steps the returns table shows.
const stepsShown = 12

// backPage is the returns table: what came in, what waits to be checked and to
// be mended, and what happened here lately.
type backPage struct {
	WithKit   withKitForm
	Loose     looseForm
	Problems  map[string]string
	Sizes     []option
	Lines     []option
	Sewers    []option
	KitsOut   []string
	ToCheck   []postgres.StackLine
	ToMend    []postgres.StackLine
	Unclaimed []postgres.StackLine
	Lately    []postgres.CaseStep
	Waiting   int
	Mending   int
	TakesBack bool
}

func (backPage) template() string { return "back.html" }
func (backPage) title() string    { return "Pillowcases back" }

// withKitForm is what came back of a kit, as typed.
type withKitForm struct {
	Kit  string `form:"kit"`
	Sewn string `form:"sewn"`
}

// looseForm is what was brought in without a kit, as typed.
type looseForm struct {
	Size  string `form:"size"`
	N     string `form:"n"`
	Asked string `form:"asked"`
	Maker string `form:"person"`
	Note  string `form:"note"`
}

// back handles GET /drives/:drive/back.
func (s *Site) back(c *gin.Context) error {
	return s.backWith(c, http.StatusOK, backPage{Problems: map[string]string{}})
}

// backKit handles POST /drives/:drive/back/kit: so many of a kit came back sewn.
func (s *Site) backKit(c *gin.Context) error {
	p := backPage{Problems: map[string]string{}}
	if err := s.read(c, &p.WithKit); err != nil {
		return err
	}
	var ref drive.KitRef
	refs, err := drive.ReadKitCodes(p.WithKit.Kit, s.driveID(c), s.url.String())
	switch {
	case err != nil && !adopt(p.Problems, err):
		return err
	case err == nil && len(refs) != 1:
		problem(p.Problems, "kit", "Scan the label of one kit, or type its number.")
	case err == nil:
		ref = refs[0]
	}
	sewn := typedCount(p.Problems, "sewn", p.WithKit.Sewn, 0)
	if len(p.Problems) == 0 {
		done, err := s.db.TakeBack(c.Request.Context(), s.act(c), ref, drive.KitReturn{Sewn: sewn}, s.today(c))
		if err == nil {
			left := "That is all of it."
			if done.Left > 0 {
				left = fmt.Sprintf("%d to go.", done.Left)
			}
			s.flash(c, "%d sewn of kit %s came back. %s They wait to be checked.", done.Sewn, ref, left)
			return s.seeOther(c, s.path(c, "back"))
		}
		if apperr.Is(err, apperr.KindNotFound) || apperr.Is(err, apperr.KindConflict) {
			problem(p.Problems, "kit", "%s", err.Error())
		} else if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.backWith(c, http.StatusUnprocessableEntity, p)
}

// backLoose handles POST /drives/:drive/back/loose: pillowcases came without a kit.
func (s *Site) backLoose(c *gin.Context) error {
	p := backPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Loose); err != nil {
		return err
	}
	b := drive.BroughtIn{Size: typedNumber(p.Loose.Size), Asked: typedNumber(p.Loose.Asked), Note: p.Loose.Note}
	b.N = typedCount(p.Problems, "n", p.Loose.N, 0)
	if maker := typedNumber(p.Loose.Maker); maker != 0 {
		b.Maker = &maker
	}
	if b.Size == 0 {
		problem(p.Problems, "size", "Choose the size. Lay one flat and measure it where nobody is sure.")
	}
	if len(p.Problems) == 0 {
		n, err := s.db.BringIn(c.Request.Context(), s.act(c), b)
		if err == nil {
			s.flash(c, "%d brought in without a kit. They wait to be checked.", n)
			return s.seeOther(c, s.path(c, "back"))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.backWith(c, http.StatusUnprocessableEntity, p)
}

// backUndo handles POST /drives/:drive/back/undo/:step.
func (s *Site) backUndo(c *gin.Context) error {
	id, err := s.number(c, "step")
	if err != nil {
		return err
	}
	n, err := s.db.UndoCases(c.Request.Context(), s.act(c), id)
	if err != nil {
		return err
	}
	s.flash(c, "Undone: %d stand where they stood before.", n)
	return s.seeOther(c, s.path(c, "back"))
}

func (s *Site) backWith(c *gin.Context, status int, p backPage) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	stacks, err := s.db.Stacks(ctx, driveID, drive.CaseSewn, drive.CaseToMend, drive.CaseGood)
	if err != nil {
		return err
	}
	for _, l := range stacks {
		switch {
		case l.State == drive.CaseSewn:
			p.ToCheck = append(p.ToCheck, l)
			p.Waiting += l.N
		case l.State == drive.CaseToMend:
			p.ToMend = append(p.ToMend, l)
			p.Mending += l.N
		}
		if l.Asked == 0 && !l.Out() {
			p.Unclaimed = append(p.Unclaimed, l)
		}
	}
	if p.Lately, err = s.db.CasesLately(ctx, driveID, stepsShown); err != nil {
		return err
	}
	if p.Sizes, err = s.sizeOptions(ctx, driveID); err != nil {
		return err
	}
	if p.Lines, err = s.lineOptions(ctx, driveID, "Nobody yet: not promised"); err != nil {
		return err
	}
	if p.Sewers, err = s.sewerOptions(ctx, driveID, "Not known"); err != nil {
		return err
	}
	p.TakesBack = s.may(c, account.Kits, account.Write)
	out, err := s.db.Kits(ctx, driveID, postgres.KitsQuery{Where: postgres.KitsOut, Sort: "number", Today: s.today(c)})
	if err != nil {
		return err
	}
	for _, k := range out.Kits {
		p.KitsOut = append(p.KitsOut, k.String())
	}
	return s.page(c, status, p)
}

// sizeOptions gives the sizes to choose from, an empty choice first.
func (s *Site) sizeOptions(ctx context.Context, driveID string) ([]option, error) {
	sizes, err := s.db.Sizes(ctx, driveID)
	if err != nil {
		return nil, err
	}
	options := []option{{"", "Choose a size"}}
	for _, z := range sizes {
		if !z.Retired {
			options = append(options, option{strconv.FormatInt(z.Number, 10), z.Name})
		}
	}
	return options, nil
}

// lineOptions gives the open lines asked for, with what stands for none first.
func (s *Site) lineOptions(ctx context.Context, driveID, none string) ([]option, error) {
	lines, err := s.db.AskedLines(ctx, driveID)
	if err != nil {
		return nil, err
	}
	options := []option{{"", none}}
	for _, l := range lines {
		if l.Closed {
			continue
		}
		sizes := ""
		for i, name := range l.SizeNames {
			if i > 0 {
				sizes += " or "
			}
			sizes += name
		}
		options = append(options, option{
			strconv.FormatInt(l.Number, 10),
			fmt.Sprintf("%s: %s, %d missing", l.RecipientName, sizes, l.Standing().Missing),
		})
	}
	return options, nil
}

// sewerOptions gives those who sew, with what stands for none first.
func (s *Site) sewerOptions(ctx context.Context, driveID, none string) ([]option, error) {
	people, err := s.db.Sewers(ctx, driveID)
	if err != nil {
		return nil, err
	}
	options := []option{{"", none}}
	for _, p := range people {
		options = append(options, option{strconv.FormatInt(p.Number, 10), p.Name})
	}
	return options, nil
}
