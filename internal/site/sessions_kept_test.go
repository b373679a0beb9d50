package site

import (
	"context"
	"encoding/gob"
	"net/http"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/stretchr/testify/require"
)

func TestASessionIsReadAsItWasWritten(t *testing.T) {
	gob.Register(flash{})
	gob.Register(half{})
	at := time.Date(2026, 3, 9, 10, 0, 0, 5000, time.UTC)
	for name, values := range map[string]map[string]any{
		"empty":   {},
		"in":      {sessionSignIn: int64(7)},
		"half in": {sessionHalf: half{Account: 3, Epoch: 2, Until: at, Next: "/drives/spring?a=b&c"}, sessionTries: "abc"},
		"told":    {sessionSignIn: int64(7), sessionFlash: flash{Text: `Undone: "4" <wait>.`, Undo: "/undo", Of: 7}},
		"over":    {sessionOver: overUnused},
	} {
		for as, codec := range map[string]scs.Codec{"as it is": sessionCodec{}, "as it was": scs.GobCodec{}} {
			data, err := codec.Encode(at, values)
			require.NoError(t, err)
			deadline, got, err := sessionCodec{}.Decode(data)
			require.NoError(t, err, "%s, %s", name, as)
			require.True(t, at.Equal(deadline), "%s, %s: %s", name, as, deadline)
			require.Len(t, got, len(values))
			for key, value := range values {
				require.Equal(t, value, got[key], "%s, %s: %s", name, as, key)
			}
		}
	}
	_, err := sessionCodec{}.Encode(at, map[string]any{"basket": 1})
	require.Error(t, err, "what is in no field would be lost")
	_, err = sessionCodec{}.Encode(at, map[string]any{sessionSignIn: "7"})
	require.Error(t, err)
	_, _, err = sessionCodec{}.Decode([]byte(`{"deadline":"soon"}`))
	require.Error(t, err)
}

// Sessions once held the account itself. Nobody is signed in by one of those any more; its browser
// signs in all the same.
func TestASessionOfAnOlderVersionIsNoObstacle(t *testing.T) {
	ts := newTestSite(t)
	p := ts.person("rosa@example.org")
	browser := ts.signedInAs(p)
	old, err := scs.GobCodec{}.Encode(ts.Clock.Now().Add(time.Hour), map[string]any{"account": p.ID, "epoch": p.Epoch})
	require.NoError(t, err)
	_, err = ts.DB.Pool.Exec(context.Background(), `UPDATE sessions SET data = $1`, old)
	require.NoError(t, err)

	a := browser.get("/drives")
	require.Equal(t, http.StatusSeeOther, a.Status, "it lets nobody in")
	browser.follow(a).has("This browser was signed out.")
	a = browser.signIn("192.0.2.1", "rosa@example.org", goodPassword)
	require.Equal(t, http.StatusSeeOther, a.Status, a.Body)
	require.Equal(t, http.StatusOK, browser.get("/drives").Status)
}

func BenchmarkSession(b *testing.B) {
	at := time.Date(2026, 3, 9, 10, 0, 0, 0, time.UTC)
	for name, codec := range map[string]scs.Codec{"json": sessionCodec{}, "gob": scs.GobCodec{}} {
		data, err := codec.Encode(at, map[string]any{sessionSignIn: int64(7)})
		require.NoError(b, err)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, _, err := codec.Decode(data); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
