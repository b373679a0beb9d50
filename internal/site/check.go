package site

import (
	"math"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// checkPage is the finding on one stack of pillowcases that came back.
type checkPage struct {
	Form     checkForm
	Problems map[string]string
	Stack    postgres.StackLine
	Reasons  []option
	Action   string
}

func (checkPage) template() string { return "check.html" }
func (checkPage) title() string    { return "Check" }

// checkForm is the finding as typed.
type checkForm struct {
	Good      string   `form:"good"`
	ToMend    string   `form:"to_mend"`
	NotUsable string   `form:"not_usable"`
	Reasons   []string `form:"reasons"`
	Note      string   `form:"note"`
	Pins      string   `form:"pins"`
}

// check handles GET /drives/:drive/back/check/:asked/:size/:kit/:part.
func (s *Site) check(c *gin.Context) error {
	stack, err := s.stackOf(c, drive.CaseSewn)
	if err != nil {
		return err
	}
	return s.checkWith(c, http.StatusOK, stack, checkForm{Good: strconv.Itoa(stack.N)}, map[string]string{})
}

// checkNow handles POST on the same address: what the checker found.
func (s *Site) checkNow(c *gin.Context) error {
	var form checkForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	at, err := stackKey(c)
	if err != nil {
		return err
	}
	problems := map[string]string{}
	found := drive.Checked{
		Good:      typedCount(problems, "good", form.Good, 0),
		ToMend:    typedCount(problems, "to_mend", form.ToMend, 0),
		NotUsable: typedCount(problems, "not_usable", form.NotUsable, 0),
		Reasons:   form.Reasons, Note: form.Note, Pins: form.Pins == "yes",
	}
	if len(problems) == 0 {
		if _, err = s.db.CheckCases(c.Request.Context(), s.act(c), at, found); err == nil {
			s.flash(c, "Checked: %d good, %d to mend, %d not usable.", found.Good, found.ToMend, found.NotUsable)
			return s.seeOther(c, s.path(c, "back"))
		}
		if !adopt(problems, err) {
			return err
		}
	}
	stack, err := s.stackOf(c, drive.CaseSewn)
	if err != nil {
		return err
	}
	return s.checkWith(c, http.StatusUnprocessableEntity, stack, form, problems)
}

func (s *Site) checkWith(c *gin.Context, status int, stack postgres.StackLine, form checkForm, problems map[string]string) error {
	p := checkPage{Form: form, Problems: problems, Stack: stack, Action: c.Request.URL.Path}
	for _, r := range drive.Reasons() {
		p.Reasons = append(p.Reasons, option{r, r})
	}
	return s.page(c, status, p)
}

// stackKey reads which stack an address is about.
func stackKey(c *gin.Context) (drive.Stack, error) {
	var numbers [4]int64
	for i, name := range []string{"asked", "size", "kit", "part"} {
		text := c.Param(name)
		n, ok := wholeNumber(text)
		if !ok && text != "0" {
			return drive.Stack{}, noSuchPage()
		}
		numbers[i] = n
	}
	if numbers[3] > math.MaxInt32 {
		return drive.Stack{}, noSuchPage()
	}
	return drive.Stack{Asked: numbers[0], Size: numbers[1], Kit: numbers[2], Part: int(numbers[3])}, nil
}

// stackOf gives the stack of the address as it stands in one state; where none
// is left, somebody was first.
func (s *Site) stackOf(c *gin.Context, state drive.CaseState) (postgres.StackLine, error) {
	at, err := stackKey(c)
	if err != nil {
		return postgres.StackLine{}, err
	}
	stacks, err := s.db.Stacks(c.Request.Context(), s.driveID(c), state)
	if err != nil {
		return postgres.StackLine{}, err
	}
	for _, l := range stacks {
		if l.Asked == at.Asked && l.Size == at.Size && l.Kit == at.Kit && l.Part == at.Part {
			return l, nil
		}
	}
	return postgres.StackLine{}, apperr.NotFound("None of these pillowcases wait here any more. Somebody may have been first: look at the table again.")
}
