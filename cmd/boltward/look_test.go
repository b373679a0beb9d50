package main

import (
	"context"
	"fmt"
	"net/http"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// The widths at which every page is looked at, and those at which nothing may
// stick out to the side.
const (
	wide      = 1280
	phone     = 390
	narrowest = 320
)

// axe is axe-core, which holds pages against WCAG, as a script that makes it of its
// source only once a page is held against it.
func axe(t testing.TB) string {
	t.Helper()
	source := readFile(t, filepath.Join("..", "..", "internal", "site", "testdata", "axe", "axe.min.js"))
	return `Object.defineProperty(window, "axe", {configurable: true, get() {
	delete window.axe;
	(() => {` + string(source) + `
	})();
	return window.axe;
}})`
}

// accessible requires that axe-core finds no violation on the page as it stands,
// of WCAG 2.2 A and AA or of its own best practices. A tab is given axe-core once, for all its pages to come.
func (b *tab) accessible(axe string) []string {
	b.t.Helper()
	if !eval[bool](b, `"axe" in window`) {
		ctx, cancel := context.WithTimeout(b.ctx, actWithin)
		defer cancel()
		now := true
		_, err := chromedp.Call(ctx, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: axe, RunImmediately: &now})
		require.NoError(b.t, err)
	}
	return eval[[]string](b, `axe.run(document, {rules: {"target-size": {enabled: true}}, resultTypes: ["violations"], elementRef: false}).then(found => found.violations.map(v =>
	v.id + ": " + v.help + " at " + v.nodes.slice(0, 3).map(n => n.target.join(" ") + " " + n.html.slice(0, 160)).join(" and ")))`)
}

// sticksOut names what is wider than the window at this width.
func (b *tab) sticksOut(width int64) []string {
	b.t.Helper()
	b.size(width, 900)
	return eval[[]string](b, `(() => {
	const room = document.documentElement.clientWidth;
	if (document.documentElement.scrollWidth <= room) return [];
	const scrolls = n => { for (; n; n = n.parentElement) if (["auto", "scroll", "hidden", "clip"].includes(getComputedStyle(n).overflowX)) return true; };
	return [...document.querySelectorAll("body *")].filter(n => n.getBoundingClientRect().right > room + 1 && !scrolls(n.parentElement))
		.slice(0, 4).map(n => n.outerHTML.slice(0, 160)).concat("scrolls to " + document.documentElement.scrollWidth + " px");
})()`)
}

// mainAct is the one act a page is for: what looks like the main button.
const mainAct = `document.querySelector("main button:not(.second, .quiet, .grave, .search *), main a.button:not(.second, .quiet, .grave)")`

// keyboardReaches follows the skip link and tabs on to the page's main act; each
// stop on the way must be visible. It gives what went wrong.
func (b *tab) keyboardReaches() string {
	b.t.Helper()
	if !eval[bool](b, mainAct+" !== null") {
		return ""
	}
	// A tab goes on from where somebody pressed last, also once the focus has left it.
	eval[bool](b, `(() => {
	document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute("tabindex");
	window.scrollTo(0, 0); getSelection().removeAllRanges();
	return true;
})()`)
	const most = 700 // a tally of thirty lots has more than four hundred cells before it ends
	for n := range most {
		b.do(chromedp.KeyEvent(kb.Tab))
		at := eval[struct {
			Skip, There bool
			Wrong       string
		}](b, `(() => {
	const n = document.activeElement;
	if (n === document.body) return {Wrong: "the focus fell off the page"};
	const box = n.getBoundingClientRect();
	const seen = box.width > 0 && box.height > 0 && box.bottom > 0 && box.top < innerHeight && n.checkVisibility();
	// Where the whole label is the button, the ring is drawn around that.
	const ring = [n, n.closest(".pick")].some(of => of && getComputedStyle(of).outlineStyle !== "none");
	return {
		Skip: n.matches(".skip"), There: n === `+mainAct+`,
		Wrong: !seen ? "the focus is where nobody sees it: " + n.outerHTML.slice(0, 160) : !ring ? "the focus does not show on " + n.outerHTML.slice(0, 160) : "",
	};
})()`)
		switch {
		case at.Wrong != "":
			return at.Wrong
		case at.There:
			return ""
		case n == 0 && !at.Skip && !eval[bool](b, `document.activeElement.closest("main") !== null`):
			return "the first stop is not the link to the page itself"
		case at.Skip:
			b.do(chromedp.KeyEvent(kb.Enter))
		}
	}
	return fmt.Sprintf("the main act is not among the first %d stops", most)
}

