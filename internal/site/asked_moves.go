package site

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// lineSpares is what is finished elsewhere and fits one line.
type lineSpares struct {
	What  string
	Lacks int
	Rows  []spareRow
}

// spareRow is one stack that could be given, where that is said, and what was typed of it.
type spareRow struct {
	drive.Spare
	Action string
	Name   string // of its field, once on the page
	Typed  string
}

// askedPast is one change of what is asked for, in words.
type askedPast struct {
	When, Who, What string
	Changes         []string
}

// elsewhere fills a recipient's page with what is finished elsewhere, for those who may give it, and
// with what changed.
func (s *Site) elsewhere(c *gin.Context, p *recipientPage, lines []drive.AskedLine) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	var own []drive.Asked
	shown := map[string]bool{}
	stacks, err := s.db.Spares(ctx, driveID)
	if err != nil {
		return err
	}
	for _, row := range p.Lines {
		own = append(own, row.Asked)
		found := row.Spares(stacks, lines)
		if len(found) == 0 || !s.may(c, account.Drive, account.Write) {
			continue
		}
		l := lineSpares{What: row.What, Lacks: row.Standing.Lacks()}
		for _, spare := range found {
			r := spareRow{spare, s.path(c, "asked", row.Number, "give"), giveName(row.Number, spare.Stack), strconv.Itoa(spare.Most)}
			if p.Problems[r.Name] != "" {
				r.Typed = p.Refused.N
			}
			l.Rows, shown[r.Name] = append(l.Rows, r), true
		}
		p.Spares = append(p.Spares, l)
	}
	for name, why := range p.Problems {
		if !shown[name] { // it is not offered any more, so there is no field to stand beside
			delete(p.Problems, name)
			problem(p.Problems, "", "%s", why)
		}
	}
	sizes, err := s.db.Sizes(ctx, driveID)
	if err != nil {
		return err
	}
	p.History, err = s.askedPast(c, p.Recipient.Number, own, sizes)
	return err
}

// giveName names the field of a stack that could be given to a line, apart from every other on the page.
func giveName(line int64, at drive.Stack) string {
	return fmt.Sprintf("give%d-%d-%d-%d-%d", line, at.Asked, at.Size, at.Kit, at.Part)
}

// giveForm is a stack and how many of it, as typed.
type giveForm struct {
	From string `form:"from"`
	Size string `form:"size"`
	Kit  string `form:"kit"`
	Part string `form:"part"`
	N    string `form:"n"`
}

// giveToLine handles POST /drives/:drive/asked/:line/give: good pillowcases go to a line that lacks some.
func (s *Site) giveToLine(c *gin.Context) error {
	line, err := s.askedLine(c)
	if err != nil {
		return err
	}
	var form giveForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	problems := map[string]string{}
	at := drive.Stack{Asked: typedNumber(form.From), Size: typedNumber(form.Size), Kit: typedNumber(form.Kit), Part: int(typedNumber(form.Part))}
	n := typedCount(problems, "n", form.N, 0)
	var given postgres.Given
	if len(problems) == 0 {
		given, err = s.db.GiveToLine(c.Request.Context(), s.act(c), at, n, line.Number)
		if err != nil && !adopt(problems, err) {
			return err
		}
	}
	if len(problems) > 0 {
		p := recipientPage{Refused: form, Problems: map[string]string{}}
		for _, why := range problems {
			problem(p.Problems, giveName(line.Number, at), "%s", why)
		}
		return s.recipientShown(c, http.StatusUnprocessableEntity, line.Recipient, p)
	}
	s.flashUndo(c, s.path(c, "asked", line.Number, "give", given.Step, "undo"), "%s given to this recipient. Change the plan now, so that they are not sewn twice.", plainCount(given.N))
	return s.seeOther(c, s.path(c, "recipients", line.Recipient))
}

func plainCount(n int) string {
	if n == 1 {
		return "1 pillowcase is"
	}
	return thousands(int64(n)) + " pillowcases are"
}

// undoGive handles POST /drives/:drive/asked/:line/give/:step/undo.
func (s *Site) undoGive(c *gin.Context) error {
	line, err := s.askedLine(c)
	if err != nil {
		return err
	}
	step, err := s.number(c, "step")
	if err != nil {
		return err
	}
	n, err := s.db.UndoCases(c.Request.Context(), s.act(c), line.Number, step)
	if err != nil {
		return err
	}
	s.flash(c, "Undone: %d stand where they stood before.", n)
	return s.seeOther(c, s.path(c, "recipients", line.Recipient))
}

// askedPast tells what changed of some lines, and of a recipient where one is named.
func (s *Site) askedPast(c *gin.Context, recipient int64, lines []drive.Asked, sizes []drive.Size) ([]askedPast, error) {
	var numbers []int64
	for _, l := range lines {
		numbers = append(numbers, l.Number)
	}
	steps, err := s.db.AskedHistory(c.Request.Context(), s.driveID(c), recipient, numbers)
	if err != nil {
		return nil, err
	}
	return s.pastWords(c, steps, len(numbers) > 1, sizes), nil
}

// pastWords says steps in words, with the line of each where several are meant.
func (s *Site) pastWords(c *gin.Context, steps []postgres.AskedStep, several bool, sizes []drive.Size) []askedPast {
	names := map[string]string{}
	for _, z := range sizes {
		names[fmt.Sprint(z.Number)] = z.Name
	}
	var past []askedPast
	for _, step := range steps {
		row := askedPast{When: step.At.In(s.drive(c).Location()).Format("2 Jan 2006 15:04"), Who: step.Who, What: step.Act}
		if row.Who == "" {
			row.Who = "the program"
		}
		if several && step.Line != 0 {
			row.What += fmt.Sprintf(", line %d", step.Line)
		}
		for _, ch := range step.Changes {
			if said := changeWords(ch, names, step.Act); said != "" {
				row.Changes = append(row.Changes, said)
			}
		}
		past = append(past, row)
	}
	return past
}

// changeWords says one change: "wanted: from 40 to 60".
func changeWords(ch postgres.Changed, sizes map[string]string, act string) string {
	from, to := changedValue(ch.Field, ch.From, sizes), changedValue(ch.Field, ch.To, sizes)
	switch {
	case ch.Field == "recipient" || ch.Field == "weight" && strings.HasPrefix(act, "asked for") && act != "asked for changed":
		return ""
	case to == "changed":
		return ch.Field + ": changed"
	case from == "" && to == "":
		return ""
	case from == "":
		return ch.Field + ": " + to
	case to == "":
		return ch.Field + ": no longer " + from
	}
	return ch.Field + ": from " + from + " to " + to
}

func changedValue(field string, v any, sizes map[string]string) string {
	switch v := v.(type) {
	case nil:
		return ""
	case bool:
		return map[bool]string{true: "yes", false: "no"}[v]
	case float64:
		if v == 0 && field != "pillowcases" {
			return ""
		}
		return thousands(int64(v))
	case []any:
		var words []string
		for _, each := range v {
			word := changedValue("", each, nil)
			if name, ok := sizes[strings.ReplaceAll(word, ",", "")]; ok && field == "sizes" {
				word = name
			}
			words = append(words, word)
		}
		return strings.Join(words, ", ")
	case string:
		if day, err := time.Parse(time.DateOnly, v); err == nil {
			return day.Format("2 Jan 2006")
		}
		return v
	}
	return fmt.Sprint(v)
}
