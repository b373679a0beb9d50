package postgres

import (
	"fmt"
	"testing"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// signsIn adds somebody who signs in, with a role in these drives.
func signsIn(t *testing.T, s *testStore, name, email string, role account.Role, drives ...string) account.Person {
	t.Helper()
	p, err := s.AddAccount(t.Context(), s.fresh(), name, email, false)
	require.NoError(t, err)
	for _, d := range drives {
		require.NoError(t, s.SetRole(t.Context(), s.actIn(d, fmt.Sprintf("role-%d", p.ID)), email, role))
	}
	return p
}

// as gives an act of somebody in a drive.
func (s *testStore) as(p account.Person, driveID string) drive.Act {
	act := s.fresh()
	act.Drive, act.Who, act.Initials = driveID, p.ID, p.Initials
	return act
}

func TestSomebodyWhoSignsInIsErasedWhole(t *testing.T) {
	s, a := lived(t)
	startDriveAs(t, s, "autumn")
	gone := signsIn(t, s, zephyr, zephyrMail, account.Organiser, "spring", "autumn")
	elin := signsIn(t, s, "Elin Nord", "elin@example.org", account.Organiser, "spring", "autumn")
	mine := s.as(gone, "spring")
	_, err := s.BringIn(t.Context(), mine, drive.BroughtIn{Size: a.Sizes[0], N: 2, Asked: a.Number})
	require.NoError(t, err)
	_, err = s.CheckCases(t.Context(), s.as(gone, "spring"), drive.Stack{Asked: a.Number, Size: a.Sizes[0]}, drive.Checked{Good: 2, Pins: true})
	require.NoError(t, err)
	require.NotEmpty(t, rowsWith(t, s, `,zq,`), "a check has their initials")
	signIn, err := s.BeginSignIn(t.Context(), gone, Device{Words: "Zephyr's telephone"}, false, false)
	require.NoError(t, err)
	halfIn(t, s, gone, browser("Zephyr's old telephone", 1))
	link, err := s.AccountLink(t.Context(), s.fresh(), zephyrMail)
	require.NoError(t, err)
	require.NoError(t, s.ChangePassword(t.Context(), s.as(gone, ""), "the hash", signIn))
	link2, err := s.AccountLink(t.Context(), s.fresh(), zephyrMail)
	require.NoError(t, err)
	require.NotEqual(t, link, link2)
	used := link2
	_, err = s.UseAccountLink(t.Context(), used, "another hash")
	require.NoError(t, err)
	link2, err = s.AccountLink(t.Context(), s.fresh(), zephyrMail)
	require.NoError(t, err)
	signIn, err = s.BeginSignIn(t.Context(), gone, Device{Words: "Zephyr's tablet"}, false, false)
	require.NoError(t, err)
	require.NoError(t, s.BeginSecondStep(t.Context(), s.as(gone, ""), []byte("sealed")))
	require.NoError(t, s.ConfirmSecondStep(t.Context(), s.as(gone, ""), SecondCode{[]byte("sealed"), 1, [][]byte{[]byte("one")}, signIn}))
	invite, err := s.MakeInvite(t.Context(), s.as(gone, "spring"), account.Desk, "", "invited")
	require.NoError(t, err)
	pass, err := s.MakePass(t.Context(), s.as(gone, "autumn"), PassWish{Role: account.Desk, Place: "door"}, "passed", []byte("code"))
	require.NoError(t, err)
	ledgers := rowsOf(t, s, "fabric_entries", "kit_entries", "case_entries", "case_balances", "kits", "pieces")

	act := s.as(elin, "spring")
	require.NoError(t, s.EraseAccount(t.Context(), act, gone.ID))
	require.NoError(t, s.EraseAccount(t.Context(), act, gone.ID), "the same wish twice")
	require.Empty(t, rowsWith(t, s, "zephyr", `,zq,`, `"zq"`))
	require.Equal(t, ledgers, rowsOf(t, s, "fabric_entries", "kit_entries", "case_entries", "case_balances", "kits", "pieces"), "what they did stays")
	agrees(t, s)
	for table, q := range map[string]string{
		"a password": `SELECT count(*) FROM accounts WHERE id = $1 AND (password <> '' OR opens OR email IS NOT NULL)`,
		"a role":     `SELECT count(*) FROM memberships WHERE account_id = $1`, "a second step": `SELECT count(*) FROM second_steps WHERE account_id = $1`,
		"a wish": `SELECT count(*) FROM once WHERE who = $1`, "a recovery code": `SELECT count(*) FROM recovery_codes WHERE account_id = $1`, "a password without the code": `SELECT count(*) FROM half_sign_ins WHERE account_id = $1`, "a browser": `SELECT count(*) FROM devices WHERE account_id = $1`, "a session": `SELECT count(*) FROM sign_ins WHERE account_id = $1`,
		"a link": `SELECT count(*) FROM links WHERE account_id = $1 AND used_at IS NULL AND revoked_at IS NULL`,
	} {
		var n int
		require.NoError(t, s.db.Owner().QueryRow(t.Context(), q, gone.ID).Scan(&n))
		require.Zero(t, n, "no %s is left", table)
	}
	missing := func(what string, err error) {
		t.Helper()
		require.True(t, apperr.Is(err, apperr.KindNotFound), "%s: %v", what, err)
	}
	_, err = s.Visit(t.Context(), signIn, "spring", Looking{})
	missing("they are signed out", err)
	_, err = s.Account(t.Context(), gone.ID)
	missing("the account", err)
	_, err = s.AccountOf(t.Context(), zephyrMail)
	missing("boltward about by the address", err)
	_, err = s.AboutAccount(t.Context(), gone.ID)
	missing("boltward about by the number", err)
	_, err = s.Link(t.Context(), link2)
	missing("their link", err)
	_, err = s.UsedBy(t.Context(), used)
	missing("who has used their link", err)
	_, err = s.InviteOf(t.Context(), "invited", "")
	missing("what they invited to", err)
	_, err = s.PassOf(t.Context(), "passed")
	missing("the pass they made", err)
	_, hash, err := s.Credentials(t.Context(), zephyrMail)
	require.NoError(t, err)
	require.Empty(t, hash)
	lines, err := s.Accounts(t.Context())
	require.NoError(t, err)
	require.Len(t, lines, 1, "boltward user list")
	err = s.EraseAccount(t.Context(), s.as(elin, "spring"), gone.ID)
	require.True(t, apperr.Is(err, apperr.KindConflict), "erased already: %v", err)
	require.Positive(t, invite.Number+pass.Number)

	again := signsIn(t, s, zephyr, zephyrMail, account.Desk, "spring")
	require.NotEqual(t, gone.ID, again.ID, "the address is free")
	for _, d := range []string{"spring", "autumn"} {
		entries, err := s.Trail(t.Context(), d, TrailQuery{Kind: "account", Which: "1"})
		require.NoError(t, err)
		require.Equal(t, "account erased", entries[0].Act, d)
		names, err := s.TrailNames(t.Context(), d, entries)
		require.NoError(t, err)
		require.Equal(t, "Elin Nord", names[entries[0].By()])
	}
	entries, err := s.Trail(t.Context(), "spring", TrailQuery{By: TrailBy(gone.ID)})
	require.NoError(t, err)
	require.NotEmpty(t, entries)
	names, err := s.TrailNames(t.Context(), "spring", entries)
	require.NoError(t, err)
	require.Equal(t, "Erased account 1", names[entries[0].By()], "the trail says who by a number")
	require.Empty(t, entries[0].Initials)
}

// Whoever is a drive's only organiser stays, however it is tried; who works for a drive of
// others too is erased by themselves or by whoever looks after the server.
func TestWhoMayEraseWhom(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	rosa := signsIn(t, s, "Rosa Lind", "rosa@example.org", account.Organiser, "spring")
	elin := signsIn(t, s, "Elin Nord", "elin@example.org", account.Organiser, "autumn")
	desk := signsIn(t, s, "Kai Berg", "kai@example.org", account.Desk, "spring", "autumn")
	reader := signsIn(t, s, "Uma Hill", "uma@example.org", account.Reader, "spring")
	opener, err := s.AddAccount(t.Context(), byCommand(s.fresh()), "Ola Fell", "ola@example.org", true)
	require.NoError(t, err)
	require.NoError(t, s.SetRole(t.Context(), s.fresh(), opener.Email, account.Desk))
	loose := signsIn(t, s, "Lou Marsh", "lou@example.org", account.Reader)
	refused := func(kind apperr.Kind, why string, act drive.Act, id int64) {
		t.Helper()
		err := s.EraseAccount(t.Context(), act, id)
		require.True(t, apperr.Is(err, kind), "%v", err)
		require.ErrorContains(t, err, why)
	}
	command := s.fresh()
	command.Drive, command.Who = "", 0
	for _, act := range []drive.Act{s.as(rosa, ""), command} {
		refused(apperr.KindConflict, "Drive spring has no other organiser", act, rosa.ID)
	}
	refused(apperr.KindConflict, "another drive too", s.as(rosa, "spring"), desk.ID)
	refused(apperr.KindConflict, "boltward user erase", s.as(rosa, "spring"), opener.ID)
	guest := s.fresh()
	guest.Who, guest.Link = 0, "person 12"
	refused(apperr.KindNotFound, "Nobody of that number", guest, reader.ID)
	refused(apperr.KindNotFound, "Nobody of that number", s.as(rosa, "spring"), elin.ID)
	refused(apperr.KindNotFound, "Nobody of that number", s.as(rosa, "spring"), loose.ID)
	refused(apperr.KindNotFound, "Nobody of that number", s.as(reader, "spring"), desk.ID)
	refused(apperr.KindNotFound, "no such account", s.as(rosa, "spring"), 99)
	require.NoError(t, s.EraseAccount(t.Context(), s.as(rosa, "spring"), reader.ID))
	require.NoError(t, s.EraseAccount(t.Context(), s.as(desk, ""), desk.ID), "they themselves")
	require.NoError(t, s.EraseAccount(t.Context(), byCommand(s.fresh()), loose.ID))
	require.NoError(t, s.SetRole(t.Context(), s.fresh(), elin.Email, account.Organiser))
	require.NoError(t, s.EraseAccount(t.Context(), s.as(rosa, ""), rosa.ID), "another organiser is there")
	const erased = `SELECT count(*) FROM audit WHERE act = 'account erased'`
	var told int
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), erased).Scan(&told))
	require.Equal(t, 5, told, "in every drive they worked for, and outside for who had none")
}

