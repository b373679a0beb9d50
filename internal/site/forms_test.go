package site

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/templates"
)

type sampleForm struct {
	Width  string   `form:"width"`
	Themes []string `form:"theme"`
}

// formSite has one form whose handler keeps what it read.
func formSite(t *testing.T) (ts *testSite, read *sampleForm, act *drive.Act) {
	ts = newTestSite(t)
	read, act = &sampleForm{}, &drive.Act{}
	ts.Site.post("/drives/:drive/sample", write(account.Fabric), func(c *gin.Context) error {
		*read = sampleForm{}
		if err := ts.Site.read(c, read); err != nil {
			return err
		}
		*act = ts.Site.act(c)
		ts.Site.flashUndo(c, ts.Site.path(c, "sample", 7, "undo"), "Kept %s.", read.Width)
		return ts.Site.seeOther(c, "/drives")
	}, body(2<<20))
	ts.rebuild()
	return ts, read, act
}

func TestFormsAreReadAsTyped(t *testing.T) {
	ts, read, act := formSite(t)
	c := ts.as(account.Desk)
	a := c.once().post("/drives/spring/sample", "width", "\u202a  27 ½\x00 in \xff\u200b \ufeff", "theme", "sea", "theme", " ", "theme", "stars", "once", "one-and-only")
	require.Equal(t, http.StatusSeeOther, a.Status)
	require.Equal(t, sampleForm{Width: "27 ½ in", Themes: []string{"sea", "stars"}}, *read)
	require.Len(t, act.Form, 32)
	act.Form = nil
	require.Equal(t, drive.Act{
		Drive: "spring", Who: c.Person.ID, Initials: "AD", Key: "one-and-only", At: ts.Clock.Now(),
		Request: a.Header.Get("X-Request-Id"),
	}, *act)

	page := c.follow(a)
	page.has("Kept 27 ½ in.", `action="/drives/spring/sample/7/undo"`, `name="once"`)
	c.get("/drives").lacks("Kept")
}

// A form is known by where it was sent, with what the address asks, and by its fields; of
// what is secret in it nothing is kept.
func TestWhatAFormIsKnownBy(t *testing.T) {
	ts := newTestSite(t)
	print := func(address, fields string) []byte {
		c, _ := gin.CreateTestContext(httptest.NewRecorder())
		c.Request = httptest.NewRequest(http.MethodPost, address, strings.NewReader(fields))
		c.Request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		var form struct {
			Role    string `form:"role"`
			Current string `form:"current" typed:"secret"`
			Next    string `form:"next" typed:"secret"`
		}
		require.NoError(t, ts.Site.readSecret(c, &form))
		return ts.Site.formPrint(c)
	}
	first := print("/slivers/undo?first=1&n=2", "role=desk&current=one+long+password&once=a")
	require.Len(t, first, 32)
	require.NotEqual(t, first, print("/slivers/undo?first=9&n=4", "role=desk&current=one+long+password&once=a"))
	require.NotEqual(t, first, print("/slivers/undo", "role=desk&current=one+long+password&once=a"))
	require.NotEqual(t, first, print("/slivers/undo?first=1&n=2", "role=reader&current=one+long+password&once=a"))
	require.Equal(t, first, print("/slivers/undo?first=1&n=2", "role=desk&current=another+long+one&next=hidden&once=b"))
}

func TestAKeyThatNoPageGaveOutIsNone(t *testing.T) {
	ts, _, _ := formSite(t)
	c := ts.as(account.Desk)
	for _, key := range []string{"", "short", strings.Repeat("k", 201), "one-and\x00only", "one-and-\xffonly"} {
		a := c.post("/drives/spring/sample", "width", "1", "once", key)
		require.Equal(t, http.StatusUnprocessableEntity, a.Status, "%q", key)
	}
}

func TestUploadsAreReadToo(t *testing.T) {
	ts, read, _ := formSite(t)
	c := ts.as(account.Desk)
	send := func(extra int) testAnswer {
		var b bytes.Buffer
		form := multipart.NewWriter(&b)
		require.NoError(t, form.WriteField("once", "upload-key"))
		require.NoError(t, form.WriteField("width", "44"))
		file, err := form.CreateFormFile("file", "lots.csv")
		require.NoError(t, err)
		_, err = file.Write(bytes.Repeat([]byte("x"), extra))
		require.NoError(t, err)
		require.NoError(t, form.Close())
		r := httptest.NewRequest(http.MethodPost, "/drives/spring/sample", &b)
		r.Header.Set("Content-Type", form.FormDataContentType())
		return c.do(r)
	}
	require.Equal(t, http.StatusSeeOther, send(1<<20).Status)
	require.Equal(t, "44", read.Width)
	a := send(3 << 20)
	require.Equal(t, http.StatusRequestEntityTooLarge, a.Status)
	a.has("at most 2 MB")

	r := httptest.NewRequest(http.MethodPost, "/drives/spring/sample", strings.NewReader("--cut off"))
	r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	require.Equal(t, http.StatusUnprocessableEntity, c.do(r).Status)
}

