package main

import (
	"iter"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// page is a page as a reader meets it: names, words, rows of tables.
type page struct{ root *html.Node }

func readPage(t testing.TB, text string) page {
	t.Helper()
	root, err := html.Parse(strings.NewReader(text))
	require.NoError(t, err)
	return page{root}
}

// says gives the words of the page itself, without the head and the menu.
func (s page) says() string {
	for n := range all(s.root, "main") {
		return textOf(n)
	}
	return ""
}

// heading is the page's own.
func (s page) heading() string {
	for n := range all(s.root, "h1") {
		return textOf(n)
	}
	return ""
}

// row gives the cells of the first row whose head begins so, by their labels.
func (s page) row(t testing.TB, head string) map[string]string {
	t.Helper()
	for tr := range all(s.root, "tr") {
		cells := map[string]string{}
		found := false
		for n := range tr.ChildNodes() {
			label := attr(n, "data-label")
			if n.Data == "th" && strings.HasPrefix(textOf(n), head) {
				found = true
			}
			if label != "" {
				cells[label] = textOf(n)
			}
		}
		if found && len(cells) > 0 {
			return cells
		}
	}
	require.FailNow(t, "there is no row "+head, s.says())
	return nil
}

// field gives the one field whose label reads so.
func (s page) field(t testing.TB, label string) *html.Node {
	t.Helper()
	var found []*html.Node
	for n := range all(s.root, "label") {
		if strings.TrimSuffix(textOf(n), " (optional)") != label {
			continue
		}
		if target := s.byID(attr(n, "for")); target != nil && !folded(target) && !slices.Contains(found, target) {
			found = append(found, target)
		}
	}
	for n := range all(s.root, "input") {
		if attr(n, "aria-label") == label && !folded(n) {
			found = append(found, n)
		}
	}
	require.Len(t, found, 1, "one field is named %q on the page: %s", label, s.says())
	return found[0]
}

// pressable gives the one button or link that reads so. Several links to the same
// address count as one.
func (s page) pressable(t testing.TB, name string) *html.Node {
	t.Helper()
	var found []*html.Node
	for n := range s.root.Descendants() {
		if n.Data != "button" && n.Data != "a" && n.Data != "summary" || textOf(n) != name || folded(n) || within(n, "head") || within(n, "pages") || within(n, "foot") {
			continue
		}
		same := func(o *html.Node) bool { return n.Data == "a" && o.Data == "a" && attr(o, "href") == attr(n, "href") }
		if !slices.ContainsFunc(found, same) {
			found = append(found, n)
		}
	}
	require.Len(t, found, 1, "one button or link reads %q on the page: %s", name, s.says())
	return found[0]
}

// links gives the addresses of all links to this program, in order, each once.
func (s page) links() []string {
	var found []string
	for n := range all(s.root, "a") {
		to, _, _ := strings.Cut(attr(n, "href"), "#")
		if strings.HasPrefix(to, "/") && !slices.Contains(found, to) {
			found = append(found, to)
		}
	}
	return found
}

func (s page) byID(id string) *html.Node {
	for n := range s.root.Descendants() {
		if id != "" && attr(n, "id") == id {
			return n
		}
	}
	return nil
}

// formOf gives the form that a control belongs to.
func formOf(root, n *html.Node) *html.Node {
	if id := attr(n, "form"); id != "" {
		return page{root}.byID(id)
	}
	for a := range n.Ancestors() {
		if a.Data == "form" {
			return a
		}
	}
	return nil
}

// folded says whether an element lies in something that is not opened.
func folded(n *html.Node) bool {
	below := n
	for a := range n.Ancestors() {
		if a.Data == "details" && !has(a, "open") && below.Data != "summary" {
			return true
		}
		below = a
	}
	return false
}

// within says whether an element lies in one of that class.
func within(n *html.Node, class string) bool {
	for a := range n.Ancestors() {
		if slices.Contains(strings.Fields(attr(a, "class")), class) {
			return true
		}
	}
	return false
}

// all gives the elements of a kind below n, in the order of the page.
func all(n *html.Node, kind string) iter.Seq[*html.Node] {
	return func(yield func(*html.Node) bool) {
		for d := range n.Descendants() {
			if d.Type == html.ElementNode && d.Data == kind && !yield(d) {
				return
			}
		}
	}
}

// inline elements stand in the middle of a word or a line.
var inline = map[string]bool{
	"a": true, "abbr": true, "b": true, "em": true, "i": true, "small": true, "span": true, "strong": true, "time": true, "sub": true, "sup": true,
}

// textOf gives the words in an element, with one space wherever there is any.
func textOf(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			b.WriteString(n.Data)
			return
		case n.Type == html.ElementNode && (n.Data == "script" || n.Data == "style" || attr(n, "aria-hidden") == "true"):
			return
		}
		block := n.Type == html.ElementNode && !inline[n.Data]
		if block {
			b.WriteByte(' ')
		}
		for c := range n.ChildNodes() {
			walk(c)
		}
		if block {
			b.WriteByte(' ')
		}
	}
	walk(n)
	return strings.Join(strings.Fields(b.String()), " ")
}

func rawText(n *html.Node) string {
	var b strings.Builder
	for c := range n.ChildNodes() {
		b.WriteString(c.Data)
	}
	return b.String()
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func has(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

func set(n *html.Node, name, value string) {
	unset(n, name)
	n.Attr = append(n.Attr, html.Attribute{Key: name, Val: value})
}

func unset(n *html.Node, name string) {
	n.Attr = slices.DeleteFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

func readFile(t testing.TB, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return text
}

// whatReads gives which of these names a button or link of the page has.
func (s page) whatReads(t testing.TB, names ...string) string {
	t.Helper()
	for n := range s.root.Descendants() {
		if (n.Data == "button" || n.Data == "a") && slices.Contains(names, textOf(n)) {
			return textOf(n)
		}
	}
	require.FailNow(t, "there is no such button", "%q on the page: %s", names, s.says())
	return ""
}
