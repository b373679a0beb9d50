package postgres_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

// accountStore is a store with one drive and a clock that can be moved.
type accountStore struct {
	*postgres.Store
	t  *testing.T
	db *pgtest.DB
	at time.Time
}

func newAccountStore(t *testing.T) *accountStore {
	t.Helper()
	s := &accountStore{t: t, db: pgtest.New(t), at: time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)}
	s.Store = postgres.New(s.db.Pool, func() time.Time { return s.at })
	_, err := s.CreateDrive(context.Background(), s.act("", "drive"), drive.Drive{
		ID: "spring", Name: "Spring drive", Zone: "Europe/Dublin", Unit: length.CM, Washing: drive.WashedFirst, KitCases: 4,
		KeepWidth: 9 * length.Inch, KeepLength: 18 * length.Inch,
	})
	require.NoError(t, err)
	return s
}

func (s *accountStore) act(driveID, key string) drive.Act {
	return drive.Act{Drive: driveID, Key: "account-test-" + key, At: s.at, Request: "test"}
}

func (s *accountStore) add(name, email string) account.Person {
	s.t.Helper()
	p, err := s.AddAccount(context.Background(), s.act("", "add-"+email), name, email, false)
	require.NoError(s.t, err)
	return p
}

func TestAccountsAndRoles(t *testing.T) {
	s, ctx := newAccountStore(t), context.Background()
	any, err := s.AnyAccount(ctx)
	require.NoError(t, err)
	require.False(t, any)
	rosa, ines := s.add("Rosa Lind", "Rosa@example.org"), s.add("Ines Okafor", "ines@example.org")
	require.Equal(t, "rosa@example.org", rosa.Email)
	require.Equal(t, "RL", rosa.Initials)

	again, err := s.AddAccount(ctx, s.act("", "add-Rosa@example.org"), "Rosa Lind", "Rosa@example.org", false)
	require.NoError(t, err)
	require.Equal(t, rosa.ID, again.ID, "the same wish is one account")
	_, err = s.AddAccount(ctx, s.act("", "other"), "Other", "rosa@example.org", false)
	require.NotEmpty(t, apperr.Fields(err)["email"], "an address is one person's")

	require.NoError(t, s.SetRole(ctx, s.act("spring", "r1"), rosa.Email, account.Organiser))
	require.NoError(t, s.SetRole(ctx, s.act("spring", "r2"), ines.Email, account.Desk))
	number, err := s.BeginSignIn(ctx, ines, postgres.Device{Words: "Firefox on Android"}, false, false)
	require.NoError(t, err)
	v, err := s.Visit(ctx, number, "spring", postgres.Looking{})
	require.NoError(t, err)
	require.Equal(t, ines, v.Person)
	require.Equal(t, account.Desk, v.Role)
	v, err = s.Visit(ctx, number, "autumn", postgres.Looking{})
	require.NoError(t, err)
	require.Empty(t, v.Role)
	_, err = s.Visit(ctx, number+1, "spring", postgres.Looking{})
	require.True(t, apperr.Is(err, apperr.KindNotFound))

	err = s.SetRole(ctx, s.act("spring", "r3"), rosa.Email, account.Reader)
	require.True(t, apperr.Is(err, apperr.KindConflict), "the last organiser stays: %v", err)
	require.NoError(t, s.SetRole(ctx, s.act("spring", "r4"), ines.Email, account.Organiser))
	require.NoError(t, s.SetRole(ctx, s.act("spring", "r5"), rosa.Email, ""))
	require.Error(t, s.SetRole(ctx, s.act("spring", "r6"), rosa.Email, account.VolunteerLink), "nobody signs in as a link")
	members, err := s.MemberOf(ctx, ines.ID)
	require.NoError(t, err)
	require.Equal(t, []postgres.Member{{DriveID: "spring", DriveName: "Spring drive", Role: account.Organiser, Zone: "Europe/Dublin"}}, members)
	lines, err := s.Accounts(ctx)
	require.NoError(t, err)
	require.Len(t, lines, 2)
	require.Equal(t, "ines@example.org", lines[0].Email)
	require.Len(t, lines[0].Roles, 1)
	require.Empty(t, lines[1].Roles)

	var named int
	require.NoError(t, s.db.Pool.QueryRow(ctx, `SELECT count(*) FROM audit WHERE changes::text ILIKE '%rosa%' OR subject ILIKE '%rosa%'`).Scan(&named))
	require.Zero(t, named, "the audit trail names people by id")
}

// Two organisers who each take the other's role away: one of them stays.
func TestTheLastOrganiserUnderARace(t *testing.T) {
	s, ctx := newAccountStore(t), context.Background()
	for _, email := range []string{"a@example.org", "b@example.org"} {
		s.add("Person", email)
		require.NoError(t, s.SetRole(ctx, s.act("spring", "role-"+email), email, account.Organiser))
	}
	var wg sync.WaitGroup
	errs := make([]error, 2)
	for i, email := range []string{"a@example.org", "b@example.org"} {
		wg.Go(func() { errs[i] = s.SetRole(ctx, s.act("spring", "leave-"+email), email, "") })
	}
	wg.Wait()
	require.NotEqual(t, errs[0] == nil, errs[1] == nil, "one leaves, one is refused: %v", errs)

	left, err := s.Members(ctx, "spring")
	require.NoError(t, err)
	require.Len(t, left, 1)
	other := s.add("Person", "c@example.org")
	require.NoError(t, s.SetRole(ctx, s.act("spring", "role-c"), other.Email, account.Organiser))
	for i, id := range []int64{left[0].ID, other.ID} {
		m, err := s.Member(ctx, "spring", id)
		require.NoError(t, err)
		wg.Go(func() {
			errs[i] = s.ChangeRole(ctx, s.act("spring", "down-"+m.Email), id, m.Version, account.Desk)
		})
	}
	wg.Wait()
	require.NotEqual(t, errs[0] == nil, errs[1] == nil, "the same by the page: %v", errs)
}

func TestTriesAreCounted(t *testing.T) {
	s, ctx := newAccountStore(t), context.Background()
	who, hall, home := []byte("who-fingerprint"), []byte("hall-fingerprint"), []byte("home-fingerprint")
	try := func(who, source []byte) (int64, bool) {
		id, allowed, err := s.TrySignIn(ctx, who, source)
		require.NoError(t, err)
		return id, allowed
	}
	for range 5 {
		_, allowed := try(who, hall)
		require.True(t, allowed)
	}
	_, allowed := try(who, hall)
	require.False(t, allowed)
	id, allowed := try(who, home)
	require.True(t, allowed)
	require.NoError(t, s.SignedIn(ctx, id))
	s.at = s.at.Add(account.TryWindow)
	id, allowed = try(who, hall)
	require.True(t, allowed, "refused tries do not lengthen the wait")
	require.NoError(t, s.SignedIn(ctx, id))

	s.at = s.at.Add(account.KnownFor + time.Hour)
	id, _ = try(who, home)
	require.NoError(t, s.SignedIn(ctx, id))
	var left int
	require.NoError(t, s.db.Pool.QueryRow(ctx, `SELECT count(*) FROM sign_in_attempts`).Scan(&left))
	require.Equal(t, 1, left, "old tries are cleared away")
}
