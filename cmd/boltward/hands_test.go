package main

import (
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// hands are how a test works at the pages, by the names that people read: a real
// browser (tab), or a client that knows links and forms and nothing else (plain).
type hands interface {
	// open goes to a path of the program.
	open(path string)
	// fill types into the field of that name, or chooses the option that reads so.
	fill(label, value string)
	// tick ticks the box, or takes the choice, of that name.
	tick(label string)
	// attach gives a file to the field of that name.
	attach(label, path string)
	// press presses the one button or follows the one link of that name, and waits
	// for the page that comes.
	press(name string)
	// download presses what gives a file, and gives the file's name and content.
	download(name string) (file string, content []byte)
	// page is the page as it stands, status the answer it came with.
	page() page
	status() int
}

// everyHand gives each kind of hands at work on a program.
func everyHand() map[string]func(*testing.T, *program) hands {
	return map[string]func(*testing.T, *program) hands{
		"browser":         func(t *testing.T, p *program) hands { return newTab(t, p.address) },
		"without scripts": func(t *testing.T, p *program) hands { return newTab(t, p.address, noScripts) },
		"no browser":      func(t *testing.T, p *program) hands { return newPlain(t, p.address) },
	}
}

// plain works at the pages with net/http alone.
type plain struct {
	t      testing.TB
	client *http.Client
	at     *url.URL
	shown  page
	code   int
	header http.Header
	body   []byte
	files  map[string]string // by the name of the field
}

func newPlain(t testing.TB, address string) *plain {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	at, err := url.Parse(address)
	require.NoError(t, err)
	// A connection that a killed server left behind must not be used for the next.
	client := &http.Client{Jar: jar, Transport: &http.Transport{DisableKeepAlives: true}}
	return &plain{t: t, client: client, at: at}
}

func (p *plain) open(path string) {
	p.t.Helper()
	to, err := p.at.Parse(path)
	require.NoError(p.t, err)
	request, err := http.NewRequest(http.MethodGet, to.String(), nil)
	require.NoError(p.t, err)
	p.send(request)
}

func (p *plain) fill(label, value string) {
	p.t.Helper()
	field := p.shown.field(p.t, label)
	switch field.Data {
	case "textarea":
		for c := field.FirstChild; c != nil; c = field.FirstChild {
			field.RemoveChild(c)
		}
		field.AppendChild(&html.Node{Type: html.TextNode, Data: value})
	case "select":
		chosen := false
		for option := range all(field, "option") {
			unset(option, "selected")
			if textOf(option) == value {
				set(option, "selected", "")
				chosen = true
			}
		}
		require.True(p.t, chosen, "%q offers %q", label, value)
	default:
		set(field, "value", value)
	}
}

func (p *plain) tick(label string) {
	p.t.Helper()
	field := p.shown.field(p.t, label)
	if attr(field, "type") == "radio" {
		for other := range all(formOf(p.shown.root, field), "input") {
			if attr(other, "type") == "radio" && attr(other, "name") == attr(field, "name") {
				unset(other, "checked")
			}
		}
	}
	set(field, "checked", "")
}

func (p *plain) attach(label, path string) {
	p.t.Helper()
	p.files[attr(p.shown.field(p.t, label), "name")] = path
}

func (p *plain) press(name string) {
	p.t.Helper()
	n := p.shown.pressable(p.t, name)
	switch n.Data {
	case "summary":
		set(n.Parent, "open", "")
		return
	case "a":
		p.open(attr(n, "href"))
		return
	}
	form := formOf(p.shown.root, n)
	require.NotNil(p.t, form, "the button %q has a form", name)
	p.send(p.submission(form, n))
}

func (p *plain) download(name string) (string, []byte) {
	p.t.Helper()
	before, at := p.shown, p.at
	p.press(name)
	require.Equal(p.t, http.StatusOK, p.code, "%s", p.body)
	_, params, err := mime.ParseMediaType(p.header.Get("Content-Disposition"))
	require.NoError(p.t, err)
	p.shown, p.at = before, at // a browser stays where it was
	return params["filename"], p.body
}

func (p *plain) page() page  { return p.shown }
func (p *plain) status() int { return p.code }

// submission is what a browser sends when a button of a form is pressed.
func (p *plain) submission(form, button *html.Node) *http.Request {
	p.t.Helper()
	action, method := attr(form, "action"), strings.ToUpper(attr(form, "method"))
	if a := attr(button, "formaction"); a != "" {
		action = a
	}
	if m := attr(button, "formmethod"); m != "" {
		method = strings.ToUpper(m)
	}
	to, err := p.at.Parse(action)
	require.NoError(p.t, err)
	values := p.shown.values(form)
	if name := attr(button, "name"); name != "" {
		values.Add(name, attr(button, "value"))
	}
	if method != http.MethodPost {
		to.RawQuery = values.Encode()
		request, err := http.NewRequest(http.MethodGet, to.String(), nil)
		require.NoError(p.t, err)
		return request
	}
	body, contentType := strings.NewReader(values.Encode()), "application/x-www-form-urlencoded"
	if attr(form, "enctype") == "multipart/form-data" {
		body, contentType = p.multipart(values)
	}
	request, err := http.NewRequest(http.MethodPost, to.String(), body)
	require.NoError(p.t, err)
	request.Header.Set("Content-Type", contentType)
	request.Header.Set("Sec-Fetch-Site", "same-origin")
	return request
}

func (p *plain) multipart(values url.Values) (*strings.Reader, string) {
	p.t.Helper()
	var text strings.Builder
	w := multipart.NewWriter(&text)
	for name, list := range values {
		for _, value := range list {
			require.NoError(p.t, w.WriteField(name, value))
		}
	}
	for name, path := range p.files {
		part, err := w.CreateFormFile(name, path[strings.LastIndex(path, "/")+1:])
		require.NoError(p.t, err)
		_, err = part.Write(readFile(p.t, path))
		require.NoError(p.t, err)
	}
	require.NoError(p.t, w.Close())
	return strings.NewReader(text.String()), w.FormDataContentType()
}

// send follows redirects and reads the page that comes.
func (p *plain) send(request *http.Request) {
	p.t.Helper()
	answer, err := p.client.Do(request)
	require.NoError(p.t, err)
	defer answer.Body.Close()
	p.body, err = io.ReadAll(answer.Body)
	require.NoError(p.t, err)
	p.at, p.code, p.header, p.files = answer.Request.URL, answer.StatusCode, answer.Header, map[string]string{}
	require.Less(p.t, p.code, 500, "%s %s:\n%s", request.Method, request.URL, p.body)
	p.shown = page{}
	if strings.HasPrefix(p.header.Get("Content-Type"), "text/html") {
		p.shown = readPage(p.t, string(p.body))
	}
}

// values are the controls of a form as a browser sends them, but for its buttons.
func (s page) values(form *html.Node) url.Values {
	values := url.Values{}
	for n := range s.root.Descendants() {
		name := attr(n, "name")
		if n.Type != html.ElementNode || name == "" || has(n, "disabled") || formOf(s.root, n) != form {
			continue
		}
		switch kind := attr(n, "type"); {
		case n.Data == "textarea":
			values.Add(name, strings.TrimPrefix(rawText(n), "\n"))
		case n.Data == "select":
			options := slices.Collect(all(n, "option"))
			at := max(0, slices.IndexFunc(options, func(o *html.Node) bool { return has(o, "selected") }))
			if len(options) > 0 {
				values.Add(name, attr(options[at], "value"))
			}
		case n.Data != "input" || kind == "file" || kind == "submit":
		case kind != "checkbox" && kind != "radio" || has(n, "checked"):
			values.Add(name, attr(n, "value"))
		}
	}
	return values
}

var (
	_ hands = (*plain)(nil)
	_ hands = (*tab)(nil)
)
