package site

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// mendPage is what can be done with pillowcases that need mending: mend them
// here, or give them to somebody.
type mendPage struct {
	Form     mendForm
	Problems map[string]string
	Stack    postgres.StackLine
	Faults   []drive.ToMend
	Unsaid   int // of them nobody wrote what is wrong
	Sewers   []option
	Here     string
	Send     string
}

func (mendPage) template() string { return "mend.html" }
func (mendPage) title() string    { return "Mend" }

// mendForm is as typed: how many, and to whom where they go out.
type mendForm struct {
	N      string `form:"n"`
	Person string `form:"person"`
	Due    string `form:"due"`
}

// mend handles GET /drives/:drive/back/mend/:asked/:size/:kit/:part.
func (s *Site) mend(c *gin.Context) error {
	stack, err := s.stackOf(c, drive.CaseToMend)
	if err != nil {
		return err
	}
	due := s.today(c).AddDate(0, 0, 14).Format(time.DateOnly)
	form := mendForm{N: strconv.Itoa(stack.N), Due: due}
	if stack.Maker > 0 {
		form.Person = strconv.FormatInt(stack.Maker, 10) // who sewed them knows them best; anybody else may be chosen
	}
	return s.mendWith(c, http.StatusOK, stack, form, map[string]string{})
}

// mendHere handles POST …/here: they were mended at the table.
func (s *Site) mendHere(c *gin.Context) error {
	return s.mendAs(c, func(at drive.Stack, n int, _ mendForm, _ map[string]string) (string, error) {
		_, err := s.db.MendedHere(c.Request.Context(), s.act(c), at, n)
		if n == 1 {
			return "Mended. It waits to be checked once more.", err
		}
		return "Mended. They wait to be checked once more.", err
	})
}

// mendSend handles POST …/send: somebody takes them home.
func (s *Site) mendSend(c *gin.Context) error {
	return s.mendAs(c, func(at drive.Stack, n int, form mendForm, problems map[string]string) (string, error) {
		m := postgres.Mending{At: at, N: n, Person: typedNumber(form.Person), Due: typedDay(problems, "due", form.Due)}
		if m.Person == 0 {
			problem(problems, "person", "Choose who takes them.")
		}
		if len(problems) > 0 {
			return "", nil
		}
		ref, err := s.db.SendToMend(c.Request.Context(), s.act(c), m)
		if n == 1 {
			return "It is out to be mended as kit " + ref.String() + ".", err
		}
		return "They are out to be mended as kit " + ref.String() + ".", err
	})
}

func (s *Site) mendAs(c *gin.Context, do func(drive.Stack, int, mendForm, map[string]string) (string, error)) error {
	var form mendForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	at, err := stackKey(c)
	if err != nil {
		return err
	}
	problems := map[string]string{}
	n := typedCount(problems, "n", form.N, 0)
	said, err := do(at, n, form, problems)
	if err == nil && len(problems) == 0 {
		s.flash(c, "%s", said)
		return s.seeOther(c, s.path(c, "back"))
	}
	if err != nil && !adopt(problems, err) {
		return err
	}
	stack, err := s.stackOf(c, drive.CaseToMend)
	if err != nil {
		return err
	}
	return s.mendWith(c, http.StatusUnprocessableEntity, stack, form, problems)
}

func (s *Site) mendWith(c *gin.Context, status int, stack postgres.StackLine, form mendForm, problems map[string]string) error {
	sewers, err := s.sewerOptions(c.Request.Context(), s.driveID(c), "Choose who takes them")
	if err != nil {
		return err
	}
	faults, err := s.db.FaultsToMend(c.Request.Context(), s.driveID(c), stack.Stack)
	if err != nil {
		return err
	}
	unsaid := stack.N
	for _, f := range faults {
		unsaid -= f.N
	}
	base := s.path(c, "back", "mend", c.Param("asked"), c.Param("size"), c.Param("kit"), c.Param("part"))
	return s.page(c, status, mendPage{Form: form, Problems: problems, Stack: stack, Faults: faults, Unsaid: unsaid, Sewers: sewers, Here: base + "/here", Send: base + "/send"})
}

// promisePage gives pillowcases that nobody was promised yet to a line.
type promisePage struct {
	Form     promiseForm
	Problems map[string]string
	Stack    postgres.StackLine
	Lines    []option
	Action   string
}

func (promisePage) template() string { return "promise.html" }
func (promisePage) title() string    { return "Promise to a recipient" }

// promiseForm is as typed.
type promiseForm struct {
	N     string `form:"n"`
	Asked string `form:"asked"`
}

// promise handles GET /drives/:drive/back/promise/:state/:asked/:size/:kit/:part.
func (s *Site) promise(c *gin.Context) error {
	state, err := promiseState(c)
	if err != nil {
		return err
	}
	stack, err := s.stackOf(c, state)
	if err != nil {
		return err
	}
	return s.promiseWith(c, http.StatusOK, stack, promiseForm{N: strconv.Itoa(stack.N)}, map[string]string{})
}

// promiseNow handles POST on the same address.
func (s *Site) promiseNow(c *gin.Context) error {
	var form promiseForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	state, err := promiseState(c)
	if err != nil {
		return err
	}
	at, err := stackKey(c)
	if err != nil {
		return err
	}
	at.State = state
	problems := map[string]string{}
	n, asked := typedCount(problems, "n", form.N, 0), typedNumber(form.Asked)
	if asked == 0 {
		problem(problems, "asked", "Choose whom they are for.")
	}
	if len(problems) == 0 {
		if _, err = s.db.Promise(c.Request.Context(), s.act(c), at, n, asked); err == nil {
			s.flash(c, "%d promised.", n)
			return s.seeOther(c, s.path(c, "back"))
		}
		if !adopt(problems, err) {
			return err
		}
	}
	stack, err := s.stackOf(c, state)
	if err != nil {
		return err
	}
	return s.promiseWith(c, http.StatusUnprocessableEntity, stack, form, problems)
}

func (s *Site) promiseWith(c *gin.Context, status int, stack postgres.StackLine, form promiseForm, problems map[string]string) error {
	lines, err := s.lineOptions(c.Request.Context(), s.driveID(c), "Choose whom they are for")
	if err != nil {
		return err
	}
	return s.page(c, status, promisePage{Form: form, Problems: problems, Stack: stack, Lines: lines, Action: c.Request.URL.Path})
}

// promiseState reads in which state the stack stands: the words of the address.
func promiseState(c *gin.Context) (drive.CaseState, error) {
	switch c.Param("state") {
	case "sewn":
		return drive.CaseSewn, nil
	case "good":
		return drive.CaseGood, nil
	case "to-mend":
		return drive.CaseToMend, nil
	}
	return "", noSuchPage()
}
