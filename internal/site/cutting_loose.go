package site

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// loosePage lists the panels that lie cut and that no kit has any more, and puts kits together
// from them.
type loosePage struct {
	Kits     []looseKit
	Out      []looseKit // of which nothing lies loose
	OutList  listing
	Sizes    []looseSize
	N        int
	Plan     int64 // the accepted plan whose change would sew from them, 0 where none stands
	May      bool
	Problems map[string]string
}

func (loosePage) template() string { return "cutting-loose.html" }
func (loosePage) title() string    { return "Loose panels" }

// looseKit is what is left of one kit.
type looseKit struct {
	Number int64
	Size   string
	Panels []postgres.LoosePanels
}

// looseSize is the form that puts a kit of one size together.
type looseSize struct {
	Number   int64
	Name     string
	Form     looseKitForm
	Roles    []looseRole
	Lines    []option
	Problems map[string]string // of this form alone
}

// looseRole is one role of it, with the lots it can be made of.
type looseRole struct {
	Role  string
	Label string
	Lot   string
	Lots  []option
}

// looseKitForm is as typed.
type looseKitForm struct {
	Size   string `form:"size"`
	Cases  string `form:"cases"`
	Asked  string `form:"asked"`
	Body   string `form:"body"`
	Cuff   string `form:"cuff"`
	Accent string `form:"accent"`
}

func (f looseKitForm) of(role string) string {
	return map[string]string{"body": f.Body, "cuff": f.Cuff, "accent": f.Accent}[role]
}

// loosePanels handles GET /drives/:drive/cutting/loose.
func (s *Site) loosePanels(c *gin.Context) error {
	return s.showLoose(c, http.StatusOK, looseKitForm{}, map[string]string{})
}

