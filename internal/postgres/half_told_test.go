package postgres

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Whoever knows the password and comes without a code, by whatever browsers and however often, is told
// of by one mail a day; what is kept of it stays small, and a new password that is known too is news.
func TestAFloodOfPasswordsWithoutACode(t *testing.T) {
	s := newStore(t)
	rosa := rosaLind(t, s)
	mails := func() (n int) {
		require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'tell_half_sign_in'`).Scan(&n))
		return n
	}
	mark := byte(0)
	flood := func(n int) {
		for range n {
			mark++
			id := halfIn(t, s, rosa, browser(fmt.Sprintf("Browser %d", mark), mark))
			wrongCodes(t, s, id, 1)
		}
		s.clock.forward(HalfLife)
		tellHalves(t, s, true)
	}
	flood(1)
	require.Equal(t, 1, mails())
	for range 4 {
		flood(9)
	}
	require.Equal(t, 1, mails())
	require.Len(t, halves(t, s, rosa), halvesADay)
	s.clock.forward(halfDay)
	flood(3)
	require.Equal(t, 2, mails(), "another day")
	s.clock.forward(halfDay)
	for range halfMailsADay + 2 {
		flood(2)
		rosa.Epoch = anotherEpoch(t, s, rosa)
	}
	require.Equal(t, 2+halfMailsADay, mails(), "a password that is new and known too is told of, within bounds")

	// One browser that begins anew for ever is told of all the same.
	s.clock.forward(halfDay)
	was := len(halves(t, s, rosa))
	for range 6 {
		halfIn(t, s, rosa, browser("Patience", 200))
		s.clock.forward(HalfLife - time.Minute)
		tellHalves(t, s, true)
	}
	require.Greater(t, len(halves(t, s, rosa)), was)
	require.Equal(t, 3+halfMailsADay, mails())
}

func TestHowPasswordsWithoutACodeAreTold(t *testing.T) {
	s := newStore(t)
	rosa := rosaLind(t, s)
	home := browser("Firefox on Linux", 1)
	signIn(t, s, rosa, home, false)
	tell := func(at Device, wrong int, mails bool) Told {
		t.Helper()
		s.clock.forward(halfDay + time.Minute)
		wrongCodes(t, s, halfIn(t, s, rosa, at), wrong)
		if wrong < wrongEnough {
			require.Zero(t, tellHalves(t, s, mails))
			s.clock.forward(HalfLife)
		}
		require.Equal(t, int64(1), tellHalves(t, s, mails))
		require.Zero(t, tellHalves(t, s, mails), "once")
		return halves(t, s, rosa)[0]
	}
	require.Equal(t, ToldHere, tell(home, 0, true), "a phone that lies elsewhere")
	require.Equal(t, ToldHere, tell(home, wrongMany-1, true))
	require.Equal(t, ToldQueued, tell(home, wrongMany, true), "whoever shares the browser")
	require.Equal(t, ToldQueued, tell(browser("Chrome on Windows", 2), 0, true))
	require.Equal(t, ToldQueued, tell(browser("Chrome on Windows", 3), wrongEnough, true), "at once")
	require.Equal(t, ToldHere, tell(browser("Chrome on Windows", 4), wrongEnough, false), "no mail is set up")
	require.Zero(t, halfIn(t, s, rosa, Device{Words: "keeps nothing"}))

	gone := halfIn(t, s, rosa, browser("Chrome on Windows", 5))
	s.clock.forward(HalfLife)
	tellHalves(t, s, true)
	require.NoError(t, s.EndHalf(t.Context(), rosa.ID, gone, browser("Chrome on Windows", 5)))
	require.Len(t, halves(t, s, rosa), 7, "what was told of stays")
	wrongCodes(t, s, gone, 1)
	list, err := s.LastHalves(t.Context(), rosa.ID, 1)
	require.NoError(t, err)
	require.Zero(t, list[0].Wrong, "and is not changed any more")

	_, err = s.ForgetSignIns(t.Context(), 0)
	require.NoError(t, err)
	s.clock.forward(SignInsKeptLeast)
	_, err = s.ForgetSignIns(t.Context(), 0)
	require.NoError(t, err)
	require.Len(t, halves(t, s, rosa), 7, "while the password is the one that was given")
	require.NoError(t, s.ChangePassword(t.Context(), s.as(rosa, ""), "another hash", 0))
	_, err = s.ForgetSignIns(t.Context(), 0)
	require.NoError(t, err)
	require.Empty(t, halves(t, s, rosa))
}

// However the job of a mail ended, nothing waits for it: the page says that the mail did not go, or that
// it perhaps did, whether a worker has looked since or not.
func TestNoMailAboutASignInWaitsForEver(t *testing.T) {
	for _, c := range []struct {
		job  string // what becomes of it
		want Told
	}{
		{`SET state = 'available'`, ToldQueued},
		{`SET state = 'retryable'`, ToldQueued},
		{`SET state = 'scheduled', scheduled_at = now() + interval '9 hours'`, ToldQueued},
		{`SET state = 'discarded', finalized_at = now()`, ToldFailed},
		{`SET state = 'cancelled', finalized_at = now()`, ToldFailed},
		{`SET state = 'completed', finalized_at = now()`, ToldFailed},
		{"", ToldFailed},
	} {
		s := newStore(t)
		rosa := rosaLind(t, s)
		signIn(t, s, rosa, browser("Firefox on Linux", 1), true)
		signIn(t, s, rosa, browser("Chrome on Windows", 2), true)
		halfIn(t, s, rosa, browser("Edge on Windows", 3))
		s.clock.forward(HalfLife)
		tellHalves(t, s, true)
		require.Equal(t, []Told{ToldQueued}, halves(t, s, rosa))
		jobs := `UPDATE river.river_job ` + c.job + ` WHERE kind LIKE 'tell%'`
		if c.job == "" {
			jobs = `DELETE FROM river.river_job WHERE kind LIKE 'tell%'`
		}
		tag, err := s.db.Owner().Exec(t.Context(), jobs)
		require.NoError(t, err)
		require.Equal(t, int64(2), tag.RowsAffected())
		lost, err := s.LoseTelling(t.Context())
		require.NoError(t, err)
		if c.want == ToldFailed {
			require.Equal(t, int64(2), lost, c.job)
		}
		require.Equal(t, c.want, toldOf(t, s, rosa.ID)[0], c.job)
		require.Equal(t, []Told{c.want}, halves(t, s, rosa), c.job)
	}

	s := newStore(t)
	rosa := rosaLind(t, s)
	signIn(t, s, rosa, browser("Firefox on Linux", 1), true)
	id := signIn(t, s, rosa, browser("Chrome on Windows", 2), true)
	half := halfIn(t, s, rosa, browser("Edge on Windows", 3))
	s.clock.forward(HalfLife)
	tellHalves(t, s, true)
	_, err := s.BeginTelling(t.Context(), id)
	require.NoError(t, err)
	news, err := s.BeginTellingHalf(t.Context(), half)
	require.NoError(t, err)
	require.Equal(t, []string{"Rosa Lind", "rosa@example.org", "Edge on Windows"}, []string{news.Name, news.Email, news.Device})
	require.Equal(t, ToldSending, toldOf(t, s, rosa.ID)[0])
	s.clock.forward(reminderLost + time.Second)
	require.Equal(t, ToldPerhaps, toldOf(t, s, rosa.ID)[0], "no worker has looked since")
	require.Equal(t, []Told{ToldPerhaps}, halves(t, s, rosa))
	lost, err := s.LoseTelling(t.Context())
	require.NoError(t, err)
	require.Equal(t, int64(2), lost)
	require.NoError(t, s.EndTellingHalf(t.Context(), half, ToldQueued))
	require.Equal(t, []Told{ToldPerhaps}, halves(t, s, rosa))
}
