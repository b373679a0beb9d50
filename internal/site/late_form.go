package site

import (
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
)

// lateFormPage holds what somebody sent after their session was over, for them to send again.
type lateFormPage struct {
	Why    string
	To     string
	Fields []lateField
}

type lateField struct{ Name, Value string }

func (lateFormPage) template() string { return "late-form.html" }
func (lateFormPage) title() string    { return "Not taken yet" }

// secretNames are the names of fields with secrets in any form (typed:"secret").
var secretNames = []string{"current", "erase_current", "password"}

// keepForm answers a form that comes too late with a page that holds all of it, its key as well: once its
// person has signed in again beside it, it goes off as it was. It says no to what no page may hold,
// passwords and codes of a second step, and to files, which the browser has still.
func (s *Site) keepForm(c *gin.Context) bool {
	r := c.Request
	if strings.HasPrefix(r.URL.Path, "/account/") || strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/") || parseForm(r) != nil {
		return false
	}
	if slices.ContainsFunc(secretNames, r.PostForm.Has) {
		return false
	}
	p := lateFormPage{Why: s.whyOver(c), To: byPerson(r.URL)}
	for name, values := range r.PostForm {
		for _, value := range values {
			p.Fields = append(p.Fields, lateField{name, value})
		}
	}
	if p.To == "" || len(p.Fields) == 0 {
		return false
	}
	// Of one name the order counts.
	slices.SortStableFunc(p.Fields, func(a, b lateField) int { return strings.Compare(a.Name, b.Name) })
	if err := s.page(c, http.StatusUnauthorized, p); err != nil {
		s.logFailure(c, err)
		return false
	}
	return true
}
