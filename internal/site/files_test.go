package site

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/web"
)

func TestFilesAreKeptByTheirHash(t *testing.T) {
	ts := newTestSite(t)
	c := ts.nobody()
	path, err := ts.Site.files.path("style.css")
	require.NoError(t, err)
	a := c.get(path)
	require.Equal(t, http.StatusOK, a.Status)
	require.Contains(t, a.Header.Get("Cache-Control"), "immutable")
	require.Equal(t, "text/css; charset=utf-8", a.Header.Get("Content-Type"))
	require.Empty(t, a.Header.Get("Set-Cookie"))
	require.NotContains(t, c.get("/files/older/style.css").Header.Get("Cache-Control"), "immutable")
	require.Equal(t, http.StatusNotFound, c.get("/files/older/../web.go").Status)
	require.Equal(t, http.StatusNotFound, c.get("/files/older/web.go").Status)

	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.Header.Set("Accept-Encoding", "gzip, br")
	zipped := c.do(r)
	require.Equal(t, "gzip", zipped.Header.Get("Content-Encoding"))
	reader, err := gzip.NewReader(strings.NewReader(zipped.Body))
	require.NoError(t, err)
	plain, err := io.ReadAll(reader)
	require.NoError(t, err)
	require.Equal(t, a.Body, string(plain))
	_, err = ts.Site.files.path("stile.css")
	require.Error(t, err, "a misspelt file fails the page")
}

// What the style sheet points to is there.
func TestTheStyleSheetFindsItsFiles(t *testing.T) {
	css, err := web.Files.ReadFile("style.css")
	require.NoError(t, err)
	found := 0
	for _, m := range regexp.MustCompile(`url\("([^"#]+)"\)`).FindAllSubmatch(css, -1) {
		_, err := web.Files.ReadFile(string(m[1]))
		require.NoError(t, err, "style.css points to %s", m[1])
		found++
	}
	require.Greater(t, found, 5)
	for _, licence := range []string{"vendor/htmx/LICENSE", "vendor/atkinson/OFL.txt"} {
		text, err := web.Files.ReadFile(licence)
		require.NoError(t, err)
		require.Greater(t, len(text), 400)
	}
	font, err := web.Files.ReadFile("vendor/atkinson/Regular.ttf")
	require.NoError(t, err)
	require.True(t, bytes.HasPrefix(font, []byte{0, 1, 0, 0}), "a TrueType face")
}

// Text keeps 4.5:1 on what it stands on, lines and borders 3:1 (WCAG 2.2, 1.4.3 and 1.4.11).
func TestContrastOfThePalette(t *testing.T) {
	css, err := web.Files.ReadFile("style.css")
	require.NoError(t, err)
	root, _, found := strings.Cut(string(css[bytes.Index(css, []byte(":root {")):]), "}")
	require.True(t, found)
	colours := map[string]string{"white": "#FFFFFF"}
	for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9A-F]{6});`).FindAllStringSubmatch(root, -1) {
		colours[m[1]] = m[2]
	}
	for _, pair := range []struct {
		text, ground string
		least        float64
	}{
		{"ink", "paper", 4.5},
		{"quiet", "paper", 4.5},
		{"thread", "paper", 4.5},
		{"madder", "paper", 4.5},
		{"moss", "paper", 4.5},
		{"ink", "page", 4.5},
		{"thread", "page", 4.5},
		{"ink", "linen", 4.5},
		{"thread", "linen", 4.5},
		{"madder", "linen", 4.5},
		{"moss", "linen", 4.5},
		{"quiet", "linen", 4.5},
		{"ink", "straw", 4.5},
		{"ink", "moss-wash", 4.5},
		{"thread", "moss-wash", 4.5},
		{"madder", "madder-wash", 4.5},
		{"ink", "madder-wash", 4.5},
		{"thread-deep", "thread-wash", 4.5},
		{"paper", "thread", 4.5},
		{"white", "thread-deep", 4.5},
		{"paper", "madder", 4.5},
		{"selvedge", "paper", 3},
		{"selvedge", "page", 3},
		{"thread", "paper", 3},
	} {
		got := contrast(t, colours[pair.text], colours[pair.ground])
		require.GreaterOrEqual(t, got, pair.least, "%s on %s is %.2f:1", pair.text, pair.ground, got)
	}
	require.InDelta(t, 21, contrast(t, "#000000", "#FFFFFF"), 0.001, "WCAG 2.2: black on white is 21:1")
}

// contrast is (L1 + 0.05) / (L2 + 0.05) of the relative luminances (WCAG 2.2).
func contrast(t *testing.T, a, b string) float64 {
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func luminance(t *testing.T, colour string) float64 {
	var r, g, b int
	_, err := fmt.Sscanf(colour, "#%02X%02X%02X", &r, &g, &b)
	require.NoError(t, err, "colour %q", colour)
	linear := func(v int) float64 {
		c := float64(v) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}