func (s *Site) showLoose(c *gin.Context, status int, form looseKitForm, problems map[string]string) error {
	list, err := s.db.LoosePanels(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	page := loosePage{Kits: looseKits(list), May: s.may(c, account.Cutting, account.Write), Problems: map[string]string{}, OutList: s.listing(c)}
	for _, p := range list {
		page.N += p.N
	}
	for name, why := range problems {
		if name != "" && form.Size != "" {
			name = form.Size + "-" + name // as the field of the form of that size
		}
		page.Problems[name] = why
	}
	out, total, err := s.db.LeftOut(c.Request.Context(), s.driveID(c), page.OutList.Limit(), page.OutList.Offset())
	if err != nil {
		return err
	}
	page.Out, page.OutList.Total = looseKits(out), total
	if to := page.OutList.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	if s.may(c, account.Kits, account.Write) {
		if err := s.looseSizes(c, &page, list, form, problems); err != nil {
			return err
		}
	}
	if page.Plan, err = s.db.PlanToCut(c.Request.Context(), s.driveID(c), 0); err != nil && !apperr.Is(err, apperr.KindConflict) {
		return err
	}
	return s.page(c, status, page)
}

// looseKits puts panels under their kits.
func looseKits(list []postgres.LoosePanels) []looseKit {
	var kits []looseKit
	for _, p := range list {
		if n := len(kits); n == 0 || kits[n-1].Number != p.Kit {
			kits = append(kits, looseKit{Number: p.Kit, Size: p.Called})
		}
		k := &kits[len(kits)-1]
		k.Panels = append(k.Panels, p)
	}
	return kits
}

// looseSizes gives a form for each size of which something lies loose.
func (s *Site) looseSizes(c *gin.Context, page *loosePage, list []postgres.LoosePanels, form looseKitForm, problems map[string]string) error {
	lines, err := s.lineOptions(c.Request.Context(), s.driveID(c), "Nobody yet: not promised")
	if err != nil {
		return err
	}
	at := map[int64]int{}
	lies := map[string]int{} // by size, role and lot
	for _, p := range list {
		if p.N == 0 {
			continue
		}
		if _, known := at[p.Size]; !known {
			at[p.Size] = len(page.Sizes)
			of := looseSize{Number: p.Size, Name: p.Called, Lines: lines, Form: looseKitForm{Size: fmt.Sprint(p.Size), Cases: "1"}}
			if form.Size == of.Form.Size {
				of.Form, of.Problems = form, problems
			}
			page.Sizes = append(page.Sizes, of)
		}
		lies[fmt.Sprint(p.Size, p.Role, p.Lot)] += p.N
	}
	for _, role := range []string{"body", "cuff", "accent"} {
		for _, p := range list {
			key := fmt.Sprint(p.Size, p.Role, p.Lot)
			n := lies[key]
			if p.Role != role || p.N == 0 || n == 0 {
				continue
			}
			delete(lies, key)
			z := &page.Sizes[at[p.Size]]
			if i := len(z.Roles); i == 0 || z.Roles[i-1].Role != role {
				z.Roles = append(z.Roles, looseRole{Role: role, Label: upperFirst(role), Lot: z.Form.of(role), Lots: []option{{"", "Choose"}}})
			}
			r := &z.Roles[len(z.Roles)-1]
			label := fmt.Sprintf("lot %d, %d loose", p.Lot, n)
			if p.Look != "" {
				label = fmt.Sprintf("%s (lot %d), %d loose", p.Look, p.Lot, n)
			}
			r.Lots = append(r.Lots, option{fmt.Sprint(p.Lot), label})
		}
	}
	return nil
}

// makeLooseKit handles POST …/cutting/loose/kit: a kit put together by hand.
func (s *Site) makeLooseKit(c *gin.Context) error {
	var form looseKitForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	problems := map[string]string{}
	w := drive.LooseKit{Size: typedNumber(form.Size), Cases: typedCount(problems, "cases", form.Cases, 0), Lots: map[string]int64{}}
	if n := typedNumber(form.Asked); n != 0 {
		w.Asked = &n
	}
	for _, role := range []string{"body", "cuff", "accent"} {
		w.Lots[role] = typedNumber(form.of(role))
	}
	if len(problems) == 0 {
		made, err := s.db.MakeLooseKit(c.Request.Context(), s.act(c), w)
		if err == nil {
			s.flash(c, "Kit %s holds %s of loose panels. Print its label, put them together and bag them.", made.Kits[0], countCases(made.Cases))
			return s.seeOther(c, s.path(c, "kits", made.Kits[0]))
		}
		if status, ok := s.refused(problems, err); ok {
			return s.showLoose(c, status, form, problems)
		}
		return err
	}
	return s.showLoose(c, http.StatusUnprocessableEntity, form, problems)
}

// loosePanelsGone handles POST …/cutting/loose/:kit/gone: they cannot be used.
func (s *Site) loosePanelsGone(c *gin.Context) error {
	return s.onLoose(c, func(ref drive.KitRef) error {
		if _, err := s.db.LoosePanelsGone(c.Request.Context(), s.act(c), ref.Number); err != nil {
			return err
		}
		s.flashUndo(c, s.path(c, "cutting", "loose", ref.Number, "back"), "The panels of kit %s are left out from now on.", ref)
		return nil
	})
}

// loosePanelsBack handles POST …/cutting/loose/:kit/back: they are good after all.
func (s *Site) loosePanelsBack(c *gin.Context) error {
	return s.onLoose(c, func(ref drive.KitRef) error {
		if _, err := s.db.LoosePanelsBack(c.Request.Context(), s.act(c), ref.Number); err != nil {
			return err
		}
		s.flash(c, "The panels of kit %s are listed again. Note how many lie there, where some are missing.", ref)
		return nil
	})
}

// loosePanelsLie handles POST …/cutting/loose/:kit/lie: so many of one kind lie there.
func (s *Site) loosePanelsLie(c *gin.Context) error {
	return s.onLoose(c, func(ref drive.KitRef) error {
		var form struct {
			Sheet string `form:"sheet"`
			Role  string `form:"role"`
			N     string `form:"n"`
		}
		if err := s.read(c, &form); err != nil {
			return err
		}
		problems := map[string]string{}
		n := typedCount(problems, "n", form.N, 0)
		if problems["n"] != "" {
			return apperr.Invalid("n", "%s", problems["n"])
		}
		if _, err := s.db.LoosePanelsLie(c.Request.Context(), s.act(c), ref.Number, typedNumber(form.Sheet), form.Role, n); err != nil {
			return err
		}
		lie := fmt.Sprintf("%d %s panels of sheet %s lie", n, form.Role, form.Sheet)
		if n == 1 {
			lie = fmt.Sprintf("1 %s panel of sheet %s lies", form.Role, form.Sheet)
		}
		s.flash(c, "Of kit %s, %s there.", ref, lie)
		return nil
	})
}

// onLoose does something with the panels of the kit in the address; what is refused stands above
// the list.
func (s *Site) onLoose(c *gin.Context, do func(drive.KitRef) error) error {
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	if ref.Part != 1 {
		return apperr.NotFound("No panels of kit %s lie loose.", ref)
	}
	if err := do(ref); err != nil {
		problems := map[string]string{}
		status, ok := s.refused(problems, err)
		if !ok {
			return err
		}
		if why := problems["n"]; why != "" {
			problems = map[string]string{"": fmt.Sprintf("Kit %s: %s", ref, why)}
		}
		return s.showLoose(c, status, looseKitForm{}, problems)
	}
	return s.seeOther(c, s.path(c, "cutting", "loose"))
}