// Where everybody is erased the first link is given again, or nobody could come in.
func TestTheFirstLinkAfterAllAreErased(t *testing.T) {
	s := newStore(t)
	p, err := s.AddAccount(t.Context(), byCommand(s.fresh()), "Rosa Lind", "rosa@example.org", true)
	require.NoError(t, err)
	link, err := s.FirstLink(t.Context())
	require.NoError(t, err)
	require.Empty(t, link)
	require.NoError(t, s.EraseAccount(t.Context(), s.as(p, ""), p.ID))
	any, err := s.AnyAccount(t.Context())
	require.NoError(t, err)
	require.False(t, any)
	link, err = s.FirstLink(t.Context())
	require.NoError(t, err)
	_, err = s.UseFirstLink(t.Context(), link, "Elin Nord", "elin@example.org", "hash")
	require.NoError(t, err)
}

// Nothing is hung on an account while it is being erased: whoever wants to waits, and
// then finds nobody.
func TestNothingIsHungOnAnErasedAccount(t *testing.T) {
	late := map[string]func(t *testing.T, s *testStore, kai account.Person) error{
		"a drive": func(t *testing.T, s *testStore, kai account.Person) error {
			_, err := s.CreateDrive(t.Context(), drive.Act{Who: kai.ID, Key: "late-wish", At: s.clock.now}, drive.NewDrive("winter", "Winter", "UTC", length.In))
			return err
		},
		"a session": func(t *testing.T, s *testStore, kai account.Person) error {
			_, err := s.BeginSignIn(t.Context(), kai, Device{Words: "Firefox"}, false, false)
			return err
		},
		"a role": func(t *testing.T, s *testStore, kai account.Person) error {
			return s.SetRole(t.Context(), byCommand(s.actIn("autumn", "late role")), kai.Email, account.Desk)
		},
		"an invitation": func(t *testing.T, s *testStore, kai account.Person) error {
			_, err := s.TakeInvite(t.Context(), "invited", "the key", kai)
			return err
		},
		"a second step": func(t *testing.T, s *testStore, kai account.Person) error {
			return s.BeginSecondStep(t.Context(), drive.Act{Who: kai.ID, Key: "late-wish", At: s.clock.now}, []byte("sealed"))
		},
		"recovery codes": func(t *testing.T, s *testStore, kai account.Person) error {
			return s.RenewRecovery(t.Context(), drive.Act{Who: kai.ID, Key: "late-wish", At: s.clock.now}, [][]byte{[]byte("two")})
		},
		"a password": func(t *testing.T, s *testStore, kai account.Person) error {
			return s.ChangePassword(t.Context(), drive.Act{Who: kai.ID, Key: "late-wish", At: s.clock.now}, "hash", 0)
		},
		"a link to choose one": func(t *testing.T, s *testStore, kai account.Person) error {
			_, err := s.AccountLink(t.Context(), drive.Act{Key: "late-wish", At: s.clock.now}, kai.Email)
			return err
		},
	}
	for what, do := range late {
		t.Run(what, func(t *testing.T) {
			s := newStore(t)
			startDrive(t, s)
			startDriveAs(t, s, "autumn")
			signsIn(t, s, "Rosa Lind", "rosa@example.org", account.Organiser, "spring")
			kai := signsIn(t, s, "Kai Berg", "kai@example.org", account.Desk, "spring")
			_, err := s.MakeInvite(t.Context(), byCommand(s.actIn("autumn", "invite")), account.Desk, "", "invited")
			require.NoError(t, err)
			err = whileErased(t, s, s.as(kai, ""), kai.ID, func() error { return do(t, s, kai) })
			require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
			for _, table := range []string{"memberships", "sign_ins", "half_sign_ins", "devices", "second_steps", "recovery_codes", "links"} {
				var n int
				require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM `+table+` WHERE account_id = $1`, kai.ID).Scan(&n))
				require.Zero(t, n, table)
			}
		})
	}
}

// whileErased has an account erased, lets somebody do something once the account is held for
// that, and gives what came of it: it waits until the account is erased.
func whileErased(t *testing.T, s *testStore, erase drive.Act, id int64, do func() error) error {
	t.Helper()
	held, err := s.db.Owner().Begin(t.Context())
	require.NoError(t, err)
	defer func() { _ = held.Rollback(t.Context()) }() // it is over by then where all went well
	_, err = held.Exec(t.Context(), `SELECT pg_advisory_xact_lock(77)`)
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), `CREATE FUNCTION waits() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN PERFORM pg_advisory_xact_lock(77); RETURN NEW; END $$;
		CREATE TRIGGER waits AFTER UPDATE ON accounts FOR EACH ROW WHEN (NEW.erased_at IS NOT NULL) EXECUTE FUNCTION waits()`)
	require.NoError(t, err)
	erased, came := make(chan error, 1), make(chan error, 1)
	go func() { erased <- s.EraseAccount(t.Context(), erase, id) }()
	require.Eventually(t, func() bool { return lockWaiters(t, s) == 1 }, 20*time.Second, 5*time.Millisecond)
	go func() { came <- do() }()
	require.Eventually(t, func() bool { return lockWaiters(t, s) == 2 || len(came) == 1 }, 20*time.Second, 5*time.Millisecond)
	require.NoError(t, held.Commit(t.Context()))
	require.NoError(t, <-erased)
	return <-came
}
