package main

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// nameOf is what a screen reader calls a control: what labels it by id, its own label, the
// labels that stand for it, or the words in it.
func (s page) nameOf(n *html.Node) string {
	if ids := attr(n, "aria-labelledby"); ids != "" {
		var words []string
		for _, id := range strings.Fields(ids) {
			if of := s.byID(id); of != nil {
				words = append(words, s.own(of))
			}
		}
		return strings.Join(words, " ")
	}
	return s.own(n)
}

func (s page) own(n *html.Node) string {
	if label := attr(n, "aria-label"); label != "" {
		return label
	}
	if n.Data == "input" || n.Data == "select" || n.Data == "textarea" {
		for of := range all(s.root, "label") {
			if id := attr(n, "id"); id != "" && attr(of, "for") == id {
				return textOf(of)
			}
		}
		for of := range n.Ancestors() {
			if of.Data == "label" {
				return textOf(of)
			}
		}
		return attr(n, "title")
	}
	return textOf(n)
}

// groupOf is the name of the group that a control stands in: the legend of its fieldset, or what
// a group is labelled by; empty where it stands in none.
func (s page) groupOf(n *html.Node) string {
	var words []string
	for of := range n.Ancestors() {
		switch {
		case of.Data == "fieldset":
			for legend := range all(of, "legend") {
				words = append(words, textOf(legend))
				break
			}
		case attr(of, "role") == "group" || attr(of, "role") == "radiogroup" || of.Data == "form" && has(of, "aria-label"):
			words = append(words, s.nameOf(of))
		}
	}
	slices.Reverse(words)
	return strings.Join(words, ", ")
}

// sends says what a button does: two that do the same may be called the same.
func (s page) sends(n *html.Node) string {
	form := formOf(s.root, n)
	if form == nil {
		return fmt.Sprintf("no form %p", n)
	}
	does := []string{attr(form, "method"), attr(form, "action"), attr(n, "formaction"), attr(n, "name"), attr(n, "value")}
	for field := range all(form, "input") {
		if name := attr(field, "name"); attr(field, "type") == "hidden" && name != "once" {
			does = append(does, name+"="+attr(field, "value"))
		}
	}
	return strings.Join(does, "|")
}

// namesTwice gives the names that several controls have which are not the same.
func (s page) namesTwice() (faults []string) {
	does := map[string][]string{}
	tell := func(what, name, does1 string) {
		key := what + " " + name
		if !slices.Contains(does[key], does1) {
			does[key] = append(does[key], does1)
		}
	}
	for n := range s.root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		switch n.Data {
		case "button":
			tell("button", s.nameOf(n), s.sends(n))
		case "input", "select", "textarea":
			// Of the two boxes for a scanner one shows: on a phone that in the menu.
			if form := formOf(s.root, n); attr(n, "type") != "hidden" && (form == nil || !has(form, "data-scan")) {
				tell("field", strings.TrimSpace(s.groupOf(n)+" "+s.nameOf(n)), fmt.Sprintf("%s %p", s.sends(n), n))
			}
		case "summary":
			tell("summary", s.nameOf(n), fmt.Sprintf("%p", n))
		}
	}
	for key, list := range does {
		if len(list) > 1 {
			faults = append(faults, fmt.Sprintf("%q ×%d", key, len(list)))
		}
	}
	slices.Sort(faults)
	return faults
}

// looseTaps gives fields that are ticked, several of one name, which stand in no group.
func (s page) looseTaps() (faults []string) {
	several := map[string][]*html.Node{}
	for n := range all(s.root, "input") {
		if kind := attr(n, "type"); kind == "checkbox" || kind == "radio" {
			form := fmt.Sprintf("%p", formOf(s.root, n))
			several[form+attr(n, "name")] = append(several[form+attr(n, "name")], n)
		}
	}
	for _, list := range several {
		if len(list) > 1 && s.groupOf(list[0]) == "" && tableOf(list[0]) == nil {
			faults = append(faults, fmt.Sprintf("%d × %s in no group", len(list), attr(list[0], "name")))
		}
	}
	slices.Sort(faults)
	return faults
}

// tableOf is the table that a control stands in, whose caption names what its rows are.
func tableOf(n *html.Node) *html.Node {
	for of := range n.Ancestors() {
		if of.Data == "table" {
			return of
		}
	}
	return nil
}

// tablesWithoutHeads gives tables whose rows have none, or that nothing names.
func (s page) tablesWithoutHeads() (faults []string) {
	for table := range all(s.root, "table") {
		if attr(table, "role") == "presentation" {
			continue
		}
		name := attr(table, "aria-label") + attr(table, "aria-labelledby")
		for c := range all(table, "caption") {
			name += textOf(c)
		}
		if name == "" {
			faults = append(faults, "a table without a name: "+textOf(table)[:min(60, len(textOf(table)))])
		}
		for row := range all(table, "tr") {
			if row.Parent.Data == "thead" {
				continue
			}
			head := false
			for cell := range all(row, "th") {
				head = head || attr(cell, "scope") == "row" || attr(cell, "scope") == "rowgroup"
			}
			if !head {
				faults = append(faults, fmt.Sprintf("rows without a head: %s (%s)", name, textOf(row)[:min(60, len(textOf(row)))]))
				break
			}
		}
	}
	return faults
}

// hoverOnly gives what is told to whoever points with a mouse and to nobody else: but for
// lengths, whose other unit the box at the foot of the page shows.
func (s page) hoverOnly() (faults []string) {
	box := s.byID("both-units")
	for n := range s.root.Descendants() {
		if n.Type == html.ElementNode && has(n, "title") && (attr(n, "class") != "other" || box == nil) {
			faults = append(faults, fmt.Sprintf("%s title=%q", n.Data, attr(n, "title")))
		}
	}
	return faults[:min(3, len(faults))]
}

// Whoever hears a page, or reaches its controls one by one, hears of each what it is about: "Undo"
// eleven times says nothing.
func TestEachNameSaysOfWhat(t *testing.T) {
	t.Parallel()
	_, h := withDemo(t)
	const ofEach = 4
	seen := map[string]bool{}
	for _, path := range upToOfEachKind(t, h, "/drives/lantern-row", ofEach, hiddenPages(t, h)...) {
		h.open(path)
		p := h.shown
		for _, faults := range [][]string{p.namesTwice(), p.looseTaps(), p.tablesWithoutHeads(), p.hoverOnly()} {
			for _, f := range faults {
				if key := shapeOf(path) + f; !seen[key] {
					seen[key] = true
					t.Errorf("%s: %s", path, f)
				}
			}
		}
	}
	require.NotEmpty(t, h.shown.root)
}

// The other unit of a length, which shows where a mouse points, shows by the keyboard and by a
// touch too.
func TestTheOtherUnitWithoutAMouse(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	const beside = `getComputedStyle(document.querySelector("main .other[title]"), "::after").content`
	b.size(phone, 844)
	b.open("/drives/lantern-row/sizes")
	require.Equal(t, "none", eval[string](b, beside))
	eval[bool](b, `(document.querySelector("#both-units").focus(), true)`)
	b.do(chromedp.KeyEvent(" "))
	require.Contains(t, eval[string](b, beside), "cm)")
	require.Empty(t, b.look(axe(t)), "with both units")
	eval[bool](b, `(document.querySelector("main .other[title]").click(), true)`)
	require.Equal(t, "none", eval[string](b, beside))
	b.open("/drives/lantern-row/needs")
	require.False(t, eval[bool](b, `document.querySelector("#both-units").checkVisibility()`), "no length stands there")
}
