package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"boltward/internal/papertest"
)

// TestPictures takes every page at two widths, and everything printed, into the
// folder that BOLTWARD_PICTURES names: to be looked at by a person.
func TestPictures(t *testing.T) {
	folder := os.Getenv("BOLTWARD_PICTURES")
	if folder == "" {
		t.Skip("BOLTWARD_PICTURES names no folder: make pictures")
	}
	needsBrowser(t)
	require.NoError(t, os.MkdirAll(folder, 0o755))
	p, h := withDemo(t)
	pages := kindsOfPages(t, h, "/drives/lantern-row", hiddenPages(t, h)...)
	b := newTab(t, p.address)
	b.open("/sign-in")
	b.picture(folder, "sign-in")
	again(t, b)
	refuse(b)
	b.picture(folder, "asked-new-refused")
	b.open("/drives/lantern-row/nowhere")
	b.picture(folder, "not-found")
	for _, path := range append([]string{"/drives", "/drives/new"}, pages...) {
		b.open(path)
		name := strings.Trim(strings.ReplaceAll(strings.TrimPrefix(shapeOf(path), "/drives/lantern-row"), "/", "-"), "-")
		b.picture(folder, name)
		if b.isPrinted() {
			papertest.Drawn(t, b.pdf(), folder, name+"-printed", 80)
		}
	}
}

// isPrinted says whether the page is made for paper too.
func (b *tab) isPrinted() bool {
	b.t.Helper()
	return eval[bool](b, `document.querySelector("main [data-print], main .print-only, main .new-page") !== null`)
}

// picture takes the whole page at both widths.
func (b *tab) picture(folder, name string) {
	b.t.Helper()
	for _, width := range []int64{wide, phone} {
		b.size(width, 900)
		png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
		require.NoError(b.t, err)
		require.NoError(b.t, os.WriteFile(filepath.Join(folder, fmt.Sprintf("%s-%d.png", name, width)), png, 0o644))
	}
}
