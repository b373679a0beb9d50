package main

import (
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// twice are hands whose every form goes off twice, as a finger that trembles or a
// browser that lost the answer sends it: the second gets the answer of the first.
type twice struct {
	*plain
	sent   map[string]int // how often, by the kind of page
	differ []string       // what was answered otherwise
}

func (h *twice) press(name string) {
	h.t.Helper()
	n := h.shown.pressable(h.t, name)
	form := formOf(h.shown.root, n)
	if n.Data != "button" || form == nil {
		h.plain.press(name)
		return
	}
	first := h.submission(form, n)
	if first.Method != http.MethodPost || !strings.HasPrefix(first.URL.Path, "/drives/") {
		h.send(first)
		return
	}
	body, err := io.ReadAll(first.Body)
	require.NoError(h.t, err)
	client := *h.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	var codes []int
	var led []string
	for range 2 {
		request := first.Clone(h.t.Context())
		request.Body = io.NopCloser(strings.NewReader(string(body)))
		answer, err := client.Do(request)
		require.NoError(h.t, err)
		text, err := io.ReadAll(answer.Body)
		require.NoError(h.t, err)
		require.NoError(h.t, answer.Body.Close())
		codes, led = append(codes, answer.StatusCode), append(led, answer.Header.Get("Location"))
		if answer.StatusCode != http.StatusSeeOther {
			// Refused, it is refused again; and the form as it came back is on the page.
			h.at, h.code, h.header, h.body, h.shown = request.URL, answer.StatusCode, answer.Header, text, readPage(h.t, string(text))
		}
	}
	kind := shapeOf(first.URL.Path)
	h.sent[kind]++
	if codes[0] != codes[1] || led[0] != led[1] {
		h.differ = append(h.differ, name+" at "+kind+": "+led[0]+" first, then "+led[1]+" "+h.shown.says())
	}
	if codes[0] == http.StatusSeeOther {
		h.open(led[0])
	}
}

// The whole job once through with every form sent twice.
func TestWalkWithEveryFormTwice(t *testing.T) {
	t.Parallel()
	set, db := withDatabase(t)
	p := serving(t, set)
	h := &twice{plain: newPlain(t, p.address), sent: map[string]int{}}
	walk(t, h, p)
	require.Empty(t, h.differ, "the second is answered as the first")
	require.Greater(t, len(h.sent), 15, "forms of many kinds: %v", h.sent)
	balanced(t, t.Context(), db.Pool)
}
