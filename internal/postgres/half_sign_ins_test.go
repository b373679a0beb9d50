package postgres

import (
	"context"
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

func halfIn(t *testing.T, s *testStore, p account.Person, at Device) int64 {
	t.Helper()
	id, err := s.BeginHalf(t.Context(), p.ID, p.Epoch, at)
	require.NoError(t, err)
	return id
}

// halves gives what became of passwords without a code, the latest first.
func halves(t *testing.T, s *testStore, p account.Person) (told []Told) {
	t.Helper()
	list, err := s.LastHalves(t.Context(), p.ID, 100)
	require.NoError(t, err)
	for _, h := range list {
		told = append(told, h.Told)
	}
	return told
}

func tellHalves(t *testing.T, s *testStore, mails bool) int64 {
	t.Helper()
	n, err := s.TellHalves(t.Context(), mails)
	require.NoError(t, err)
	return n
}

func wrongCodes(t *testing.T, s *testStore, half int64, times int) {
	t.Helper()
	for range times {
		require.NoError(t, s.WrongCode(t.Context(), half))
	}
}

// anotherEpoch lets somebody change their password.
func anotherEpoch(t *testing.T, s *testStore, p account.Person) int {
	t.Helper()
	act := s.fresh()
	act.Who = p.ID
	require.NoError(t, s.ChangePassword(t.Context(), act, "another hash", 0))
	now, err := s.Account(t.Context(), p.ID)
	require.NoError(t, err)
	return now.Epoch
}

func rosaLind(t *testing.T, s *testStore) account.Person {
	t.Helper()
	p, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	return p
}

// Somebody who types a code wrongly twice and then rightly, is called away and comes again, or whose
// form is sent twice, is told of nothing.
func TestWhoGivesTheCodeIsNoNews(t *testing.T) {
	s := newStore(t)
	rosa := rosaLind(t, s)
	home := browser("Firefox on Linux", 1)
	end := func(half int64, at Device) {
		t.Helper()
		require.NoError(t, s.EndHalf(t.Context(), rosa.ID, half, at))
		s.clock.forward(time.Hour)
		require.Zero(t, tellHalves(t, s, true))
	}
	id := halfIn(t, s, rosa, home)
	wrongCodes(t, s, id, 2)
	end(id, home)

	id = halfIn(t, s, rosa, home)
	s.clock.forward(HalfLife - time.Second)
	require.Zero(t, tellHalves(t, s, true), "the code can come still")
	require.Equal(t, id, halfIn(t, s, rosa, home))
	s.clock.forward(HalfLife - time.Second)
	require.Zero(t, tellHalves(t, s, true), "there is time anew")
	end(id, home)

	first := halfIn(t, s, rosa, home.sending(1))
	s.clock.forward(time.Minute)
	again := halfIn(t, s, rosa, browser(home.Words, 2).sending(1))
	require.NotEqual(t, first, again)
	end(again, browser(home.Words, 2))

	// Another form is somebody else's, also of a browser that is called the same, within the same
	// moment and new as well.
	halfIn(t, s, rosa, browser("Chrome on Windows", 3).sending(2))
	wrongCodes(t, s, halfIn(t, s, rosa, browser(home.Words, 4).sending(3)), 1)
	id = halfIn(t, s, rosa, home.sending(4))
	require.NoError(t, s.EndHalf(t.Context(), rosa.ID, id, home))
	s.clock.forward(HalfLife)
	require.Equal(t, int64(2), tellHalves(t, s, true))
	require.Equal(t, []Told{ToldQueued, ToldHere}, halves(t, s, rosa), "the mail is of the one with a refused code")
}

// Whoever has the password and a browser that is called as the owner's is told of although the owner's
// code has come at that moment, wherever either of them is known: they sent another form, or none.
func TestTheSameWordsByAnotherForm(t *testing.T) {
	s := newStore(t)
	rosa := rosaLind(t, s)
	home, work := browser("Firefox on Linux", 1), browser("Firefox on Linux", 2)
	signIn(t, s, rosa, home, false)
	signIn(t, s, rosa, work, false)
	for _, c := range []struct {
		at, other Device
		told      []Told
	}{
		{home.sending(1), browser(home.Words, 3).sending(2), []Told{ToldQueued}},
		{browser(home.Words, 4).sending(3), work.sending(4), []Told{ToldHere, ToldQueued}},
		{browser(home.Words, 5).sending(5), browser(home.Words, 6).sending(6), []Told{ToldHere, ToldHere, ToldQueued}},
		{browser(home.Words, 7), browser(home.Words, 8), []Told{ToldHere, ToldHere, ToldHere, ToldQueued}},
	} {
		halfIn(t, s, rosa, c.other)
		require.NoError(t, s.EndHalf(t.Context(), rosa.ID, halfIn(t, s, rosa, c.at), c.at))
		s.clock.forward(HalfLife)
		tellHalves(t, s, true)
		require.Equal(t, c.told, halves(t, s, rosa), c.at.Mark[0])
	}
}

// After a new password nothing is said any more of the one before, but in the list of what was; not
// even by a mail that waits already. Who gives the new one too, at the same browser, is news.
func TestAPasswordThatWasChangedSince(t *testing.T) {
	s := newStore(t)
	rosa := rosaLind(t, s)
	there := browser("Chrome on Windows", 3)
	last := func() HalfSignIn {
		t.Helper()
		list, err := s.LastHalves(t.Context(), rosa.ID, 1)
		require.NoError(t, err)
		return list[0]
	}
	old := halfIn(t, s, rosa, there)
	rosa.Epoch = anotherEpoch(t, s, rosa)
	fresh := halfIn(t, s, rosa, there)
	require.NotEqual(t, old, fresh, "time anew is not for a password of before")
	require.NoError(t, s.EndHalf(t.Context(), rosa.ID, fresh, browser("", 9)))
	s.clock.forward(HalfLife)
	require.Equal(t, int64(1), tellHalves(t, s, true))
	require.Equal(t, ToldHere, last().Told, "no mail")
	require.False(t, last().Open)

	waits := halfIn(t, s, rosa, there)
	s.clock.forward(HalfLife)
	tellHalves(t, s, true)
	require.Equal(t, ToldQueued, last().Told)
	require.True(t, last().Open)
	rosa.Epoch = anotherEpoch(t, s, rosa)
	news, err := s.BeginTellingHalf(t.Context(), waits)
	require.NoError(t, err)
	require.Nil(t, news)
	require.Equal(t, ToldHere, last().Told, "it waits no more")
	require.False(t, last().Open)

	again := halfIn(t, s, rosa, there)
	s.clock.forward(HalfLife)
	tellHalves(t, s, true)
	require.True(t, last().Open)
	news, err = s.BeginTellingHalf(t.Context(), again)
	require.NoError(t, err)
	require.Equal(t, there.Words, news.Device)
}

// Sessions that end leave the password as it is: the alarm stays, the mail goes, and there is one a day.
// What its person says was them is no news any more, and spares nobody else's.
func TestAnAlarmOutlivesSessions(t *testing.T) {
	s := newStore(t)
	rosa := rosaLind(t, s)
	there := browser("Chrome on Windows", 3)
	theirs := func() drive.Act {
		act := s.fresh()
		act.Who = rosa.ID
		return act
	}
	ends := func(how func(act drive.Act) error) {
		t.Helper()
		require.NoError(t, how(theirs()))
		was := rosa.Epoch
		var err error
		rosa, err = s.Account(t.Context(), rosa.ID)
		require.NoError(t, err)
		require.Equal(t, was+1, rosa.Epoch)
	}
	elsewhere := func(act drive.Act) error { return s.EndOtherSignIns(t.Context(), act, 0) }
	list := func() []HalfSignIn {
		t.Helper()
		list, err := s.LastHalves(t.Context(), rosa.ID, 100)
		require.NoError(t, err)
		return list
	}
	first := halfIn(t, s, rosa, there)
	ends(elsewhere)
	s.clock.forward(HalfLife)
	tellHalves(t, s, true)
	require.Equal(t, ToldQueued, list()[0].Told, "ended sessions spare no mail")
	ends(func(act drive.Act) error { return s.NotMe(t.Context(), act, 0) })
	require.NoError(t, s.BeginSecondStep(t.Context(), theirs(), []byte("sealed")))
	ends(func(act drive.Act) error {
		return s.ConfirmSecondStep(t.Context(), act, SecondCode{Secret: []byte("sealed")})
	})
	ends(func(act drive.Act) error { return s.ResetSecondStep(t.Context(), act, rosa.Email) })
	require.True(t, list()[0].Open)
	news, err := s.BeginTellingHalf(t.Context(), first)
	require.NoError(t, err)
	require.NotNil(t, news)
	require.NoError(t, s.EndTellingHalf(t.Context(), first, ToldSent))
	halfIn(t, s, rosa, browser("Edge on Windows", 4))
	s.clock.forward(HalfLife)
	tellHalves(t, s, true)
	require.Equal(t, ToldHere, list()[0].Told, "one of a password went")

	act := theirs()
	require.NoError(t, s.WasMe(t.Context(), act, first))
	require.NoError(t, s.WasMe(t.Context(), act, first), "the same wish twice")
	require.Equal(t, []bool{true, false}, []bool{list()[0].Open, list()[1].Open})
	require.True(t, list()[1].Mine)
	for name, half := range map[string]int64{"said": first, "not told yet": halfIn(t, s, rosa, there), "none": 4711} {
		err := s.WasMe(t.Context(), theirs(), half)
		require.True(t, apperr.Is(err, apperr.KindNotFound), "%s: %v", name, err)
	}
	s.clock.forward(HalfLife)
	tellHalves(t, s, true)
	require.Equal(t, ToldQueued, list()[0].Told, "what was theirs spares no mail")
	require.NoError(t, s.WasMe(t.Context(), theirs(), list()[0].ID))
	news, err = s.BeginTellingHalf(t.Context(), list()[0].ID)
	require.NoError(t, err)
	require.Nil(t, news, "and has none")
	require.Equal(t, ToldHere, list()[0].Told)

	few, err := s.LastHalves(t.Context(), rosa.ID, 1)
	require.NoError(t, err)
	require.True(t, few[0].Open, "newer ones that were theirs hide none")
	require.Greater(t, list()[0].ID, few[0].ID)

	rosa.Epoch = anotherEpoch(t, s, rosa)
	for _, at := range list() {
		require.False(t, at.Open)
	}
}

// The right code and what tells of those that did not come take the rows of one account in turn.
func TestEndHalfWaitsForItsAccount(t *testing.T) {
	s := newStore(t)
	rosa := rosaLind(t, s)
	home := browser("Firefox on Linux", 1)
	id := halfIn(t, s, rosa, home)
	tx, err := s.db.Pool.Begin(t.Context())
	require.NoError(t, err)
	defer func() { _ = tx.Rollback(context.Background()) }()
	require.NoError(t, lockAccount(t.Context(), tx, rosa.ID))
	ended := make(chan error, 1)
	go func() { ended <- s.EndHalf(t.Context(), rosa.ID, id, home) }()
	const waiting = `SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock' AND query LIKE '%accounts%'`
	require.Eventually(t, func() bool {
		var n int
		require.NoError(t, s.db.Pool.QueryRow(t.Context(), waiting).Scan(&n))
		return n == 1
	}, time.Minute, 5*time.Millisecond)
	var rows int
	require.NoError(t, tx.QueryRow(t.Context(), `SELECT count(*) FROM (SELECT FROM half_sign_ins FOR UPDATE NOWAIT) free`).Scan(&rows), "it holds no row while it waits")
	require.Equal(t, 1, rows)
	require.NoError(t, tx.Rollback(t.Context()))
	require.NoError(t, <-ended)
}
