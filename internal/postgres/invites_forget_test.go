package postgres

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
)

// For whom an invitation was is kept no longer than the invitation: not once it is ended, by
// whoever it was or with the role of who made it, nor once it has run out.
func TestWhoWasInvitedIsForgotten(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	organiser, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	other, err := s.AddAccount(t.Context(), s.fresh(), "Elin Nord", "elin@example.org", false)
	require.NoError(t, err)
	for _, p := range []account.Person{organiser, other} {
		require.NoError(t, s.SetRole(t.Context(), s.fresh(), p.Email, account.Organiser))
	}
	invite := func(by account.Person, link string) int64 {
		t.Helper()
		act := s.fresh()
		act.Who = by.ID
		made, err := s.MakeInvite(t.Context(), act, account.Desk, "Zephyr Quarrel", link)
		require.NoError(t, err)
		require.NotEmpty(t, rowsWith(t, s, "zephyr"))
		return made.Number
	}
	require.NoError(t, s.EndInvite(t.Context(), s.fresh(), invite(organiser, "ended")))
	require.Empty(t, rowsWith(t, s, "zephyr"), "ended")

	invite(organiser, "with the role")
	require.NoError(t, s.SetRole(t.Context(), s.fresh(), organiser.Email, account.Desk))
	require.Empty(t, rowsWith(t, s, "zephyr"), "ended with the role of who made it")

	invite(other, "run out")
	_, err = s.ForgetVisits(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, rowsWith(t, s, "zephyr"), "it can be used still")
	s.clock.forward(account.InviteLife + 1)
	_, err = s.ForgetVisits(t.Context())
	require.NoError(t, err)
	require.Empty(t, rowsWith(t, s, "zephyr"), "run out")
}
