package migrations_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/migrations"
)

// A database from before anybody who signs in could be erased, with rows in all that was
// changed for it, comes up whole, and takes from then on what it refused.
func TestRowsFromBeforeAccountsCouldBeErased(t *testing.T) {
	db, do := databaseBefore(t, 80)
	text := func(q string) (all string) {
		t.Helper()
		require.NoError(t, db.Owner().QueryRow(t.Context(), q).Scan(&all))
		return all
	}
	do(`INSERT INTO drives (id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, created_at) VALUES ('old', 'Old', 'Europe/Dublin', 'in', 'washed first', 4, 5, 1000, 1000, now());
		INSERT INTO accounts (email, name, initials, password, opens, created_at) VALUES
			('mabel@example.org', 'Mabel Ada Eve Lin Noor Quill', 'MAELNQ', 'a hash', true, now()), ('bo@example.org', 'Bo', 'B', '', false, now());
		INSERT INTO audit (drive_id, at, who, initials, act, kind, subject, changes) VALUES
			('old', now(), 1, 'MAELNQ', 'lot tagged', 'lot', '1', '{"pieces": {"To": 2}}'), ('old', now(), -1001, 'RB', 'lot tagged', 'lot', '2', '{}');
		INSERT INTO links (id, purpose, drive_id, created_at, expires_at) VALUES ('by the door', 'pass', 'old', now(), now());
		INSERT INTO passes (drive_id, number, role, place, link, code, code_until, made_by, at, until) VALUES ('old', 1, 'desk', 'door', 'by the door', 'c', now(), 1, now(), now() + interval '1 hour');
		INSERT INTO pass_hands (drive_id, pass, initials, at) VALUES ('old', 1, 'RB', now()), ('old', 1, 'KLMN', now());
		INSERT INTO keeping (drive_id, people, donors, writing, version) VALUES ('old', 24, NULL, 240, 7)`)
	do(`INSERT INTO ledger_checks (at, seconds, differences) VALUES
		(now(), 1, '[]'), (now(), 1, '[{"drive": "old", "what": "lot 1"}]'),
		(now(), 1, (SELECT jsonb_agg(jsonb_build_object('drive', CASE WHEN n <= 160 THEN 'old' ELSE 'other' END, 'what', 'lot ' || n) ORDER BY n) FROM generate_series(1, 200) AS n))`)

	require.NoError(t, migrations.Migrate(t.Context(), db.Owner()))
	require.NoError(t, migrations.Known(t.Context(), db.Pool))

	require.Equal(t, "1 mabel@example.org MAELNQ a hash t, 2 bo@example.org B  f",
		text(`SELECT string_agg(concat_ws(' ', id, email, initials, password, opens), ', ' ORDER BY id) FROM accounts WHERE erased_at IS NULL`))
	require.Equal(t, `1 lot tagged 1 {"pieces": {"To": 2}}, -1001 lot tagged 2 {}`,
		text(`SELECT string_agg(concat_ws(' ', who, act, subject, changes), ', ' ORDER BY id) FROM audit`))
	require.Equal(t, "24 240 7", text(`SELECT concat_ws(' ', people, donors, writing, initials, things, version) FROM keeping`))
	require.Equal(t, `0 {} , 1 {"old": 1} lot 1, 90 {"old": 160, "other": 40} lot 1`,
		text(`SELECT string_agg(concat_ws(' ', jsonb_array_length(differences), differing, coalesce(differences -> 0 ->> 'what', '')), ', ' ORDER BY id) FROM ledger_checks`))
	require.Equal(t, "lot 50, lot 161", text(`SELECT (differences -> 49 ->> 'what') || ', ' || (differences -> 50 ->> 'what') FROM ledger_checks ORDER BY id DESC LIMIT 1`), "the first fifty of each drive, in their order")

	// What was refused before: nobody's initials, several helpers without any, nobody's address.
	do(`UPDATE accounts SET name = 'Erased account 1', email = NULL, initials = '', password = '', opens = false, erased_at = now() WHERE id = 1;
		UPDATE pass_hands SET initials = '';
		UPDATE keeping SET initials = 12, things = 6`)
	require.Equal(t, "-1002 a helper (pass 1, door) ; -1001 a helper (pass 1, door) ; 1 Erased account 1 ; 2 Bo B",
		text(`SELECT string_agg(concat_ws(' ', id, name, initials), '; ' ORDER BY id) FROM signers`))
	_, err := db.Owner().Exec(t.Context(), `UPDATE accounts SET initials = '' WHERE id = 2`)
	require.ErrorContains(t, err, "accounts_initials_short", "who is not erased has initials")
}
