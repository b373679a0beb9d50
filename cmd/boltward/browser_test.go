package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// theBrowser gives the one browser of the run, and how it is closed. It is not
// started before the first tab.
var theBrowser = sync.OnceValues(func() (context.Context, func()) {
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", true),
		// Nothing is looked up or fetched beside the program under test.
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"),
	)
	allocator, end := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, _ := chromedp.NewContext(allocator)
	return ctx, func() {
		if chromedp.FromContext(ctx).Browser != nil {
			if err := chromedp.Cancel(ctx); err != nil {
				fmt.Fprintln(os.Stderr, "close the browser:", err)
			}
		}
		end()
	}
})

var startBrowser = sync.OnceValue(func() error {
	ctx, _ := theBrowser()
	return chromedp.Do(ctx)
})

// needsBrowser leaves a test out where there is no browser.
func needsBrowser(t testing.TB) {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if _, err := exec.LookPath(name); err == nil {
			return
		}
	}
	t.Skip("LEFT OUT: there is no chromium on this machine")
}

// tab is a browser window with cookies of its own. Whatever the pages complain of
// (scripts, the content security policy, missing files) fails the test.
type tab struct {
	t       testing.TB
	ctx     context.Context
	address string
	folder  string // where downloads come
	touched bool   // something was typed since the page came
	mu      sync.Mutex
	said    []string
}

// noScripts turns JavaScript off in a tab.
func noScripts(ctx context.Context) error {
	_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	return err
}

// actWithin bounds one act in the browser.
const actWithin = 30 * time.Second

func newTab(t testing.TB, address string, setUp ...func(context.Context) error) *tab {
	t.Helper()
	needsBrowser(t)
	require.NoError(t, startBrowser(), "start the browser")
	parent, _ := theBrowser()
	ctx, _ := chromedp.NewContext(parent, chromedp.WithNewBrowserContext())
	// A tab lives as long as the context that opens it: not one with a limit.
	require.NoError(t, chromedp.Do(ctx), "open a tab")
	b := &tab{t: t, ctx: ctx, address: address, folder: t.TempDir()}
	b.size(wide, 900)
	// Each tab behaves as the one that somebody works in.
	_, err := chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
	require.NoError(t, err)
	for _, set := range setUp {
		require.NoError(t, set(ctx))
	}
	read := make(chan struct{})
	complaints := chromedp.Console(ctx)
	go func() {
		defer close(read)
		for m, err := range complaints {
			if err != nil {
				return
			}
			b.hear(m)
		}
	}()
	t.Cleanup(func() {
		require.NoError(t, chromedp.Cancel(ctx))
		<-read
		require.Empty(t, b.said, "what the browser complained of")
	})
	return b
}

// hear keeps what a page complains of. A form that comes back with 422, and a
// page that is not found, are answers that tests look for.
func (b *tab) hear(m chromedp.ConsoleMessage) {
	if m.Type != chromedp.ConsoleError && m.Type != chromedp.ConsoleWarning && m.Type != chromedp.ConsoleException {
		return
	}
	if m.Source == "network" && strings.Contains(m.Text, "status of 4") && !strings.Contains(m.URL, "/files/") {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.said = append(b.said, fmt.Sprintf("%s %s (%s)", m.Type, m.Text, m.URL))
}

// do runs steps in the tab.
func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	require.NoError(b.t, chromedp.Do(ctx, steps...))
}

// eval gives the value of a JavaScript expression, also where the page's own
// scripts are off.
func eval[T any](b *tab, expression string, args ...any) T {
	b.t.Helper()
	quoted := make([]any, len(args))
	for i, arg := range args {
		text, err := json.Marshal(arg)
		require.NoError(b.t, err)
		quoted[i] = string(text)
	}
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](fmt.Sprintf(expression, quoted...), chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, expression)
	return value
}

func (b *tab) size(width, height int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, height))
}

func (b *tab) open(path string) {
	b.t.Helper()
	to := path
	if !strings.HasPrefix(path, "http") {
		to = b.address + path
	}
	b.do(chromedp.Navigate(to))
}

