package postgres

import (
	"slices"
	"sync"
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// browser is one that keeps something to be known by.
func browser(words string, mark byte) Device {
	d := Device{Words: words, Mark: make([]byte, 32)}
	d.Mark[0] = mark
	return d
}

// sending is a browser that sends this form.
func (d Device) sending(form byte) Device {
	d.Form = make([]byte, 32)
	d.Form[0] = form
	return d
}

func signIn(t *testing.T, s *testStore, p account.Person, at Device, mails bool) int64 {
	t.Helper()
	id, err := s.BeginSignIn(t.Context(), p, at, false, mails)
	require.NoError(t, err)
	return id
}

// toldOf gives what became of telling of the last sign-ins, the latest first.
func toldOf(t *testing.T, s *testStore, id int64) []Told {
	t.Helper()
	list, err := s.LastSignIns(t.Context(), id, 20)
	require.NoError(t, err)
	var told []Told
	for _, at := range list {
		told = append(told, at.Told)
	}
	return told
}

func tellings(t *testing.T, s *testStore) (n int) {
	t.Helper()
	require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'tell_sign_in'`).Scan(&n))
	return n
}

// A browser that somebody did not use before is told of, and no other: not the first of all, not
// one that is known, and not twice where a form is sent again by a browser that lost its cookie.
func TestANewBrowserIsToldOf(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	elin, err := s.AddAccount(t.Context(), s.fresh(), "Elin Nord", "elin@example.org", false)
	require.NoError(t, err)
	home, hall := browser("Firefox on Linux", 1), browser("Safari on an iPad", 2)
	signIn(t, s, rosa, home, true)
	signIn(t, s, rosa, home, true)
	s.clock.forward(time.Hour)
	signIn(t, s, elin, hall, true)
	require.Equal(t, []Told{ToldKnown, ToldFirst}, toldOf(t, s, rosa.ID))
	require.Equal(t, []Told{ToldFirst}, toldOf(t, s, elin.ID))
	id := signIn(t, s, rosa, hall.sending(1), true)
	require.Equal(t, []Told{ToldQueued, ToldKnown, ToldFirst}, toldOf(t, s, rosa.ID), "whoever else signs in there is another's business")
	signIn(t, s, rosa, browser(hall.Words, 3).sending(1), true)
	require.Equal(t, []Told{ToldHere, ToldQueued}, toldOf(t, s, rosa.ID)[:2])
	signIn(t, s, rosa, browser(hall.Words, 4).sending(2), true)
	signIn(t, s, rosa, browser("Chrome on Windows", 5), true)
	require.Equal(t, []Told{ToldQueued, ToldQueued}, toldOf(t, s, rosa.ID)[:2])
	require.Equal(t, 3, tellings(t, s))
	signIn(t, s, rosa, browser("Edge on Windows", 6), false)
	require.Equal(t, ToldHere, toldOf(t, s, rosa.ID)[0], "no mail is set up")
	require.Equal(t, 3, tellings(t, s))

	// From sending on no mail goes a second time by itself.
	news, err := s.BeginTelling(t.Context(), id)
	require.NoError(t, err)
	require.Equal(t, []string{"Rosa Lind", "rosa@example.org", "Safari on an iPad", ""}, []string{news.Name, news.Email, news.Device, news.Zone})
	again, err := s.BeginTelling(t.Context(), id)
	require.NoError(t, err)
	require.Nil(t, again)
	lost, err := s.LoseTelling(t.Context())
	require.NoError(t, err)
	require.Zero(t, lost, "it may be on its way")
	s.clock.forward(reminderLost + time.Second)
	lost, err = s.LoseTelling(t.Context())
	require.NoError(t, err)
	require.Equal(t, int64(1), lost)
	require.NoError(t, s.EndTelling(t.Context(), id, ToldQueued))
	require.Contains(t, toldOf(t, s, rosa.ID), ToldPerhaps)
}

// Who says that a sign-in was not theirs is signed out everywhere else, and every browser is new.
func TestASignInThatWasNotTheirs(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	home := browser("Firefox on Linux", 1)
	mine := signIn(t, s, rosa, home, true)
	theirs := signIn(t, s, rosa, browser("Chrome on Windows", 2), true)
	s.clock.forward(time.Minute)
	act := s.fresh()
	act.Who, act.Drive = rosa.ID, ""
	require.NoError(t, s.NotMe(t.Context(), act, mine))
	require.NoError(t, s.NotMe(t.Context(), act, mine), "the same wish twice")
	_, err = s.Visit(t.Context(), theirs, "", Looking{})
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.Visit(t.Context(), mine, "", Looking{})
	require.NoError(t, err)
	rosa, err = s.Account(t.Context(), rosa.ID)
	require.NoError(t, err)
	signIn(t, s, rosa, browser("Chrome on Windows", 3), true)
	require.Equal(t, ToldQueued, toldOf(t, s, rosa.ID)[0], "whoever it was comes again")
	signIn(t, s, rosa, home, true)
	require.Equal(t, ToldQueued, toldOf(t, s, rosa.ID)[0], "the session that stays speaks for no other browser")
}

// No mail is spared by one that went wrong, or by a session that is over.
func TestOnlyWhatWasToldSparesAMail(t *testing.T) {
	for _, c := range []struct {
		told Told
		ends bool
		want Told
	}{
		{ToldQueued, false, ToldHere},
		{ToldSending, false, ToldHere},
		{ToldSent, false, ToldHere},
		{ToldPerhaps, false, ToldHere},
		{ToldFailed, false, ToldQueued},
		{ToldSent, true, ToldQueued},
	} {
		s := newStore(t)
		rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
		require.NoError(t, err)
		signIn(t, s, rosa, browser("Firefox on Linux", 1), true)
		id := signIn(t, s, rosa, browser("Chrome on Windows", 2).sending(1), true)
		if c.told != ToldQueued {
			news, err := s.BeginTelling(t.Context(), id)
			require.NoError(t, err)
			require.NotNil(t, news)
			require.NoError(t, s.EndTelling(t.Context(), id, c.told))
		}
		if c.ends {
			require.NoError(t, s.LeaveSignIn(t.Context(), id))
		}
		s.clock.forward(time.Minute)
		signIn(t, s, rosa, browser("Chrome on Windows", 3).sending(1), true)
		require.Equal(t, []Told{c.want, c.told, ToldFirst}, toldOf(t, s, rosa.ID), "ended: %t", c.ends)
	}
}

// The first sign-in of an account, sent again by a browser that lost its cookie, alarms nobody.
func TestTheFirstSignInSentAgain(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	signIn(t, s, rosa, browser("Firefox on Linux", 1).sending(1), true)
	s.clock.forward(time.Minute)
	signIn(t, s, rosa, browser("Firefox on Linux", 2).sending(1), true)
	require.Equal(t, []Told{ToldHere, ToldFirst}, toldOf(t, s, rosa.ID))
	signIn(t, s, rosa, browser("Firefox on Linux", 3).sending(2), true)
	require.Equal(t, ToldQueued, toldOf(t, s, rosa.ID)[0], "the same words, at once, by another form")
	signIn(t, s, rosa, browser("Firefox on Linux", 4), true)
	require.Equal(t, ToldQueued, toldOf(t, s, rosa.ID)[0], "by none")
	signIn(t, s, rosa, browser("Firefox on Linux", 5), true)
	require.Equal(t, ToldQueued, toldOf(t, s, rosa.ID)[0], "none is not the same as none")
}

// Whoever signs in for ever at new browsers fills no mailbox; another day a mail goes again.
func TestMailsAboutNewBrowsersEnd(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	for mark := range byte(tellMost + 4) {
		signIn(t, s, rosa, browser("Firefox on Linux", mark+1).sending(mark+1), true)
	}
	require.Equal(t, tellMost, tellings(t, s))
	require.True(t, toldOf(t, s, rosa.ID)[0].New(), "the page tells of all")
	s.clock.forward(24 * time.Hour)
	signIn(t, s, rosa, browser("Firefox on Linux", 100).sending(100), true)
	require.Equal(t, tellMost+1, tellings(t, s))
}

// However many forms come at once from a browser without its cookie, one of them is told of by
// mail, and one is the first of an account.
func TestSignInsAtOnceAreToldOfOnce(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	for round, want := range []map[Told]int{{ToldFirst: 1, ToldHere: 7}, {ToldQueued: 1, ToldHere: 7}} {
		words := []string{"Firefox on Linux", "Chrome on Windows"}[round]
		var at sync.WaitGroup
		errs := make([]error, 8)
		for i := range errs {
			at.Go(func() {
				_, errs[i] = s.BeginSignIn(t.Context(), rosa, browser(words, byte(8*round+i+1)).sending(byte(round)), false, true)
			})
		}
		at.Wait()
		for _, err := range errs {
			require.NoError(t, err)
		}
		got := map[Told]int{}
		for _, told := range toldOf(t, s, rosa.ID)[:8] {
			got[told]++
		}
		require.Equal(t, want, got)
		require.Equal(t, round, tellings(t, s))
		s.clock.forward(time.Minute)
	}
}

// Sign-ins and browsers are known as long as is set, never shorter than a session lives.
func TestSignInsAreForgotten(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	signIn(t, s, rosa, browser("Firefox on Linux", 1), true)
	s.clock.forward(8 * 24 * time.Hour)
	signIn(t, s, rosa, browser("Safari on an iPad", 2), true)
	for _, c := range []struct {
		kept time.Duration
		gone int64
	}{{9 * 24 * time.Hour, 0}, {0, 2}, {0, 0}} {
		n, err := s.ForgetSignIns(t.Context(), c.kept)
		require.NoError(t, err)
		require.Equal(t, c.gone, n, "kept for %s", c.kept)
	}
	require.Len(t, toldOf(t, s, rosa.ID), 1)
	require.Len(t, rowsWith(t, s, "safari on an ipad"), 1)
}

// What is kept about an account tells of each sign-in whether its browser was new, as its page does: a
// browser that is known is not, and no mail is about it.
func TestAnAccountIsToldWhichBrowsersWereNew(t *testing.T) {
	s := newStore(t)
	rosa, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	home, away := browser("Owl on a phone", 1), browser("Heron on a tablet", 2)
	signIn(t, s, rosa, home, true)
	signIn(t, s, rosa, home, true)
	signIn(t, s, rosa, away, false)
	signIn(t, s, rosa, browser("Wren on a laptop", 3), true)
	signIn(t, s, rosa, Device{Words: "Robin, of which nothing is kept"}, true)
	about, err := s.AboutAccount(t.Context(), rosa.ID)
	require.NoError(t, err)
	at := slices.IndexFunc(about.Parts, func(p drive.AboutPart) bool { return p.Name == "Signed in" })
	var told [][2]string
	for _, row := range about.Parts[at].Rows {
		told = append(told, [2]string{row["New browser"], row["Mail about it"]})
	}
	require.Equal(t, [][2]string{{"their first", ""}, {"no", ""}, {"yes", ""}, {"yes", "queued"}, {"", ""}}, told)
}
