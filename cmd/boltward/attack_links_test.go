package main

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A personal link opens what is of whose it is, and nothing else: not under the other kind
// of link, not the kit or the delivery of anybody else, not with a sign changed or cut off,
// not once it is ended, and no page of the drive.
func personalLinks(t *testing.T, b *besieged) {
	before := b.kept()
	one := func(q string) string {
		var text string
		require.NoError(t, b.db.Owner().QueryRow(t.Context(), q).Scan(&text), q)
		return text
	}
	theirs := map[string]string{
		"kit":      one(`SELECT number::text FROM kits WHERE state = 'out' AND holder <> ` + b.params["person"] + ` ORDER BY number LIMIT 1`),
		"delivery": one(`SELECT d.number::text FROM deliveries d WHERE d.recipient <> (SELECT recipient FROM links WHERE purpose = 'recipient' AND revoked_at IS NULL ORDER BY recipient LIMIT 1) ORDER BY d.number LIMIT 1`),
	}
	own := map[string]string{
		"delivery": one(`SELECT d.number::text FROM deliveries d WHERE d.sent_on IS NOT NULL AND d.recipient = (SELECT recipient FROM links WHERE purpose = 'recipient' AND revoked_at IS NULL ORDER BY recipient LIMIT 1) ORDER BY d.number LIMIT 1`),
	}
	ask := func(r listedRoute, path string) reply {
		if r.method == http.MethodPost {
			return b.nobody().post(path, url.Values{"once": {"a-key-of-a-link"}, "finished": {"1"}, "all": {"yes"}, "until": {"2026-12-24"}})
		}
		return b.nobody().get(path)
	}
	tried := 0
	for _, r := range b.routes {
		under := strings.SplitN(r.path, "/", 3)[1]
		if under != "v" && under != "r" {
			continue
		}
		if r.method == http.MethodGet {
			require.Equal(t, http.StatusOK, ask(r, b.address(r.path, own)).Code, "%s with its own link", r.path)
		}
		other := map[string]string{"v": "r", "r": "v"}[under]
		good := b.tokens[under]
		for what, token := range map[string]string{
			"a link of the other kind": b.tokens[other],
			"a link of an account":     b.tokens["sign-in"],
			"its last sign changed":    good[:len(good)-1] + string(good[len(good)-1]^1),
			"its last sign cut off":    good[:len(good)-1],
			"its id alone":             strings.SplitN(good, ".", 2)[0],
			"nothing behind the point": strings.SplitN(good, ".", 2)[0] + ".",
		} {
			instead := map[string]string{"token": token, "delivery": own["delivery"]}
			a := ask(r, b.address(r.path, instead))
			require.Equal(t, http.StatusNotFound, a.Code, "%s %s with %s", r.method, r.path, what)
			for _, theirs := range []string{"Lantern Row", plantedName} {
				require.NotContains(t, a.Body, theirs, "%s tells nothing to %s", r.path, what)
			}
			tried++
		}
		for part, number := range theirs {
			if strings.Contains(r.path, ":"+part) {
				a := ask(r, b.address(r.path, map[string]string{part: number}))
				if to := a.Header.Get("Location"); to != "" { // taking back what was never said is done already, for anybody
					a = b.nobody().get(to)
				}
				require.Equal(t, http.StatusNotFound, a.Code, "%s %s with a %s of somebody else", r.method, r.path, part)
				tried++
			}
		}
	}
	require.Greater(t, tried, 60)
	for _, token := range []string{b.tokens["v"], b.tokens["r"]} {
		c := b.nobody()
		require.Equal(t, http.StatusOK, c.get("/"+map[bool]string{true: "v", false: "r"}[token == b.tokens["v"]]+"/"+token).Code)
		for _, r := range b.routes {
			if r.method != http.MethodGet || !strings.HasPrefix(r.path, "/drives") {
				continue
			}
			a := c.get(b.address(r.path, nil))
			require.Contains(t, []int{http.StatusSeeOther, http.StatusUnauthorized}, a.Code, "%s for whoever opened a personal link", r.path)
		}
	}
	b.unchanged(before)

	// Ended, it opens nothing: not even what its owner could see before.
	owner := b.db.Owner()
	_, err := owner.Exec(t.Context(), `UPDATE links SET revoked_at = now() WHERE purpose IN ('person', 'recipient')`)
	require.NoError(t, err)
	for _, r := range b.routes {
		if strings.HasPrefix(r.path, "/v/") || strings.HasPrefix(r.path, "/r/") {
			require.Equal(t, http.StatusNotFound, ask(r, b.address(r.path, own)).Code, "%s %s once the link is ended", r.method, r.path)
		}
	}
	_, err = owner.Exec(t.Context(), `UPDATE links SET revoked_at = NULL WHERE purpose IN ('person', 'recipient')`)
	require.NoError(t, err)
	b.unchanged(before)
}
