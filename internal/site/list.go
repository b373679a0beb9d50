package site

import (
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
)

// rowsShown is how many rows of a list one page holds.
const rowsShown = 50

// listing is how somebody looks at a list: what they search, how it is sorted,
// which page. It comes from the address, so that a view can be kept and sent on.
type listing struct {
	Path    string
	Q       string
	Sort    string
	Desc    bool
	Page    int // from 1
	Total   int // rows that match; the handler sets it
	Choices []listChoice

	first string // the sort that stands when nothing is said
	kept  url.Values
	query url.Values
}

// listChoice is one filter in the search form.
type listChoice struct {
	Name, Label string
	Picks       []pick
}

// Drawn is the filter in its form.
func (c listChoice) Drawn() template.HTML {
	var m markup
	m.put("\n<span class=\"ask\"><label for=\"list-").text(c.Name).put(`">`).text(c.Label).put("</label>")
	m.put(`<select id="list-`).text(c.Name).put(`" name="`).text(c.Name).put(`">`)
	for _, p := range c.Picks {
		m.put(`<option value="`).text(p.Value).put(`"`).when(p.On, " selected").put(">").text(p.Label).put("</option>")
	}
	m.put("</select></span>")
	return m.html()
}

// mostCommon is how many filters stand in the search form; more are folded away.
const mostCommon = 3

// Common gives the filters that stand in the search form, Rarer those that are
// folded away where there are many.
func (l listing) Common() []listChoice { return l.Choices[:l.common()] }

// Rarer gives the filters that are folded away.
func (l listing) Rarer() []listChoice { return l.Choices[l.common():] }

// RarerChosen says whether one of the folded filters is in use.
func (l listing) RarerChosen() bool {
	return slices.ContainsFunc(l.Rarer(), func(c listChoice) bool { return l.kept.Has(c.Name) })
}

func (l listing) common() int {
	if len(l.Choices) <= mostCommon+1 {
		return len(l.Choices)
	}
	return mostCommon
}

// listHead is one head of a column that sorts.
type listHead struct {
	Label, Link, Sorted string
	Number              bool
}

// listing reads how a list is looked at. Sorts are the names that may be sorted
// by, the usual one first.
func (s *Site) listing(c *gin.Context, sorts ...string) listing {
	q := c.Request.URL.Query()
	l := listing{Path: c.Request.URL.Path, Q: clean(q.Get("q")), Page: 1, query: q, kept: url.Values{}}
	if len(sorts) > 0 {
		l.Sort, l.first = sorts[0], sorts[0]
	}
	if slices.Contains(sorts, q.Get("sort")) {
		l.Sort = q.Get("sort")
	}
	l.Desc = q.Get("order") == "down"
	if n, ok := wholeNumber(q.Get("page")); ok && n < 1_000_000 {
		l.Page = int(n)
	}
	return l
}

// Choose adds a filter to the search form and gives the value that is chosen:
// one of the options, or that of the first.
func (l *listing) Choose(name, label string, options []option) string {
	chosen := ""
	if len(options) > 0 {
		chosen = options[0].Value
	}
	for _, o := range options {
		if o.Value == l.query.Get(name) {
			chosen = o.Value
		}
	}
	f := &field{Name: name, Value: chosen, Options: options}
	l.Choices = append(l.Choices, listChoice{Name: name, Label: label, Picks: f.picks()})
	if len(options) > 0 && chosen != options[0].Value {
		l.kept.Set(name, chosen)
	}
	return chosen
}

// Filter gives a value of the address and keeps it in every link of the list,
// for filters that are links themselves.
func (l *listing) Filter(name string) string {
	value := clean(l.query.Get(name))
	if value != "" {
		l.kept.Set(name, value)
	}
	return value
}

// Limit and Offset are for the query.
func (l *listing) Limit() int  { return rowsShown }
func (l *listing) Offset() int { return (l.Page - 1) * rowsShown }

// Head gives the head of a column of words, HeadN that of a column of numbers.
func (l listing) Head(sort, label string) listHead {
	h := listHead{Label: label}
	order := ""
	if l.Sort == sort {
		h.Sorted = "ascending"
		order = "down"
		if l.Desc {
			h.Sorted, order = "descending", ""
		}
	}
	h.Link = l.link(sort, order, 1)
	return h
}

// Drawn is the head in its row.
func (h listHead) Drawn() template.HTML {
	var m markup
	m.put(`<th scope="col"`).when(h.Number, ` class="n"`).attr("aria-sort", h.Sorted).put(`><a href="`).text(h.Link).put(`">`).text(h.Label)
	m.when(h.Sorted == "ascending", ` <span aria-hidden="true">↑</span>`).when(h.Sorted == "descending", ` <span aria-hidden="true">↓</span>`)
	m.put("</a></th>")
	return m.html()
}

// HeadN gives the head of a column of numbers.
func (l listing) HeadN(sort, label string) listHead {
	h := l.Head(sort, label)
	h.Number = true
	return h
}

// Kept gives what the search form carries along unseen: the order, and filters
// that are not in the form itself. Value is the name, Label what it is.
func (l listing) Kept() []option {
	var kept []option
	if l.Sort != l.first {
		kept = append(kept, option{"sort", l.Sort})
	}
	if l.Desc {
		kept = append(kept, option{"order", "down"})
	}
	for name := range l.kept {
		if !slices.ContainsFunc(l.Choices, func(c listChoice) bool { return c.Name == name }) {
			kept = append(kept, option{name, l.kept.Get(name)})
		}
	}
	slices.SortFunc(kept, func(a, b option) int { return strings.Compare(a.Value, b.Value) })
	return kept
}

// Range says which rows are shown: "51 to 100 of 1,204".
func (l listing) Range() (string, error) {
	if l.Total == 0 {
		return "Nothing found", nil
	}
	total, err := number(l.Total)
	if err != nil || (l.Total <= rowsShown && l.Page == 1) {
		return total + " in all", err
	}
	from := min(l.Offset()+1, l.Total)
	return fmt.Sprintf("%d to %d of %s", from, min(from+rowsShown-1, l.Total), total), nil
}

// Before gives the link to the page before, or nothing.
func (l listing) Before() string {
	if l.Page <= 1 {
		return ""
	}
	return l.link(l.Sort, l.order(), l.Page-1)
}

// After gives the link to the next page, or nothing.
func (l listing) After() string {
	if l.Page*rowsShown >= l.Total {
		return ""
	}
	return l.link(l.Sort, l.order(), l.Page+1)
}

// pastEnd gives the link to the first page where this one lies behind the last row, or nothing: the list
// has become shorter since the link to it was made, and a page without rows would say that there are none.
func (l listing) pastEnd() string {
	if l.Page <= 1 || l.Offset() < l.Total {
		return ""
	}
	return l.with(l.Path)
}

// with gives another address that looks at the same rows in the same order.
func (l listing) with(path string) string {
	l.Path = path
	return l.link(l.Sort, l.order(), 1)
}

func (l listing) order() string {
	if l.Desc {
		return "down"
	}
	return ""
}

func (l listing) link(sort, order string, page int) string {
	q := url.Values{}
	for name := range l.kept {
		q.Set(name, l.kept.Get(name))
	}
	if l.Q != "" {
		q.Set("q", l.Q)
	}
	if sort != l.first {
		q.Set("sort", sort)
	}
	if order != "" {
		q.Set("order", order)
	}
	if page > 1 {
		q.Set("page", strconv.Itoa(page))
	}
	if len(q) == 0 {
		return l.Path
	}
	return l.Path + "?" + q.Encode()
}