// finder is what finds things by the names that people read. find gives the
// elements of that name that can be seen.
const finder = `((kind, name) => {
	const read = n => {
		const c = n.cloneNode(true);
		for (const hidden of c.querySelectorAll("[aria-hidden=true]")) hidden.remove();
		return c.textContent.replace(/\s+/g, " ").trim();
	};
	let found = [];
	if (kind === "field") {
		for (const l of document.querySelectorAll("label"))
			if (read(l).replace(/ \(optional\)$/, "") === name && l.control && !found.includes(l.control)) found.push(l.control);
		for (const i of document.querySelectorAll("input[aria-label]")) if (i.getAttribute("aria-label") === name) found.push(i);
	} else {
		for (const n of document.querySelectorAll("button, a, summary"))
			if (read(n) === name && !n.closest(".head, .pages, .foot") && !(n.href && found.some(o => o.href === n.href))) found.push(n);
	}
	return found.filter(n => n.checkVisibility());
})`

// settled waits until what the page fetches by itself after typing has come: it
// may move what lies below it.
func (b *tab) settled() {
	b.t.Helper()
	if !b.touched {
		return
	}
	b.touched = false
	eval[bool](b, `(async () => {
	if (!window.htmx || !document.querySelector("main [hx-trigger]")) return true;
	do await new Promise(done => setTimeout(done, 350)); while (document.querySelector(".htmx-request"));
	return true;
})()`)
}

// only marks the one element found, and gives where to point at it. It fails
// where there is none or more than one, or where something lies over it.
func (b *tab) only(kind, name string) (x, y float64) {
	b.t.Helper()
	at := eval[struct {
		X, Y  float64
		Wrong string
	}](b, `(() => {
	const found = `+finder+`(%s, %s);
	if (found.length !== 1) return {Wrong: found.length + " of that name"};
	const n = window.chosen = found[0];
	n.scrollIntoView({block: "center", behavior: "instant"});
	const box = n.getClientRects()[0], x = box.x + box.width / 2, y = box.y + box.height / 2;
	const top = document.elementFromPoint(x, y);
	if (!top || !(n.contains(top) || top.closest("label")?.control === n)) return {Wrong: "covered by " + top?.outerHTML.slice(0, 200)};
	return {X: x, Y: y};
})()`, kind, name)
	require.Empty(b.t, at.Wrong, "%s %q on the page: %s", kind, name, b.page().says())
	return at.X, at.Y
}

func (b *tab) fill(label, value string) {
	b.t.Helper()
	b.touched = true
	x, y := b.only("field", label)
	switch kind := eval[string](b, `window.chosen.tagName + " " + window.chosen.type`); kind {
	case "SELECT select-one":
		chosen := eval[bool](b, `(() => {
	const option = [...window.chosen.options].find(o => o.textContent.replace(/\s+/g, " ").trim() === %s);
	if (!option) return false;
	window.chosen.value = option.value;
	window.chosen.dispatchEvent(new Event("change", {bubbles: true}));
	return true;
})()`, value)
		require.True(b.t, chosen, "%q offers %q", label, value)
	case "INPUT date":
		// What is typed into it depends on the reader's country.
		require.Equal(b.t, value, eval[string](b, `window.chosen.value = %s`, value))
	default:
		b.do(chromedp.MouseClickXY(x, y), chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			if _, err := chromedp.Call(ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{
				Type: input.DispatchKeyEventTypeRawKeyDown, Commands: []string{"selectAll"},
			}); err != nil {
				return err
			}
			return nil
		}))
		if value == "" {
			b.do(chromedp.KeyEvent(kb.Delete))
		} else {
			_, err := chromedp.Call(b.ctx, input.InsertText, input.InsertTextParams{Text: value})
			require.NoError(b.t, err)
		}
		require.Equal(b.t, value, eval[string](b, `window.chosen.value`), "what stands in %q", label)
	}
}

