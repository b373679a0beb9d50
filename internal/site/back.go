package site

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/postgres"
	"boltward/internal/words"
)

// stepsShown is how many of the newest steps the returns table shows.
const stepsShown = 12

// backPage is the returns table: what came in, what waits to be checked and to
// be mended, and what happened here lately.
type backPage struct {
	WithKit   withKitForm
	Scanned   *scannedKit // nil: the next label is waited for
	Loose     looseForm
	Forget    forgetForm
	Problems  map[string]string
	Sizes     []option
	Lines     []option
	Sewers    []option
	ToCheck   []postgres.StackLine
	ToMend    []postgres.StackLine
	Unclaimed []postgres.StackLine
	Lately    []postgres.CaseStep
	Findings  drive.Findings
	Lessons   []string // as they stand on cards now
	Waiting   int
	Mending   int
	TakesBack bool
}

func (backPage) template() string { return "back.html" }
func (backPage) title() string    { return "Pillowcases back" }

// looseForm is what was brought in without a kit, as typed.
type looseForm struct {
	Size  string `form:"size"`
	N     string `form:"n"`
	Asked string `form:"asked"`
	Maker string `form:"person"`
	Note  string `form:"note"`
	Then  string `form:"then"` // next: more of the same person
}

// back handles GET /drives/:drive/back; ?kit= is the kit that lies on the table,
// ?size= and ?person= stay from what was brought in last.
func (s *Site) back(c *gin.Context) error {
	p := backPage{Problems: map[string]string{}, Loose: looseForm{Size: clean(c.Query("size")), Maker: clean(c.Query("person")), Asked: clean(c.Query("asked"))}}
	status := http.StatusOK
	if p.WithKit.Kit = clean(c.Query("kit")); p.WithKit.Kit != "" {
		kit, err := s.kitTyped(c, p.WithKit.Kit, p.Problems)
		if err != nil {
			return err
		}
		if len(p.Problems) == 0 {
			p.WithKit = withKitForm{} // the next label is waited for
			if p.Scanned, err = s.scanned(c, kit); err != nil {
				return err
			}
			if p.Scanned.Takes {
				p.WithKit = withKitForm{Kit: kit.String(), Sewn: p.Scanned.Word.Sewn, Rest: p.Scanned.Word.Rest}
			}
		} else {
			status = http.StatusNotFound
		}
	}
	return s.backWith(c, status, p)
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
			home, err := s.homeOfMaker(c, b)
			s.flash(c, "%d brought in without a kit. They wait to be checked.%s", n, s.beside(c, home, err))
			if p.Loose.Then == "next" {
				same := url.Values{"size": {p.Loose.Size}, "person": {p.Loose.Maker}, "asked": {p.Loose.Asked}}
				return s.seeOther(c, s.path(c, "back")+"?"+same.Encode()+"#loose")
			}
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
	n, err := s.db.UndoCases(c.Request.Context(), s.act(c), 0, id)
	if err != nil {
		return err
	}
	s.flash(c, "Undone: %d stand where they stood before.", n)
	return s.seeOther(c, s.path(c, "back"))
}

func (s *Site) backWith(c *gin.Context, status int, p backPage) error {
	d := s.drive(c)
	var stacks []postgres.StackLine
	var lessons []drive.Lesson
	err := s.db.Together(c.Request.Context(),
		func(ctx context.Context) (err error) {
			stacks, err = s.db.Stacks(ctx, d.ID, drive.CaseSewn, drive.CaseToMend, drive.CaseGood)
			return err
		},
		func(ctx context.Context) (err error) {
			p.Findings, lessons, err = s.db.FindingsAndLessons(ctx, d)
			return err
		},
		func(ctx context.Context) (err error) {
			p.Lately, err = s.db.CasesLately(ctx, d.ID, stepsShown)
			return err
		},
		func(ctx context.Context) (err error) { p.Sizes, err = s.sizeOptions(ctx, d.ID); return err },
		func(ctx context.Context) (err error) {
			p.Lines, err = s.lineOptions(ctx, d.ID, "Nobody yet: not promised")
			return err
		},
		func(ctx context.Context) (err error) {
			p.Sewers, err = s.sewerOptions(ctx, d.ID, "Not known")
			return err
		})
	if err != nil {
		return err
	}
	p.Lessons = words.In("en").Lessons(paper.LessonFacts(lessons))
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
	p.TakesBack = s.may(c, account.Kits, account.Write)
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
