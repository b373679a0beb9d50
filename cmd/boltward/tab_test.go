package main

import (
	"context"
	"iter"
	"path/filepath"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/input"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

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
		// What comes in meanwhile, such as a name that was found, moves what is below it.
		for tries := 0; ; tries++ {
			b.do(chromedp.MouseClickXY(x, y))
			if tries == 5 || eval[bool](b, `document.activeElement === window.chosen`) {
				break
			}
			x, y = b.only("field", label)
		}
		b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
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
	b.only("button or link", name)
	click := b.click("button or link", name)
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
	if err != nil {
		require.NoError(b.t, err, "press %q on the page: %s", name, b.page().says())
	}
}

// click presses what has a name, and again where it lies by then if the press
// met something else: what a page fetches by itself may move it meanwhile.
func (b *tab) click(kind, name string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		for tries := 0; ; tries++ {
			x, y := b.only(kind, name)
			eval[bool](b, `(() => {
	const once = {capture: true, once: true};
	addEventListener("mousedown", () => window.missed = true, once);
	addEventListener("click", (e) => window.missed = !window.chosen.contains(e.target), once);
	return true;
})()`)
			if err := chromedp.Do(ctx, chromedp.MouseClickXY(x, y)); err != nil {
				return err
			}
			// Where the press opens another page there is none left to ask.
			missed, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`window.missed === true`))
			if tries == 5 || err != nil || !missed {
				return nil
			}
		}
	})
}

// download presses what has this name, and gives the file that it brings: the name
// that it comes under, and what is in it. The browser tells of the downloads of all
// its tabs, so the frame says which is this one's.
func (b *tab) download(name string) (string, []byte) {
	b.t.Helper()
	x, y := b.only("button or link", name)
	at := chromedp.FromContext(b.ctx)
	_, err := chromedp.CallBrowser(b.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllowAndName, DownloadPath: b.folder, EventsEnabled: new(true),
		BrowserContextID: at.BrowserContextID,
	})
	require.NoError(b.t, err)
	ctx, cancel := context.WithTimeout(b.ctx, actWithin)
	defer cancel()
	begun := chromedp.BrowserEvents(ctx, browser.DownloadWillBegin)
	progress := chromedp.BrowserEvents(ctx, browser.DownloadProgress)
	b.do(chromedp.MouseClickXY(x, y))
	begins := first(b, begun, name, func(e browser.EventDownloadWillBegin) bool { return string(e.FrameID) == string(at.Target.TargetID) })
	ends := first(b, progress, name, func(e browser.EventDownloadProgress) bool {
		return e.GUID == begins.GUID && e.State != browser.DownloadProgressStateInProgress
	})
	require.Equal(b.t, browser.DownloadProgressStateCompleted, ends.State, "download %q", name)
	return begins.SuggestedFilename, readFile(b.t, filepath.Join(b.folder, begins.GUID))
}

// first waits for the event of a download that is meant.
func first[E any](b *tab, events iter.Seq2[E, error], name string, meant func(E) bool) (none E) {
	b.t.Helper()
	for e, err := range events {
		require.NoError(b.t, err, "download %q", name)
		if meant(e) {
			return e
		}
	}
	require.FailNow(b.t, "the browser has gone", "download %q", name)
	return none
}

func (b *tab) page() page {
	b.t.Helper()
	return readPage(b.t, eval[string](b, `document.documentElement.outerHTML`))
}

func (b *tab) status() int {
	b.t.Helper()
	return eval[int](b, `performance.getEntriesByType("navigation")[0].responseStatus`)
}