func (b *tab) tick(label string) {
	b.t.Helper()
	b.touched = true
	x, y := b.only("field", label)
	if !eval[bool](b, `window.chosen.checked`) {
		b.do(chromedp.MouseClickXY(x, y))
	}
	require.True(b.t, eval[bool](b, `window.chosen.checked`), "%q is ticked", label)
}

func (b *tab) attach(label, path string) {
	b.t.Helper()
	b.only("field", label)
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		node, err := chromedp.Run(ctx, chromedp.QueryNodeIDs(chromedp.JSPath("window.chosen")))
		if err != nil {
			return err
		}
		_, err = chromedp.Call(ctx, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: []string{path}, NodeID: node[0]})
		return err
	}))
}

func (b *tab) press(name string) {
	b.t.Helper()
	b.settled()
	x, y := b.only("button or link", name)
	click := chromedp.MouseClickXY(x, y)
	if eval[bool](b, `window.chosen.tagName === "SUMMARY"`) {
		b.do(click)
		return
	}
	if eval[bool](b, `!!window.htmx && window.chosen.closest("form[hx-get]") !== null`) {
		b.touched = true
		b.do(click)
		b.settled()
		return
	}
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.WaitEvent(cdppage.LoadEventFired, nil, click))
	require.NoError(b.t, err, "press %q", name)
}

func (b *tab) download(name string) (string, []byte) {
	b.t.Helper()
	x, y := b.only("button or link", name)
	_, err := chromedp.CallBrowser(b.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllowAndName, DownloadPath: b.folder, EventsEnabled: new(true),
		BrowserContextID: chromedp.FromContext(b.ctx).BrowserContextID,
	})
	require.NoError(b.t, err)
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	begun := chromedp.BrowserEvents(ctx, browser.DownloadWillBegin)
	progress := chromedp.BrowserEvents(ctx, browser.DownloadProgress)
	b.do(chromedp.MouseClickXY(x, y))
	var file, id string
	for e, err := range begun {
		require.NoError(b.t, err, "download %q", name)
		file, id = e.SuggestedFilename, e.GUID
		break
	}
	for e, err := range progress {
		require.NoError(b.t, err, "download %q", name)
		require.NotEqual(b.t, browser.DownloadProgressStateCanceled, e.State)
		if e.GUID == id && e.State == browser.DownloadProgressStateCompleted {
			break
		}
	}
	return file, readFile(b.t, filepath.Join(b.folder, id))
}

func (b *tab) page() page {
	b.t.Helper()
	return readPage(b.t, eval[string](b, `document.documentElement.outerHTML`))
}

func (b *tab) status() int {
	b.t.Helper()
	return eval[int](b, `performance.getEntriesByType("navigation")[0].responseStatus`)
}

// path is where the tab is.
func (b *tab) path() string {
	b.t.Helper()
	at, err := url.Parse(eval[string](b, `location.href`))
	require.NoError(b.t, err)
	return at.RequestURI()
}

func TestTabAndPlainReadAlike(t *testing.T) {
	set, _ := withDatabase(t)
	p := serving(t, set)
	for name, make := range map[string]func(t *testing.T) hands{
		"browser":         func(t *testing.T) hands { return newTab(t, p.address) },
		"without scripts": func(t *testing.T) hands { return newTab(t, p.address, noScripts) },
		"no browser":      func(t *testing.T) hands { return newPlain(t, p.address) },
	} {
		t.Run(name, func(t *testing.T) {
			h := make(t)
			h.open(strings.TrimPrefix(p.link, p.address))
			require.Equal(t, "Be the first organiser", h.page().heading())
			require.Equal(t, http.StatusOK, h.status())
			h.fill("Your name", "Rosa Lind")
			h.fill("E-mail address", "rosa@example.org")
			h.fill("Password", "short")
			h.press("Start as organiser")
			require.Equal(t, http.StatusUnprocessableEntity, h.status())
			require.Contains(t, h.page().says(), "Nothing has been saved")
			require.Equal(t, "rosa@example.org", attr(h.page().field(t, "E-mail address"), "value"), "it stands there still")
			h.open("/nowhere")
			require.Equal(t, http.StatusNotFound, h.status())
		})
	}
}
