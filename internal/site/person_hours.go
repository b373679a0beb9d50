package site

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
)

// hoursForm is time somebody gave, as typed.
type hoursForm struct {
	Hours string `form:"hours"`
	Heads string `form:"worked"`
	Doing string `form:"doing"`
	Day   string `form:"hours_day"`
}

// hoursRow is one line of the hours somebody gave.
type hoursRow struct {
	drive.Hours
	Said string
}

// personHours handles POST /drives/:drive/people/:person/hours: they gave time.
func (s *Site) personHours(c *gin.Context) error {
	number, err := s.number(c, "person")
	if err != nil {
		return err
	}
	var form hoursForm
	if err := s.read(c, &form); err != nil {
		return err
	}
	problems := map[string]string{}
	h := drive.Hours{Person: number, Doing: form.Doing, Heads: typedCount(problems, "worked", form.Heads, 1)}
	minutes, err := drive.ParseHours(form.Hours)
	if err != nil && !adopt(problems, err) {
		return err
	}
	h.Minutes = minutes * max(h.Heads, 1)
	if day := typedDay(problems, "hours_day", form.Day); day != nil {
		h.Day = *day
	}
	if len(problems) == 0 {
		given, err := s.db.GiveHours(c.Request.Context(), s.act(c), h)
		if err == nil {
			s.flashUndo(c, s.path(c, "people", number, "hours", given, "undo"), "%s noted.", drive.HoursText(h.Minutes))
			return s.seeOther(c, s.path(c, "people", number))
		}
		if !adopt(problems, err) {
			return err
		}
		if problems["person"] != "" { // whose page this is was erased meanwhile
			problems["person"] = "They asked to be forgotten, so no hours are noted of them."
		}
	}
	return s.onePersonWith(c, http.StatusUnprocessableEntity, number, form, problems)
}

// undoHours handles POST /drives/:drive/people/:person/hours/:hours/undo.
func (s *Site) undoHours(c *gin.Context) error {
	number, err := s.number(c, "hours")
	if err != nil {
		return err
	}
	if _, err := s.number(c, "person"); err != nil {
		return err
	}
	person, err := s.db.UndoHours(c.Request.Context(), s.act(c), number)
	if err != nil {
		return err
	}
	s.flash(c, "Undone: those hours do not count.")
	return s.seeOther(c, s.path(c, "people", person))
}

// hoursRows says hours as people read them; of a group, for how many heads.
func hoursRows(list []drive.Hours) []hoursRow {
	rows := make([]hoursRow, len(list))
	for i, h := range list {
		rows[i] = hoursRow{h, drive.HoursText(h.Minutes)}
		if h.Heads > 1 {
			rows[i].Said += ", of " + counted(h.Heads, "person", "people") + " together"
		}
	}
	return rows
}

func doingOptions() []option {
	var options []option
	for _, doing := range drive.HoursDoing() {
		options = append(options, option{doing, doing})
	}
	return options
}
