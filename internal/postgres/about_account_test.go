package postgres

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// All that is kept about somebody who signs in is told: each day and word in the tables about
// accounts is another here, and is in what they are given, but for what opens doors.
func TestAllThatIsKeptAboutAnAccount(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	p, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	day := func(n int) string { return fmt.Sprintf("20%02d-03-04 05:06+00", n) }
	_, err = s.db.Owner().Exec(t.Context(), fmt.Sprintf(`
		UPDATE accounts SET initials = 'RQL', created_at = '%[2]s' WHERE id = %[1]d;
		INSERT INTO memberships (drive_id, account_id, role, created_at, seen_at) VALUES ('spring', %[1]d, 'packing', '%[3]s', '%[4]s');
		INSERT INTO sign_ins (account_id, device, began_at, seen_at, ended_at, told, told_at) VALUES (%[1]d, 'Owl on a tablet', '%[5]s', '%[6]s', '%[7]s', 'perhaps sent', '%[13]s');
		INSERT INTO devices (account_id, mark, first_at, seen_at) VALUES (%[1]d, sha256('marked'), '%[14]s', '%[15]s');
		INSERT INTO half_sign_ins (account_id, epoch, device, mark, began_at, until, wrong, told, told_at, mine_at) VALUES (%[1]d, 0, 'Heron on a phone', sha256('half'), '%[16]s', '%[17]s', 4711, 'failed', '%[18]s', '%[19]s');
		INSERT INTO second_steps (account_id, secret, begun_at, on_at) VALUES (%[1]d, 'sealed', '%[8]s', '%[9]s');
		INSERT INTO recovery_codes (account_id, number, hash, used_at) VALUES (%[1]d, 7, 'hashed', '%[10]s');
		INSERT INTO links (id, purpose, drive_id, created_at, expires_at) VALUES ('door 1', 'invite', 'spring', now(), now()), ('door 2', 'pass', 'spring', now(), now());
		INSERT INTO invites (drive_id, number, role, link, made_by, at, used_by) VALUES ('spring', 81, 'desk', 'door 1', %[1]d, '%[11]s', %[1]d);
		INSERT INTO passes (drive_id, number, role, place, link, code, code_until, made_by, at, until) VALUES ('spring', 91, 'cutting', 'by the window', 'door 2', 'digits', now(), %[1]d, '%[12]s', timestamptz '%[12]s' + interval '1 hour')`,
		p.ID, day(30), day(31), day(32), day(33), day(34), day(35), day(36), day(37), day(38), day(39), day(40), day(41), day(42), day(43), day(44), day(45), day(46), day(47)))
	require.NoError(t, err)
	about, err := s.AboutAccount(t.Context(), p.ID)
	require.NoError(t, err)
	var text strings.Builder
	require.NoError(t, about.WriteText(&text))
	for n := 30; n <= 47; n++ {
		require.Contains(t, text.String(), day(n)[:10])
	}
	for _, is := range []string{"Rosa Lind", "rosa@example.org", "RQL", "packing", "Owl on a tablet", "81", "91", "by the window", "perhaps sent", "Heron on a phone", "4711", "failed"} {
		require.Contains(t, text.String(), is)
	}
	for _, door := range []string{"door 1", "door 2", "sealed", "hashed", "digits"} {
		require.NotContains(t, text.String(), door)
	}
	// A table that comes to speak of accounts is told of here too; rules of lots are among what they did.
	const q = `SELECT DISTINCT table_name::text FROM information_schema.columns JOIN information_schema.tables USING (table_schema, table_name)
		WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND column_name IN ('account_id', 'made_by', 'used_by', 'ended_by')`
	rows, err := s.db.Owner().Query(t.Context(), q)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	slices.Sort(tables)
	require.Equal(t, []string{"devices", "half_sign_ins", "invites", "links", "lot_rules", "memberships", "passes", "recovery_codes", "second_steps", "sign_ins"}, tables)
}
