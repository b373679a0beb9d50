package site

import (
	"math"
	"net/http"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
)

// failedRows is how many sorts of failure one form tells apart; more of one stack
// are told in a second check.
const failedRows = 4

// checkPage is the finding on one stack of pillowcases that came back.
type checkPage struct {
	Form     checkForm
	Problems map[string]string
	Stack    postgres.StackLine
	Looks    []option
	Faults   []option
	Outcomes []option
	Expected drive.Expected
	Unit     string
	InWash   int  // of the stack
	More     bool // more rows of failures show
	Action   string
}

func (checkPage) template() string { return "check.html" }
func (checkPage) title() string    { return "Check" }

// checkForm is the finding as typed.
type checkForm struct {
	Good     string                `form:"good"`
	Row      [failedRows]failedRow `form:"row"`
	Looked   []string              `form:"looked"`
	Width    string                `form:"width"`
	Length   string                `form:"length"`
	Unwashed string                `form:"unwashed"`
	Initials string                `form:"initials"`
	Note     string                `form:"note"`
	Pins     string                `form:"pins"`
	Then     string                `form:"then"` // next: on to the next that waits
}

// failedRow is pillowcases that did not pass, for the same reasons.
type failedRow struct {
	N       string   `form:"n"`
	To      string   `form:"to"`
	Reasons []string `form:"reasons"`
}

func (r failedRow) said() bool { return r.N != "" && r.N != "0" || len(r.Reasons) > 0 }

// check handles GET /drives/:drive/back/check/:asked/:size/:kit/:part.
func (s *Site) check(c *gin.Context) error {
	stack, err := s.stackOf(c, drive.CaseSewn)
	if err != nil {
		return err
	}
	list, err := s.db.CheckList(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	form := checkForm{Good: strconv.Itoa(stack.N), Initials: clean(c.Query("initials"))}
	if form.Initials == "" {
		form.Initials = visitorOf(c).person.Initials
	}
	for _, p := range list.On() {
		form.Looked = append(form.Looked, p.Fault)
	}
	return s.checkWith(c, http.StatusOK, stack, form, map[string]string{})
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
	found := form.finding(problems, s.drive(c).Unit)
	if len(problems) == 0 {
		if _, err = s.db.CheckCases(c.Request.Context(), s.act(c), at, found); err == nil {
			s.flash(c, "Checked: %d good, %d to mend, %d not usable. A slip of the pen? Undo it under Lately.",
				found.Good, found.Count(drive.CaseToMend), found.Count(drive.CaseNotUsable))
			return s.checkNext(c, form)
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

// checkNext goes on to the next stack that waits, where that was asked for.
func (s *Site) checkNext(c *gin.Context, form checkForm) error {
	if form.Then != "next" {
		return s.seeOther(c, s.path(c, "back"))
	}
	waiting, err := s.db.Stacks(c.Request.Context(), s.driveID(c), drive.CaseSewn)
	if err != nil {
		return err
	}
	for _, l := range waiting {
		if !l.Out() {
			return s.seeOther(c, s.path(c, "back", "check", l.Asked, l.Size, l.Kit, l.Part)+"?initials="+url.QueryEscape(form.Initials))
		}
	}
	return s.seeOther(c, s.path(c, "back"))
}

// finding reads the form; what is wrong with it is said beside its fields.
func (f checkForm) finding(problems map[string]string, unit length.Unit) drive.Checked {
	found := drive.Checked{
		Good: typedCount(problems, "good", f.Good, 0), Looked: f.Looked, Unwashed: f.Unwashed == "yes",
		Initials: f.Initials, Note: f.Note, Pins: f.Pins == "yes",
	}
	for i, row := range f.Row {
		n := typedCount(problems, "row"+strconv.Itoa(i+1)+"_n", row.N, 0)
		found.Failed = append(found.Failed, drive.Failed{N: n, To: drive.CaseState(row.To), Reasons: row.Reasons})
	}
	if f.Width+f.Length != "" {
		found.Measured = &sizing.Rect{Width: typedTape(problems, "width", f.Width, unit), Length: typedTape(problems, "length", f.Length, unit)}
	}
	return found
}

// typedTape reads a length off a tape, to the nearest mark.
func typedTape(problems map[string]string, name, typed string, unit length.Unit) length.Length {
	if typed == "" {
		problem(problems, name, "Write both, the width and the length.")
		return 0
	}
	l, err := length.Parse(typed, unit, length.Nearest)
	if err != nil {
		problem(problems, name, "%s", upperFirst(err.Error()))
	}
	return l
}

func (s *Site) checkWith(c *gin.Context, status int, stack postgres.StackLine, form checkForm, problems map[string]string) error {
	ctx := c.Request.Context()
	list, err := s.db.CheckList(ctx, s.driveID(c))
	if err != nil {
		return err
	}
	size, err := s.db.Size(ctx, s.driveID(c), stack.Size)
	if err != nil {
		return err
	}
	p := checkPage{Form: form, Problems: problems, Stack: stack, Action: c.Request.URL.Path, Unit: string(s.drive(c).Unit)}
	here, err := s.db.Washables(ctx, s.driveID(c))
	if err != nil {
		return err
	}
	for _, w := range here {
		if w.Asked == stack.Asked && w.Size == stack.Size && w.Kit == stack.Kit && w.Part == stack.Part {
			p.InWash = w.SewnInWash()
		}
	}
	p.Expected = list.Expect(size.Spec, s.drive(c).Washing)
	for _, point := range list.On() {
		p.Looks = append(p.Looks, option{point.Fault, point.Look})
	}
	for _, fault := range list.Faults() {
		p.Faults = append(p.Faults, option{fault, fault})
	}
	p.Outcomes = []option{{string(drive.CaseToMend), "to mend"}, {string(drive.CaseNotUsable), "not usable"}}
	for i := range p.Form.Row {
		if p.Form.Row[i].To == "" {
			p.Form.Row[i].To = string(drive.CaseToMend)
		}
		p.More = p.More || i > 0 && p.Form.Row[i].said()
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
