package site

import (
	"html/template"
	"strings"
)

// markup is HTML that Go writes: fields and the rows of long lists, which templates take many
// times as long over. What is raw stands in the program; whatever comes from elsewhere is a
// text, and is written as html/template writes it between tags and in quoted attributes.
type markup struct{ out strings.Builder }

// raw is a piece of HTML. A constant becomes one by itself, a text from elsewhere does not.
type raw string

// put writes a piece of HTML.
func (m *markup) put(piece raw) *markup {
	m.out.WriteString(string(piece))
	return m
}

// when writes a piece of HTML where something is so.
func (m *markup) when(so bool, piece raw) *markup {
	if so {
		m.out.WriteString(string(piece))
	}
	return m
}

// text writes a text.
func (m *markup) text(text string) *markup {
	from := 0
	for i := range len(text) {
		if with := besideText[text[i]]; with != "" {
			m.out.WriteString(text[from:i])
			m.out.WriteString(with)
			from = i + 1
		}
	}
	m.out.WriteString(text[from:])
	return m
}

// attr writes an attribute, nothing where its value is empty.
func (m *markup) attr(name raw, value string) *markup {
	if value == "" {
		return m
	}
	return m.put(" ").put(name).put(`="`).text(value).put(`"`)
}

// as writes what is HTML already.
func (m *markup) as(html template.HTML) *markup {
	m.out.WriteString(string(html))
	return m
}

// cell writes a cell of a row, count one of numbers; the label heads it where the columns
// stand below each other.
func (m *markup) cell(label raw, text string) *markup {
	return m.put(`<td data-label="`).put(label).put(`">`).text(text).put("</td>")
}

func (m *markup) count(label raw, text string) *markup {
	return m.put(`<td class="n" data-label="`).put(label).put(`">`).text(text).put("</td>")
}

// link writes a link.
func (m *markup) link(path, text string) *markup {
	return m.put(`<a href="`).text(path).put(`">`).text(text).put("</a>")
}

// act writes a button that sends a form of its own; of is what it is about, for whoever hears
// the button by itself.
func (m *markup) act(v *view, path, label, of string) *markup {
	m.put(`<form method="post" action="`).text(path).put(`" class="inline"><input type="hidden" name="once" value="`).text(v.Once())
	return m.put(`"><button class="quiet">`).text(label).put(`<span class="unseen">: `).text(of).put("</span></button></form>")
}

// html gives what was written.
func (m *markup) html() template.HTML { return template.HTML(m.out.String()) }

// besideText is what stands in HTML for what has a meaning there.
var besideText = [256]string{
	0: "\uFFFD", '"': "&#34;", '&': "&amp;", '\'': "&#39;", '+': "&#43;", '<': "&lt;", '>': "&gt;",
}