// look holds one page against all of this and gives its faults.
func (b *tab) look(axe string) []string {
	b.t.Helper()
	var faults []string
	for _, width := range []int64{wide, phone} {
		b.size(width, 900)
		for _, v := range b.accessible(axe) {
			faults = append(faults, fmt.Sprintf("at %d px: %s", width, v))
		}
	}
	for _, width := range []int64{phone, narrowest} {
		for _, v := range b.sticksOut(width) {
			faults = append(faults, fmt.Sprintf("at %d px too wide: %s", width, v))
		}
	}
	b.size(wide, 900)
	if wrong := b.keyboardReaches(); wrong != "" {
		faults = append(faults, "by keyboard: "+wrong)
	}
	return faults
}

var (
	aNumber = regexp.MustCompile(`/\d+(-\d+)?(/|$)`)
	aLink   = regexp.MustCompile(`^/([vr])/[^/]+`)
)

// shapeOf tells pages of one kind from those of another: numbers and what is
// searched for do not count.
func shapeOf(path string) string {
	path, _, _ = strings.Cut(path, "?")
	path = aLink.ReplaceAllString(path, "/$1/LINK")
	for aNumber.MatchString(path) {
		path = aNumber.ReplaceAllString(path, "/N$2")
	}
	return path
}

// kindsOfPages follows links from the first page of a drive and gives one address
// of each kind of page, beginning with those that are given. What is a download is
// left out.
func kindsOfPages(t testing.TB, h *plain, drive string, first ...string) []string {
	t.Helper()
	return upToOfEachKind(t, h, drive, 1, first...)
}

// upToOfEachKind gives up to so many addresses of each kind of page.
func upToOfEachKind(t testing.TB, h *plain, drive string, most int, first ...string) []string {
	t.Helper()
	seen, of := map[string]bool{}, map[string]int{}
	var pages []string
	for queue := append(slices.Clone(first), drive+"/needs"); len(queue) > 0; queue = queue[1:] {
		path := queue[0]
		if !strings.HasPrefix(path, drive+"/") && !aLink.MatchString(path) || seen[path] || of[shapeOf(path)] >= most {
			continue
		}
		seen[path] = true
		of[shapeOf(path)]++
		h.open(path)
		require.Less(t, h.code, http.StatusBadRequest, "the link %s leads nowhere", path)
		if h.shown.root == nil {
			continue
		}
		pages = append(pages, h.at.RequestURI())
		if to := h.at.RequestURI(); !seen[to] {
			seen[to] = true
			of[shapeOf(h.at.Path)]++
		}
		queue = append(queue, h.shown.links()...)
	}
	slices.Sort(pages)
	return slices.Compact(pages)
}

// hiddenPages gives pages of the demo drive that the first link of their kind does not
// lead to: a lot that waits for its wash, and one that is counted in a stocktake.
func hiddenPages(t testing.TB, h *plain) []string {
	t.Helper()
	const fabric = "/drives/lantern-row/fabric"
	h.open(fabric + "/stocktakes")
	h.press("Begin a stocktake")
	require.Contains(t, h.at.Path, fabric+"/stocktakes/")
	pages := []string{h.at.Path + "/46", fabric + "/46"}
	h.open(fabric + "/46")
	require.Contains(t, h.shown.says(), "not washed")
	return pages
}

