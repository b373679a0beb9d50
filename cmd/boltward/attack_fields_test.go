package main

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// hostile is a text that is SQL, HTML, a template, a formula, and no text at all.
func hostile(n int) string {
	begin := []string{"=cmd|' /C calc'!A1", "+1+1", "-2+3", "@SUM(1)", "\t=1+1", "\r=1+1"}[n%6]
	return begin + `'); DROP TABLE kits;-- "> ` + hostileTag + `</script><img src=x onerror=alert(311)> {{.}} ${7*7} %s %n ../../etc/passwd ` + "\x00 \xff\xfe \u202e \u0007"
}

// laterRow is the name of a field in any row of a table but its first, which is read
// as that one is: make long types there too.
var laterRow = regexp.MustCompile(`(?:[2-9]|[1-9]\d+)(?:_|$)|-(?:[2-9]|[1-9]\d+)$`)

// form is one form of a page as it would be sent.
type form struct {
	page, action, method string
	multipart            bool
	values               url.Values
}

// forms gives every form of these pages, one of each kind.
func (b *besieged) forms(pages []string) []form {
	b.t.Helper()
	seen := map[string]bool{}
	var found []form
	for _, path := range pages {
		a := b.organiser.get(path)
		if a.Code != http.StatusOK {
			continue
		}
		shown := readPage(b.t, a.Body)
		for n := range all(shown.root, "form") {
			values := shown.values(n)
			for _, one := range append(slices.Collect(buttonsOf(shown, n)), n) {
				f := form{page: path, action: attr(n, "action"), method: strings.ToUpper(attr(n, "method")), multipart: attr(n, "enctype") == "multipart/form-data", values: values}
				if to := attr(one, "formaction"); to != "" {
					f.action = to
				}
				if how := attr(one, "formmethod"); how != "" {
					f.method = strings.ToUpper(how)
				}
				key := f.method + shapeOf(f.action) + fmt.Sprint(len(values))
				if seen[key] || f.method != http.MethodPost || strings.HasPrefix(f.action, "/sign-") ||
					strings.HasPrefix(f.action, "/account") || strings.Contains(f.action, "/settings/people/") {
					continue // what ends the session that attacks
				}
				seen[key] = true
				found = append(found, f)
			}
		}
	}
	return found
}

func buttonsOf(shown page, f *html.Node) func(func(*html.Node) bool) {
	return func(yield func(*html.Node) bool) {
		for n := range all(shown.root, "button") {
			if formOf(shown.root, n) == f && !yield(n) {
				return
			}
		}
	}
}

// send sends a form with some values instead of those that stand in it.
func (f form) send(c *caller, instead map[string]string) reply {
	values := url.Values{}
	for name, list := range f.values {
		values[name] = list
	}
	for name, value := range instead {
		values[name] = []string{value}
	}
	if !f.multipart {
		return c.post(f.action, values)
	}
	var body strings.Builder
	for name, list := range values {
		for _, value := range list {
			fmt.Fprintf(&body, "--x\r\nContent-Disposition: form-data; name=%q\r\n\r\n%s\r\n", name, value)
		}
	}
	for _, name := range []string{"photo", "file"} {
		fmt.Fprintf(&body, "--x\r\nContent-Disposition: form-data; name=%q; filename=\"../../%s.jpg\"\r\nContent-Type: image/jpeg\r\n\r\n<svg onload=alert(311)>%s\r\n", name, name, hostile(0))
	}
	body.WriteString("--x--\r\n")
	r := httptest.NewRequest(http.MethodPost, f.action, strings.NewReader(body.String()))
	r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return c.do(r)
}

// SQL, HTML, formulas and bytes that are no text in every field of every form, one at a
// time and all at once: refused beside its field, or kept as the plain text it is.
func hostileFields(t *testing.T, b *besieged) {
	v, r := b.address("/v/:token", nil), b.address("/r/:token", nil)
	pages := append(b.pages, v, v+"/kits/"+b.params["kit"], v+"/reminders", r)
	forms := b.forms(pages)
	require.Greater(t, len(forms), 60)
	sent, kept := 0, 0
	for i, f := range forms {
		names := []string{}
		for name := range f.values {
			if name != "second_step" && (longRun() || !laterRow.MatchString(name)) { // which lets nobody on without one
				names = append(names, name)
			}
		}
		slices.Sort(names)
		everything := map[string]string{}
		for j, name := range names {
			if name != "once" && name != "version" {
				everything[name] = hostile(i + j)
			}
			a := f.send(b.organiser, map[string]string{name: hostile(i + j), "once": fmt.Sprintf("attack-%d-%d", i, j)})
			if name == "once" {
				a = f.send(b.organiser, map[string]string{"once": hostile(i)})
				require.Contains(t, []int{http.StatusUnprocessableEntity, http.StatusNotFound}, a.Code, "%s: a key that no page gave out", f.action)
			}
			require.Contains(t, []int{200, 303, 404, 409, 413, 422}, a.Code, "%s in %s of %s: %.300s", name, f.action, f.page, a.Body)
			if sent++; a.Code == http.StatusSeeOther {
				kept++
			}
		}
		everything["once"] = fmt.Sprintf("attack-%d-all", i)
		f.send(b.organiser, everything)
		sent++
	}
	t.Logf("%d forms sent %d times, %d times taken as plain text", len(forms), sent, kept)
	require.Positive(t, kept)
}

// After all that every page still opens, says what was typed as plain text, and no
// cell of any file begins a formula.
func lookingAfterwards(t *testing.T, b *besieged) {
	shown := 0
	pages := b.crawl(b.organiser, func(_, text string) {
		if strings.Contains(text, "&lt;script&gt;alert(311)") {
			shown++
		}
	})
	require.Greater(t, len(pages), 40)
	require.Positive(t, shown, "some of it was kept, and is shown as text")
	files := 0
	for _, r := range b.routes {
		if r.method != http.MethodGet || !strings.HasSuffix(r.path, ".csv") {
			continue
		}
		a := b.organiser.get(b.address(r.path, nil))
		if a.Code != http.StatusOK {
			continue
		}
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(a.Body, "\ufeff"))).ReadAll()
		require.NoError(t, err, r.path)
		for _, row := range rows {
			for _, cell := range row {
				if strings.Contains(cell, "DROP TABLE") {
					require.False(t, strings.ContainsAny(cell[:1], "=+-@\t\r"), "%s begins a formula: %q", r.path, cell)
				}
			}
		}
		files++
	}
	require.Greater(t, files, 2)
	var tables int
	require.NoError(t, b.db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM information_schema.tables WHERE table_name = 'kits'`).Scan(&tables))
	require.Equal(t, 1, tables)
}
