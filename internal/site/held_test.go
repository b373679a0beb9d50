package site

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// Whatever address is typed, a try comes to the same work: the hash of nobody is
// checked where there is no account, and where one has no password yet. A hasher that
// has no such hash fails aloud, which a way around it would not.
func TestUnknownAccountsComeToTheSameCheck(t *testing.T) {
	ts := newTestSite(t)
	ts.as(account.Desk) // who has chosen no password
	for _, email := range []string{"nobody@example.org", "desk@spring.example", "no address at all"} {
		require.Equal(t, http.StatusUnprocessableEntity, ts.nobody().signIn("192.0.2.1", email, goodPassword).Status, email)
	}
	ts.Site.hasher = &account.Hasher{}
	for _, email := range []string{"nobody@example.org", "desk@spring.example", "no address at all"} {
		require.Equal(t, http.StatusInternalServerError, ts.nobody().signIn("192.0.2.2", email, goodPassword).Status, "%s is checked against a hash", email)
	}
}

// Who says by a header where they come from is believed only where a proxy that is
// set says so: else tries would be counted under any address.
func TestWhereSomebodyComesFrom(t *testing.T) {
	for proxies, limited := range map[string]bool{"": true, "192.0.2.0/24": false} {
		ts := newTestSite(t)
		ts.person("rosa@example.org")
		var list []string
		if proxies != "" {
			list = []string{proxies}
		}
		engine, err := ts.Site.engine(list)
		require.NoError(t, err)
		ts.Site.handler, err = ts.Site.wrap(engine)
		require.NoError(t, err)
		try := func(forwarded, password string) int {
			form := url.Values{"email": {"rosa@example.org"}, "password": {password}}
			r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(form.Encode()))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			for _, name := range []string{"X-Forwarded-For", "X-Real-Ip", "Forwarded", "True-Client-Ip", "Cf-Connecting-Ip"} {
				r.Header.Set(name, forwarded)
			}
			r.RemoteAddr = "192.0.2.1:4000"
			return ts.nobody().do(r).Status
		}
		for range 5 {
			try("198.51.100.7", "not the password")
		}
		got := try("203.0.113.9", goodPassword) != http.StatusSeeOther
		require.Equal(t, limited, got, "proxies %q: bad tries under one made-up address count for the next", proxies)
	}
}

// Over TLS the cookie is for this host and TLS alone, and browsers are told to stay there.
func TestOverTLS(t *testing.T) {
	ts := newTestSite(t)
	ts.person("rosa@example.org")
	safe, err := New(Config{
		Store: ts.Store, Key: ts.Site.key, Hasher: ts.Site.hasher, Now: ts.Clock.Now, Log: ts.Site.log,
		URL: &url.URL{Scheme: "https", Host: "boltward.test"}, Ready: ts.Site.ready,
	})
	require.NoError(t, err)
	require.Empty(t, ts.nobody().get("/sign-in").Header.Get("Strict-Transport-Security"), "without TLS there is nothing to stay at")
	ts.Site = safe
	a := ts.nobody().signIn("192.0.2.1", "rosa@example.org", goodPassword)
	require.Equal(t, http.StatusSeeOther, a.Status)
	cookies := a.Header.Values("Set-Cookie")
	require.Len(t, cookies, 2, "the session, and what the browser is known by")
	for i, name := range []string{"__Host-boltward-device=", "__Host-boltward="} {
		for _, part := range []string{name, "Path=/", "HttpOnly", "Secure", "SameSite=Lax"} {
			require.Contains(t, cookies[i], part)
		}
		require.NotContains(t, cookies[i], "Domain")
	}
	require.Equal(t, "max-age=31536000", a.Header.Get("Strict-Transport-Security"))
}
