package postgres

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"

	"boltward/internal/account"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// Marks are put into every column that something is to forget, and looked for afterwards.
const (
	mark      = "quokka in the attic"
	markMail  = "quokka@example.org"
	markShort = "qkka" // of four letters, as initials at a pass are
)

// holding gives every place of the whole database in which one of the marks stands, of
// every table that the catalogue knows, the queue's too.
func holding(t *testing.T, s *testStore) []string {
	t.Helper()
	const q = `SELECT c.oid::regclass::text FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE c.relkind IN ('r', 'p', 'm') AND n.nspname NOT IN ('pg_catalog', 'information_schema', 'pg_toast') ORDER BY 1`
	rows, err := s.db.Owner().Query(t.Context(), q)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Greater(t, len(tables), 60, "%v", tables)
	marks := []string{"quokka", markShort, hex.EncodeToString([]byte("quokka"))}
	var found []string
	for _, table := range tables {
		const hold = `SELECT coalesce(array_agg(e.key), '{}') FROM %s AS the_row, jsonb_each_text(to_jsonb(the_row)) e WHERE EXISTS (SELECT FROM unnest($1::text[]) m WHERE strpos(lower(e.value), m) > 0)`
		var columns []string
		require.NoError(t, s.db.Owner().QueryRow(t.Context(), fmt.Sprintf(hold, table), marks).Scan(&columns))
		for _, c := range columns {
			found = append(found, table+"."+c)
		}
	}
	slices.Sort(found)
	return slices.Compact(found)
}

// everyKind is a store with something in every table that holds what is forgotten, all of
// it long enough ago and done with.
func everyKind(t *testing.T) *testStore {
	t.Helper()
	s, person := somebodyWhoSews(t)
	_, err := s.TakeBack(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, drive.KitReturn{Sewn: 1, RestUnsewn: true}, dayIn(0))
	require.NoError(t, err)
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	number, box := onTheWay(t, s, lines[0].Asked, 2)
	_, err = s.ConfirmDelivery(t.Context(), s.fresh(), number, drive.Confirmation{
		By: "Sister Hale", How: drive.ByPhone, On: dayIn(0), Arrived: []drive.Arrived{{Box: box, Size: lines[0].Sizes[0], N: 2}},
	})
	require.NoError(t, err)
	p, err := s.AddAccount(t.Context(), s.fresh(), "Rosa Lind", "rosa@example.org", false)
	require.NoError(t, err)
	other, err := s.AddAccount(t.Context(), s.fresh(), "Elin Nord", "elin@example.org", false)
	require.NoError(t, err)
	for _, a := range []account.Person{p, other} {
		require.NoError(t, s.SetRole(t.Context(), s.fresh(), a.Email, account.Organiser))
	}
	_, err = s.BeginSignIn(t.Context(), p, Device{Words: "Firefox"}, false, false)
	require.NoError(t, err)
	halfIn(t, s, p, browser("Firefox", 1))
	_, err = s.MakeInvite(t.Context(), byCommand(s.fresh()), account.Desk, "Somebody", "an invitation")
	require.NoError(t, err)
	pass, err := s.MakePass(t.Context(), byCommand(s.fresh()), PassWish{Role: account.Desk, Place: "door"}, "a pass", []byte("code"))
	require.NoError(t, err)
	hash, err := s.KeepPhoto(t.Context(), "spring", Photo{Full: []byte("full"), Small: []byte("small"), Width: 4, Height: 3})
	require.NoError(t, err)
	lot := tagged(t, s, "Wool & Co", 1)
	_, err = s.SetLotPhoto(t.Context(), s.fresh(), lot, hash)
	require.NoError(t, err)
	_, err = s.SetAside(t.Context(), s.fresh(), lot, "mildew")
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), fmt.Sprintf(`
		INSERT INTO reminders (drive_id, number, person, kind, kits, parts, state, made_at, trouble) VALUES ('spring', 1, %d, 'late', '{1}', '{1}', 'failed', now(), 'no such box');
		INSERT INTO pass_hands (drive_id, pass, initials, at) VALUES ('spring', %d, 'AB', now()), ('spring', %[2]d, 'CD', now());
		INSERT INTO laundry (drive_id, number, started_on, done_on, at, who) VALUES ('spring', 90, '2026-01-02', '2026-01-02', now(), 1);
		INSERT INTO delivery_answers (drive_id, delivery, answer, how, said_on, at, who) VALUES ('spring', 1, 90, 'by phone', '2026-01-02', now(), 1);
		INSERT INTO delivery_settled (drive_id, delivery, settled, box, size, way, n, day, at, who) SELECT 'spring', 1, 90, number, 1, 'found', 1, '2026-01-02', now(), 1 FROM boxes;
		INSERT INTO box_rules (drive_id, box, line, rule, kept, why) SELECT 'spring', number, 90, 'no buttons', false, 'none left' FROM boxes;
		INSERT INTO case_notes (drive_id, entry, note) SELECT 'spring', id, '' FROM case_entries ON CONFLICT DO NOTHING`, person, pass.Number))
	require.NoError(t, err)
	return s
}

