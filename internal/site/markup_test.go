package site

import (
	"html/template"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What Go writes into a page is escaped as what a template writes.
func TestMarkupEscapesAsTemplatesDo(t *testing.T) {
	page := template.Must(template.New("").Parse(`<a title="{{.}}">{{.}}</a><textarea>{{.}}</textarea>`))
	for _, text := range []string{
		"", "Ward 4", `"><script>alert(1)</script>`, `' onmouseover='x`, "a & b &amp; c", "1+1=2", "a\x00b", "\xff\xfe", "Zoë – 12″\u2028", "`${x}`", "</textarea>",
	} {
		var want strings.Builder
		require.NoError(t, page.Execute(&want, text))
		var m markup
		m.put("<a").attr("title", text)
		if text == "" {
			m.put(` title=""`) // an attribute without a value is left out
		}
		m.put(">").text(text).put("</a><textarea>").text(text).put("</textarea>")
		require.Equal(t, want.String(), string(m.html()), "%q", text)
	}
	every := make([]byte, 256)
	for i := range every {
		every[i] = byte(i)
	}
	var want strings.Builder
	require.NoError(t, page.Execute(&want, string(every)))
	var m markup
	m.put("<a").attr("title", string(every)).put(">").text(string(every)).put("</a><textarea>").text(string(every)).put("</textarea>")
	require.Equal(t, want.String(), string(m.html()))
}