func TestAFieldShowsWhatIsWrongBesideIt(t *testing.T) {
	render := func(f *field) string {
		files, err := loadFiles()
		require.NoError(t, err)
		pages, err := templates.Parse(functions(), files.path)
		require.NoError(t, err)
		parsed, err := pages["error.html"]()
		require.NoError(t, err)
		var b strings.Builder
		require.NoError(t, parsed.ExecuteTemplate(&b, "field", f))
		return b.String()
	}
	options := []option{{"c", "Cotton"}, {"l", "Linen"}}
	make := func(value any, change ...func(*field) *field) *field {
		f, err := newField("width", "Usable width", value, map[string]string{"width": "Too <wide>."})
		require.NoError(t, err)
		for _, c := range change {
			f = c(f)
		}
		return f
	}
	functions := fieldFunctions()
	unit := functions["unit"].(func(string, *field) *field)
	for name, test := range map[string]struct {
		f    *field
		want []string
	}{
		"text": {unit("in", make(`4" <b>`)), []string{
			`value="4&#34; &lt;b&gt;"`, `aria-describedby="f-width-unit f-width-said"`, `aria-invalid="true"`,
			`<label for="f-width">Usable width`, `Too &lt;wide&gt;.`, `id="f-width-unit">in<`,
		}},
		"select": {make("l", func(f *field) *field { f.Options = options; return f }), []string{`<option value="l" selected>`, `<option value="c">`}},
		"radio":  {make("c", func(f *field) *field { f.Options, f.PickType = options, "radio"; return f }), []string{`<legend`, `type="radio" id="f-width-0" name="width" value="c" checked`}},
		"ticks": {
			make([]string{"c", "l"}, func(f *field) *field { f.Options, f.PickType = options, "checkbox"; return f }),
			[]string{`value="c" checked`, `value="l" checked`},
		},
		"tick":     {make("yes", func(f *field) *field { f.IsTick, f.TickAs = true, "yes"; return f }), []string{`type="checkbox" id="f-width" name="width" value="yes" checked`}},
		"lines":    {make("a & b", func(f *field) *field { f.Lines = 3; return f }), []string{`rows="3"`, `>a &amp; b</textarea>`}},
		"password": {make("secret", func(f *field) *field { f.Type = "password"; return f }), []string{`type="password"`}},
	} {
		html := render(test.f)
		for _, want := range test.want {
			require.Contains(t, html, want, name)
		}
		require.NotContains(t, html, "secret", name)
	}
	_, err := newField("n", "N", 7, nil)
	require.Error(t, err, "a form is strings")
	_, err = setKind("number", &field{})
	require.Error(t, err)
}

func TestWords(t *testing.T) {
	for n, want := range map[any]string{0: "0", 7: "7", 1204: "1,204", int64(1234567): "1,234,567", -1000: "−1,000", int32(999): "999"} {
		got, err := number(n)
		require.NoError(t, err)
		require.Equal(t, want, got, "number(%v)", n)
	}
	_, err := number("7")
	require.Error(t, err)
	for n, want := range map[int]string{0: "0 kits", 1: "1 kit", 2: "2 kits"} {
		got, err := plural(n, "kit", "kits")
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	due := time.Date(2026, 12, 14, 0, 0, 0, 0, time.UTC)
	require.Equal(t, `<time datetime="2026-12-14">14 Dec 2026</time>`, string(day(due)))
	for _, at := range []any{time.Time{}, (*time.Time)(nil), &time.Time{}} {
		text, err := dayOr(at, "no <date>")
		require.NoError(t, err)
		require.Equal(t, "no &lt;date&gt;", string(text))
	}
	text, err := dayOr(&due, "")
	require.NoError(t, err)
	require.Equal(t, day(due), text)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	require.Contains(t, string(moment(time.Date(2026, 7, 1, 3, 4, 0, 0, time.UTC), zone)), "30 Jun 2026, 22:04")
	require.Equal(t, `<span class="other" title="about 69.9 cm">27 1/2 in</span>`, string(lengthIn(27*length.Inch+length.Inch/2, length.In)))
	for text, ok := range map[string]bool{"7": true, "0": false, "-1": false, "007": false, "+7": false, "7x": false, "": false, "99999999999999999999": false} {
		_, got := wholeNumber(text)
		require.Equal(t, ok, got, "wholeNumber(%q)", text)
	}
}

func TestTape(t *testing.T) {
	p := tape{Of: 80, Parts: []tapePart{{"delivered", 40, "done"}, {"with volunteers", 60, "out"}, {"planned", 0, "planned"}}}
	words, err := p.Words()
	require.NoError(t, err)
	require.Equal(t, "Of 80: 40 delivered, 60 with volunteers, 0 planned", words)
	drawn := p.Segments()
	require.Len(t, drawn, 2, "nothing is drawn for none")
	require.Equal(t, "359", drawn[0].Width)
	require.Equal(t, "359", drawn[1].Width, "more than the whole ends at its end")
	key, err := p.Key()
	require.NoError(t, err)
	require.Len(t, key, 3, "nothing is missing")
	p.Parts[1].Count = 10
	key, err = p.Key()
	require.NoError(t, err)
	require.Equal(t, "30", key[3].Count)
	require.Len(t, p.Parts, 3, "the parts stay as they were")
	require.Empty(t, tape{}.Segments())
}

// A refusal that has no form to stand beside leads back to the page that the wish came from, and
// nowhere else.
func TestRefusalLeadsBack(t *testing.T) {
	for from, want := range map[string]string{
		"http://drive.example.org/drives/spring/kits?where=here": "/drives/spring/kits?where=here",
		"http://drive.example.org/drives/spring/kits/ready":      "",
		"http://elsewhere.example.org/drives/spring/kits":        "",
		"http://drive.example.org/sign-in":                       "",
		"http://drive.example.org//elsewhere.example.org/":       "",
		"": "",
	} {
		r := httptest.NewRequest(http.MethodPost, "http://drive.example.org/drives/spring/kits/ready", nil)
		r.Header.Set("Referer", from)
		require.Equal(t, want, cameFrom(r), from)
	}
}
