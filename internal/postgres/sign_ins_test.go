package postgres

import (
	"context"
	"testing"
	"time"

	"boltward/internal/apperr"

	"github.com/stretchr/testify/require"
)

// A session that lies unused for as long as it may is over; a use begins that time anew, and is
// noted once a minute.
func TestASessionLiesUnused(t *testing.T) {
	const idle = 2 * time.Hour
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	id := signIn(t, s, rosa, browser("Firefox on Linux", 1), false)
	unused := func() (d time.Duration) {
		require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT now() - seen_at FROM sign_ins WHERE id = $1`, id).Scan(&d))
		return d
	}
	require.Less(t, unused(), time.Minute, "signing in is a use, by the database's clock, whatever the program's says")
	for _, c := range []struct {
		since       time.Duration
		how         Looking
		over, noted bool
	}{
		{idle + 10*time.Second, Looking{idle, true}, true, false},
		{idle + 10*time.Second, Looking{idle, false}, true, false},
		{idle, Looking{idle, true}, true, false},
		{idle - 10*time.Second, Looking{idle, true}, false, true},
		{idle - 10*time.Second, Looking{idle, false}, false, false},
		{65 * time.Second, Looking{idle, true}, false, true},
		{50 * time.Second, Looking{idle, true}, false, false},
		{100 * 24 * time.Hour, Looking{0, true}, false, true},
		{100 * 24 * time.Hour, Looking{}, false, false},
		// The clock was set back: used in the time to come, which is anew now.
		{-30 * time.Second, Looking{idle, true}, false, false},
		{-49 * time.Hour, Looking{idle, true}, false, true},
		{-49 * time.Hour, Looking{idle, false}, false, false},
	} {
		_, err := s.db.Owner().Exec(t.Context(), `UPDATE sign_ins SET seen_at = now() - $1::interval`, c.since)
		require.NoError(t, err)
		v, err := s.Visit(t.Context(), id, "spring", c.how)
		require.Equal(t, c.over, apperr.Is(err, apperr.KindNotFound), "%+v: %v", c, err)
		require.Equal(t, c.over, v.Unused, "%+v", c)
		if c.over {
			require.Equal(t, Visit{SignIn: id, Unused: true}, v, "it tells nothing else")
		} else {
			require.Equal(t, rosa, v.Person)
		}
		if now := unused(); c.noted {
			require.Less(t, now.Abs(), 10*time.Second, "%+v", c)
		} else {
			require.InDelta(t, c.since, now, float64(8*time.Second), "%+v", c)
		}
		places, err := s.SignIns(t.Context(), rosa.ID, s.now().Add(-time.Hour), c.how.Idle)
		require.NoError(t, err)
		require.Equal(t, c.over, len(places) == 0, "%+v: where somebody is signed in", c)
	}

	// What came from another page at the same time has ended it: it is told the same, and nobody else.
	require.NoError(t, s.LeaveSignIn(t.Context(), id))
	for since, unused := range map[time.Duration]bool{idle + 10*time.Second: true, time.Minute: false} {
		_, err := s.db.Owner().Exec(t.Context(), `UPDATE sign_ins SET seen_at = now() - $1::interval`, since)
		require.NoError(t, err)
		for _, how := range []Looking{{idle, true}, {}} {
			v, err := s.Visit(t.Context(), id, "spring", how)
			require.True(t, apperr.Is(err, apperr.KindNotFound))
			require.Equal(t, unused && how.Idle != 0, v.Unused)
			require.Zero(t, v.Person)
		}
	}
}

// Who looks at a session that somebody else holds waits for nobody, and notes nothing.
func TestNotingAUseWaitsForNobody(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	id := signIn(t, s, rosa, browser("Firefox on Linux", 1), false)
	_, err = s.db.Owner().Exec(t.Context(), `UPDATE sign_ins SET seen_at = now() - interval '1 hour'`)
	require.NoError(t, err)
	version := func() (xmin string) {
		require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT xmin::text FROM sign_ins`).Scan(&xmin))
		return xmin
	}
	before := version()
	tx, err := s.db.Owner().Begin(t.Context())
	require.NoError(t, err)
	_, err = tx.Exec(t.Context(), `SELECT FROM sign_ins FOR UPDATE`)
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	_, err = s.Visit(ctx, id, "", Looking{2 * time.Hour, true})
	require.NoError(t, err)
	require.NoError(t, tx.Rollback(t.Context()))
	require.Equal(t, before, version())
	for range 3 {
		_, err = s.Visit(t.Context(), id, "", Looking{2 * time.Hour, true})
		require.NoError(t, err)
	}
	noted := version()
	require.NotEqual(t, before, noted)
	_, err = s.Visit(t.Context(), id, "", Looking{2 * time.Hour, true})
	require.NoError(t, err)
	require.Equal(t, noted, version(), "the next use is noted a minute later")
}

// BenchmarkVisit is what each request of whoever is signed in asks first.
func BenchmarkVisit(b *testing.B) {
	s := newStore(b)
	rosa, err := s.AddAccount(b.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(b, err)
	id, err := s.BeginSignIn(b.Context(), rosa, browser("Firefox on Linux", 1), false, false)
	require.NoError(b, err)
	for b.Loop() {
		if _, err := s.Visit(b.Context(), id, "spring", Looking{2 * time.Hour, true}); err != nil {
			b.Fatal(err)
		}
	}
}