// organiser signs the first organiser in and gives the way to work.
func organiser(t testing.TB, h hands, p *program) {
	t.Helper()
	h.open(strings.TrimPrefix(p.link, p.address))
	h.fill("Your name", "Rosa Lind")
	h.fill("E-mail address", "rosa@example.org")
	h.fill("Password", "heron lamp seventeen")
	h.press("Start as organiser")
	require.Equal(t, http.StatusOK, h.status())
}

// again signs the same organiser in elsewhere.
func again(t testing.TB, h hands) {
	t.Helper()
	h.open("/sign-in")
	h.fill("E-mail address", "rosa@example.org")
	h.fill("Password", "heron lamp seventeen")
	h.press("Sign in")
	require.Equal(t, http.StatusOK, h.status())
}

// Every kind of page of the demo drive: by axe-core, for width, by keyboard.
func TestEveryPage(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, h := withDemo(t)
	pages := kindsOfPages(t, h, "/drives/lantern-row", hiddenPages(t, h)...)
	t.Logf("%d kinds of pages: %s", len(pages), strings.Join(pages, " "))
	require.Greater(t, len(pages), 25)
	b := newTab(t, p.address)
	again(t, b)
	source := axe(t)
	for _, path := range append([]string{"/drives", "/drives/new", "/drives/lantern-row/nowhere"}, pages...) {
		b.open(path)
		if faults := b.look(source); len(faults) > 0 {
			t.Errorf("%s\n\t%s", path, strings.Join(faults, "\n\t"))
		}
	}
	refuse(b)
	require.Empty(t, b.look(source), "a form that came back")
	stranger := newTab(t, p.address)
	stranger.open("/sign-in")
	require.Empty(t, stranger.look(source), "/sign-in")
}

// refuse sends a form with nothing in it.
func refuse(b *tab) {
	b.t.Helper()
	b.open("/drives/lantern-row/asked/new")
	b.press("Save")
	require.Equal(b.t, http.StatusUnprocessableEntity, b.status())
}

// A drive that has just been started: every page says what to do first.
func TestEveryPageOfANewDrive(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	set, _ := withDatabase(t)
	p := serving(t, set)
	b := newTab(t, p.address)
	source := axe(t)
	b.open("/")
	require.Empty(t, b.look(source), "nobody can sign in yet")
	b.open(strings.TrimPrefix(p.link, p.address))
	require.Empty(t, b.look(source), "the first link")
	organiser(t, b, p)
	require.Empty(t, b.look(source), "the first drive")
	startDrive(t, b, "Harbour pillowcases")
	b.size(phone, 900)
	require.True(t, eval[bool](b, `(() => {
	document.querySelector(".menu").open = true;
	const name = document.querySelector(".menu a[href='/account']"), role = document.createRange();
	role.selectNode(name.nextSibling);
	return role.toString().includes("organiser") && role.getBoundingClientRect().top < name.getBoundingClientRect().bottom;
})()`), "the role stands beside the name in the menu of a phone")
	h := newPlain(t, p.address)
	again(t, h)
	empty := slices.DeleteFunc(kindsOfPages(t, h, home), func(path string) bool {
		return strings.Contains(strings.TrimPrefix(path, home+"/"), "/") // a form: as in a drive that runs
	})
	require.Greater(t, len(empty), 10)
	for _, path := range empty {
		b.open(path)
		if faults := b.look(source); len(faults) > 0 {
			t.Errorf("%s\n\t%s", path, strings.Join(faults, "\n\t"))
		}
	}
}

func startDrive(t testing.TB, h hands, name string) {
	t.Helper()
	h.fill("Name", name)
	h.tick("inches and yards")
	h.fill("Time zone", "Europe/Dublin")
	h.press("Start the drive")
	require.Equal(t, http.StatusOK, h.status(), h.page().says())
}
