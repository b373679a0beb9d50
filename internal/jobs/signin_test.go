package jobs

import (
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/mail/mailtest"
	"boltward/internal/postgres"
)

// Whoever signs in at a new browser is told once: what became of the mail stands beside the
// sign-in, and one that was perhaps sent is not sent again.
func TestANewSignInIsToldByMail(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		behave *mailtest.Behaviour
		want   postgres.Told
	}{
		"as it should be": {nil, postgres.ToldSent},
		"refused":         {&mailtest.Behaviour{Rcpt: &smtp.SMTPError{Code: 550, Message: "no such person"}}, postgres.ToldFailed},
		"cut off":         {&mailtest.Behaviour{CutAfterData: true}, postgres.ToldPerhaps},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			h := newHouse(t)
			act := h.act("rosa")
			act.Drive = ""
			rosa, err := h.AddAccount(t.Context(), act, "Rosa Lind", "rosa@example.org", false)
			require.NoError(t, err)
			require.NoError(t, h.SetRole(t.Context(), h.act("role"), rosa.Email, "desk"))
			at := postgres.Device{Words: "Firefox on Linux", Mark: make([]byte, 32)}
			_, err = h.BeginSignIn(t.Context(), rosa, at, false, true)
			require.NoError(t, err)
			at = postgres.Device{Words: "Safari on an iPad", Mark: make([]byte, 32)}
			at.Mark[0] = 1
			_, err = h.BeginSignIn(t.Context(), rosa, at, false, true)
			require.NoError(t, err)
			server := mailtest.Start(t, c.behave)
			stop, err := Start(t.Context(), Config{Store: h.Store, Mail: server.Sender(t), Address: func(string) string { return "" }, Account: "https://drive.example.org/account"})
			require.NoError(t, err)
			defer func() { require.NoError(t, stop(t.Context())) }()
			var told postgres.Told
			require.Eventually(t, func() bool {
				list, err := h.LastSignIns(t.Context(), rosa.ID, 9)
				if err != nil || len(list) != 2 {
					return false
				}
				told = list[0].Told
				return told == c.want
			}, 20*time.Second, 20*time.Millisecond, "%s, then %s", c.want, told)
			messages := server.Messages()
			if c.want == postgres.ToldFailed {
				require.Empty(t, messages)
				return
			}
			require.Len(t, messages, 1)
			require.Equal(t, []string{"rosa@example.org"}, messages[0].To)
			text := string(messages[0].Data)
			for _, says := range []string{"Somebody signed in as you", "Hello Rosa Lind,", "Safari on an iPad", "https://drive.example.org/account", "(Europe/Dublin)"} {
				require.Contains(t, text, says)
			}
		})
	}
}

// Whose password was given without the code of their second step is told once, by whoever works
// jobs; and a mail whose job somebody cancelled is waited for no longer.
func TestAPasswordWithoutACodeIsToldByMail(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	act := h.act("rosa")
	act.Drive = ""
	rosa, err := h.AddAccount(t.Context(), act, "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	act = h.act("elin")
	act.Drive = ""
	elin, err := h.AddAccount(t.Context(), act, "Elin Nord", "elin@example.org", false)
	require.NoError(t, err)
	server := mailtest.Start(t, nil)
	late := func(p account.Person, wrong int) {
		half, err := h.BeginHalf(t.Context(), p.ID, p.Epoch, postgres.Device{Words: "Safari on an iPad", Mark: make([]byte, 32)})
		require.NoError(t, err)
		for range wrong {
			require.NoError(t, h.WrongCode(t.Context(), half))
		}
		_, err = h.db.Owner().Exec(t.Context(), `UPDATE half_sign_ins SET until = now() WHERE id = $1`, half)
		require.NoError(t, err)
	}
	// Of one the job is cancelled before anybody works.
	late(elin, 0)
	told, err := h.TellHalves(t.Context(), true)
	require.NoError(t, err)
	require.Equal(t, int64(1), told)
	_, err = h.db.Owner().Exec(t.Context(), `UPDATE river.river_job SET state = 'cancelled', finalized_at = now() WHERE kind = 'tell_half_sign_in'`)
	require.NoError(t, err)
	late(rosa, 2)
	stop, err := Start(t.Context(), Config{Store: h.Store, Mail: server.Sender(t), Address: func(string) string { return "" }, Account: "https://drive.example.org/account"})
	require.NoError(t, err)
	defer func() { require.NoError(t, stop(t.Context())) }()
	state := func(id int64) postgres.Told {
		list, err := h.LastHalves(t.Context(), id, 9)
		if err != nil || len(list) != 1 {
			return ""
		}
		return list[0].Told
	}
	require.Eventually(t, func() bool { return state(rosa.ID) == postgres.ToldSent && state(elin.ID) == postgres.ToldFailed }, 20*time.Second, 20*time.Millisecond,
		"%s and %s", state(rosa.ID), state(elin.ID))
	messages := server.Messages()
	require.Len(t, messages, 1)
	require.Equal(t, []string{"rosa@example.org"}, messages[0].To)
	for _, says := range []string{"Your password was given, but not your code", "Hello Rosa Lind,", "Safari on an iPad", "2 codes were typed", "https://drive.example.org/account"} {
		require.Contains(t, string(messages[0].Data), says)
	}
}
