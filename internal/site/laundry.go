package site

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// batchesShown is how many of the newest batches the page shows.
const batchesShown = 30

// laundryPage is what is in the wash, what can go in, and what was laundered.
type laundryPage struct {
	Form     laundryForm
	Done     finishForm
	Refused  int64 // the batch whose form was refused
	Problems map[string]string
	Rows     []laundryRow
	Wishes   []laundryWish
	Open     []batchRow
	Past     []batchRow
	Free     int
	Dirty    int // good, and in no batch
	Launders bool
}

func (laundryPage) template() string { return "laundry.html" }
func (laundryPage) title() string    { return "Laundry" }

// laundryForm is a batch as typed; how many of each stack has a field of its own.
type laundryForm struct {
	By   string `form:"by"`
	Day  string `form:"day"`
	Note string `form:"note"`
}

// finishForm is a batch that is done, as typed.
type finishForm struct {
	By string `form:"by"`
	On string `form:"on"`
}

// laundryRow is one stack that can go into the wash.
type laundryRow struct {
	postgres.WashableLine
	Label string
	Typed string
}

// laundryWish is what one recipient asks of laundering, in its own words.
type laundryWish struct {
	Name  string
	Rules []string
}

// batchRow is one batch with what lies in it, in words.
type batchRow struct {
	drive.Batch
	Holds string
}

// laundry handles GET /drives/:drive/back/laundry.
func (s *Site) laundry(c *gin.Context) error {
	return s.laundryWith(c, http.StatusOK, laundryPage{Problems: map[string]string{}}, nil)
}

// startLaundry handles POST on the same address: pillowcases go into the wash.
func (s *Site) startLaundry(c *gin.Context) error {
	p := laundryPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	w := postgres.Washing{By: p.Form.By, Note: p.Form.Note, Day: orZeroDay(typedDay(p.Problems, "day", p.Form.Day))}
	typed := map[string]string{}
	// The form alone says what goes in, not what lies here by now: sent again it is the same.
	for _, name := range slices.Sorted(maps.Keys(c.Request.PostForm)) {
		stack, is := drive.WashableOf(name)
		if !is {
			continue
		}
		typed[name] = clean(c.Request.PostForm.Get(name))
		if n := typedCount(p.Problems, name, typed[name], 0); n != 0 {
			w.Lines = append(w.Lines, drive.LaundryLine{Asked: stack.Asked, Size: stack.Size, Kit: stack.Kit, Part: stack.Part, N: n})
		}
	}
	if len(p.Problems) == 0 {
		number, err := s.db.StartBatch(c.Request.Context(), s.act(c), w)
		if err == nil {
			s.flashUndo(c, s.path(c, "back", "laundry", number, "undo"), "Batch %d is in the wash.", number)
			return s.seeOther(c, s.path(c, "back", "laundry"))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.laundryWith(c, http.StatusUnprocessableEntity, p, typed)
}

// finishLaundry handles POST …/:batch/done: it is clean and dry.
func (s *Site) finishLaundry(c *gin.Context) error {
	p := laundryPage{Problems: map[string]string{}}
	if err := s.read(c, &p.Done); err != nil {
		return err
	}
	batch, err := s.number(c, "batch")
	if err != nil {
		return err
	}
	on := typedDay(p.Problems, "on", p.Done.On)
	if len(p.Problems) == 0 {
		n, err := s.db.FinishBatch(c.Request.Context(), s.act(c), batch, p.Done.By, orZeroDay(on))
		if err == nil {
			s.flashUndo(c, s.path(c, "back", "laundry", batch, "undo"), "Batch %d is done: %s laundered.", batch, countCases(n))
			return s.seeOther(c, s.path(c, "back", "laundry"))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	p.Refused = batch
	return s.laundryWith(c, http.StatusUnprocessableEntity, p, nil)
}

// undoLaundry handles POST …/:batch/undo.
func (s *Site) undoLaundry(c *gin.Context) error {
	batch, err := s.number(c, "batch")
	if err != nil {
		return err
	}
	again, err := s.db.UndoBatch(c.Request.Context(), s.act(c), batch)
	if err != nil {
		return err
	}
	if again {
		s.flash(c, "Undone: batch %d is in the wash again.", batch)
	} else {
		s.flash(c, "Undone: batch %d never was.", batch)
	}
	return s.seeOther(c, s.path(c, "back", "laundry"))
}

func (s *Site) laundryWith(c *gin.Context, status int, p laundryPage, typed map[string]string) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	here, err := s.db.Washables(ctx, driveID)
	if err != nil {
		return err
	}
	list, err := s.db.CheckList(ctx, driveID)
	if err != nil {
		return err
	}
	p.Launders = list.Launders
	wish := map[int64]bool{}
	for _, l := range here {
		p.Dirty += max(min(l.Good, l.Free()), 0)
		if l.Recipient != nil {
			wish[*l.Recipient] = true
		}
		row := laundryRow{WashableLine: l, Label: stackLabel(l), Typed: typed[l.Field()]}
		if l.Free() == 0 && row.Typed == "" {
			continue
		}
		p.Free += l.Free()
		p.Rows = append(p.Rows, row)
	}
	if p.Wishes, err = s.laundryWishes(c, wish); err != nil {
		return err
	}
	_, sizes, err := s.names(ctx, driveID)
	if err != nil {
		return err
	}
	batches, err := s.db.Batches(ctx, driveID, batchesShown)
	if err != nil {
		return err
	}
	for _, b := range batches {
		row := batchRow{Batch: b, Holds: batchHolds(b, sizes)}
		if b.DoneOn == nil {
			p.Open = append(p.Open, row)
		} else {
			p.Past = append(p.Past, row)
		}
	}
	if p.Refused == 0 {
		p.Done = finishForm{By: visitorOf(c).person.Initials, On: s.today(c).Format(time.DateOnly)}
		if p.Form.By == "" && status == http.StatusOK {
			p.Form.By = visitorOf(c).person.Initials
		}
	}
	return s.page(c, status, p)
}

// laundryWishes gives what those recipients ask whose pillowcases lie here.
func (s *Site) laundryWishes(c *gin.Context, of map[int64]bool) ([]laundryWish, error) {
	recipients, err := s.db.Recipients(c.Request.Context(), s.driveID(c))
	if err != nil {
		return nil, err
	}
	var list []laundryWish
	for _, r := range recipients {
		if of[r.Number] && len(r.Rules) > 0 {
			list = append(list, laundryWish{r.Name, r.Rules})
		}
	}
	return list, nil
}

// stackLabel says which pillowcases a stack is.
func stackLabel(l postgres.WashableLine) string {
	label := l.SizeName
	if l.ForWhom != "" {
		label += " for " + l.ForWhom
	}
	if l.Kit > 0 {
		return label + ", kit " + l.KitRef().String()
	}
	return label + ", without a kit"
}

// batchHolds says in words what is in a batch: 6 standard, 2 queen.
func batchHolds(b drive.Batch, sizes map[int64]string) string {
	var order []int64
	n := map[int64]int{}
	for _, l := range b.Lines {
		if n[l.Size] == 0 {
			order = append(order, l.Size)
		}
		n[l.Size] += l.N
	}
	words := make([]string, len(order))
	for i, size := range order {
		words[i] = fmt.Sprintf("%d %s", n[size], sizes[size])
	}
	return strings.Join(words, ", ")
}