// forgets says for every kind of column what forgets it, and of which rows where not all.
func forgets() map[string]struct {
	of     string // the rows that are past their time
	by     func(*testing.T, *testStore)
	except []string // that hold no free text, and are emptied all the same
} {
	type how = struct {
		of     string
		by     func(*testing.T, *testStore)
		except []string
	}
	past := func(k func(months *int) drive.Keeping) func(*testing.T, *testStore) {
		return func(t *testing.T, s *testStore) {
			months := 2
			s.clock.now = s.clock.now.AddDate(0, 3, 0)
			_, err := s.UpdateKeeping(t.Context(), s.fresh(), k(&months))
			require.NoError(t, err)
			n, err := s.ForgetPast(t.Context())
			require.NoError(t, err)
			require.Positive(t, n)
			_, err = s.ForgetPhotos(t.Context())
			require.NoError(t, err)
			_, err = s.ForgetVisits(t.Context())
			require.NoError(t, err)
		}
	}
	return map[string]how{
		ofPeople: {by: past(func(m *int) drive.Keeping { return drive.Keeping{People: m} }), except: []string{"people.smoke", "people.pets"}},
		ofDonors: {by: past(func(m *int) drive.Keeping { return drive.Keeping{Donors: m} })},
		ofAccounts: {of: " WHERE %s = 1", by: func(t *testing.T, s *testStore) {
			require.NoError(t, s.EraseAccount(t.Context(), byCommand(s.fresh()), 1))
		}},
		written:  {by: past(func(m *int) drive.Keeping { return drive.Keeping{Writing: m} })},
		initials: {by: past(func(m *int) drive.Keeping { return drive.Keeping{Initials: m} })},
		things:   {by: past(func(m *int) drive.Keeping { return drive.Keeping{Things: m} })},
	}
}

// Whatever textColumns says that something forgets is nowhere in the database once it did:
// every such column is filled, and the whole database is looked through afterwards.
func TestWhatIsForgottenIsNowhere(t *testing.T) {
	columns := textColumns()
	for kind, how := range forgets() {
		t.Run(kind, func(t *testing.T) {
			s := everyKind(t)
			const key = `SELECT CASE WHEN $1 = 'accounts' THEN 'id' ELSE 'account_id' END`
			var marked []string
			for _, c := range columns[kind] {
				table, column, _ := strings.Cut(c, ".")
				rows := map[string]string{"kits": " WHERE state IN ('back', 'taken apart')", "lots": " WHERE set_aside <> ''", "sheets": " WHERE state = 'cut'"}[table]
				if how.of != "" {
					var id string
					require.NoError(t, s.db.Owner().QueryRow(t.Context(), key, table).Scan(&id))
					rows = fmt.Sprintf(how.of, id)
				}
				value := map[string]string{
					"accounts.email": markMail, "accounts.initials": markShort, "pass_hands.initials": "", "people.smoke": "yes", "people.pets": "yes",
				}[c]
				if value == "" {
					value = mark
				}
				set := `UPDATE ` + table + ` SET ` + column + ` = $1`
				args := []any{value}
				switch c {
				case "pass_hands.initials": // no two alike
					set, args = `UPDATE pass_hands SET initials = 'QKKA'`, nil
					rows = ` WHERE initials = 'AB'`
				case "photos.full_jpg", "photos.small_jpg":
					args[0] = []byte(mark)
				}
				done, err := s.db.Owner().Exec(t.Context(), set+rows, args...)
				require.NoError(t, err, c)
				require.Positive(t, done.RowsAffected(), "%s: no row of it is there", c)
				if !slices.Contains(how.except, c) {
					marked = append(marked, c)
				}
			}
			slices.Sort(marked)
			require.Equal(t, marked, holding(t, s), "what is looked for is found where it stands")
			how.by(t, s)
			require.Empty(t, holding(t, s))
			for _, c := range how.except {
				table, column, _ := strings.Cut(c, ".")
				var left int
				require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM `+table+` WHERE `+column+` <> ''`).Scan(&left))
				require.Zero(t, left, c)
			}
		})
	}
}
