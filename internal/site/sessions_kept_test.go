package site

import (
	"encoding/gob"
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
