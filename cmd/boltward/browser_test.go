package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// theBrowser gives the one browser of the run, and how it is closed. It is not
// started before the first tab.
var theBrowser = sync.OnceValues(func() (context.Context, func()) {
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(browserPath()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", true),
		// A page is looked at for a second: what V8 would make faster for longer costs more than it gives.
		chromedp.Flag("js-flags", "--no-opt --no-maglev"),
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
	if browserPath() == "" {
		t.Skip("LEFT OUT: there is no chromium on this machine")
	}
}

// browserPath is the Chromium that the tests look with: its build without windows
// where that is installed, for it starts and opens tabs in a third of the work.
func browserPath() string {
	for _, name := range []string{"chromium-headless-shell", "chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
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

func TestTabAndPlainReadAlike(t *testing.T) {
	set, _ := withDatabase(t)
	p := serving(t, set)
	for name, hand := range everyHand() {
		t.Run(name, func(t *testing.T) {
			h := hand(t, p)
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
