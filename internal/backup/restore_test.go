package backup

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
	"boltward/migrations"
)

// A backup of an older program is put in as it was made, and brought up to this one.
func TestAnOlderSchema(t *testing.T) {
	newest, err := migrations.Read(t.Context(), pgtest.New(t).Owner())
	require.NoError(t, err)
	old := pgtest.Empty(t)
	older := migrations.Versions{Queue: newest.Queue}
	for _, n := range newest.Ours {
		if n <= 40 && n != 19 { // and one that came in late
			older.Ours = append(older.Ours, n)
		}
	}
	require.NoError(t, migrations.MigrateTo(t.Context(), old.Owner(), older))
	there, err := migrations.Read(t.Context(), old.Owner())
	require.NoError(t, err)
	require.Equal(t, older, there)
	_, err = old.Owner().Exec(t.Context(), `
		INSERT INTO drives (id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, created_at) VALUES ('old', 'Old', 'Europe/Dublin', 'in', 'washed first', 4, 5, 1000, 1000, now());
		INSERT INTO lots (drive_id, number, received_on, fibre, weight, washed, print, colours, raw_length, raw_width, created_at, measured_at)
		VALUES ('old', 1, current_date, 'cotton', 'quilting', true, 'solid', '{navy}', 8128000, 1747520, now(), now());
		INSERT INTO counters (drive_id, kind, last) VALUES ('old', 'lot', 1);
		INSERT INTO pieces (drive_id, lot, piece, kind, width) VALUES ('old', 1, 1, 'whole', 1747520);
		INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		VALUES ('old', 1, 1, 'measured', 'outside', 'free', 8128000, 8128000::bigint * 1747520, now(), 1)`)
	require.NoError(t, err)
	seal, by := keySeal(t)
	h := &hall{postgres.New(old.Owner(), time.Now), old}
	file, made := h.write(t, seal)
	require.Equal(t, older, made.Versions)

	into := pgtest.Empty(t)
	with, due := returnTo(into, file, by), ""
	with.Erased = []postgres.Erased{{Kind: postgres.ErasedPerson, Drive: "old", Number: 7, At: time.Now()}}
	with.Say = func(sentence string) {
		if strings.HasPrefix(sentence, "Bringing the restored") {
			due = rowsAsText(t, into, `SELECT format('%s %s %s', kind, drive, number) FROM erase_again`)
		}
	}
	done, err := Restore(t.Context(), with)
	require.NoError(t, err)
	require.Equal(t, "person old 7", due, "who is still to be erased is known before it is brought up")
	require.Empty(t, rowsAsText(t, into, `SELECT kind FROM erase_again`))
	require.NoError(t, migrations.Known(t.Context(), into.Pool), "it is of this version now")
	require.Equal(t, "14203842560000", done.Balances.Drives["old"].Sums["fabric free"].String())
	require.Equal(t, shapeOf(t, pgtest.New(t)), shapeOf(t, into))

	// One that was prepared for this version already is not of the older one.
	_, err = Restore(t.Context(), returnTo(pgtest.New(t), file, by))
	require.ErrorContains(t, err, "prepared for a newer version")

	// Ended when its rows are kept already, it takes them out again, and then the key.
	undone, broken := false, pgtest.Empty(t)
	r := returnTo(broken, file, by)
	r.PutKey = func(string) (func() error, error) {
		undone = false
		return func() error { undone = true; return nil }, nil
	}
	hears := func(then func()) func(string) {
		return func(sentence string) {
			if strings.HasPrefix(sentence, "Bringing the restored") {
				require.Equal(t, "1", rowsAsText(t, broken, `SELECT number::text FROM lots`))
				then()
			}
		}
	}
	ctx, end := context.WithCancel(t.Context())
	r.Say = hears(end)
	_, err = Restore(ctx, r)
	require.ErrorIs(t, err, context.Canceled)
	require.True(t, undone, "the key goes with the rows")
	require.NoError(t, postgres.Empty(t.Context(), broken.Owner()))

	// Where they cannot be taken out the key stays, whatever has failed.
	broken = pgtest.Empty(t)
	r.Owner, err = pgxpool.New(t.Context(), broken.OwnerURL)
	require.NoError(t, err)
	r.Say = hears(func() {
		endAlone(t, broken)
		r.Owner.Close()
	})
	_, err = Restore(t.Context(), r)
	require.ErrorContains(t, err, "closed pool")
	require.ErrorContains(t, err, "take out again what was put in", "whichever side is told first that the connection has gone")
	require.False(t, undone, "rows never stay without the key that opens their links")
	require.ErrorContains(t, postgres.Empty(t.Context(), broken.Owner()), "not empty")

	// Where others may have come in once they were kept, nothing is taken out, nor is anybody erased.
	broken = pgtest.Empty(t)
	r.Owner, r.Erased = broken.Owner(), with.Erased
	r.Say = hears(func() { endAlone(t, broken) })
	_, err = Restore(t.Context(), r)
	require.ErrorContains(t, err, "was lost")
	require.ErrorContains(t, err, "boltward restore --finish")
	require.False(t, undone)
	require.Equal(t, "person old 7", rowsAsText(t, broken, `SELECT format('%s %s %s', kind, drive, number) FROM erase_again`))
	require.Equal(t, "1", rowsAsText(t, broken, `SELECT number::text FROM lots`))

	// Balances that do not agree once it is brought up: everything is taken out again.
	_, err = old.Owner().Exec(t.Context(), `UPDATE counters SET last = 0`)
	require.NoError(t, err)
	file, _ = h.write(t, seal)
	again := pgtest.Empty(t)
	_, err = Restore(t.Context(), returnTo(again, file, by))
	require.ErrorContains(t, err, "do not agree")
	require.NoError(t, postgres.Empty(t.Context(), again.Owner()))
	require.NoError(t, migrations.Known(t.Context(), again.Pool), "and it can be used")
}

// endAlone ends the connection by which a restore shuts others out.
func endAlone(t testing.TB, db *pgtest.DB) {
	t.Helper()
	const q = `SELECT count(pg_terminate_backend(pid))::text FROM pg_locks
		WHERE locktype = 'advisory' AND mode = 'ExclusiveLock' AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`
	require.Equal(t, "1", rowsAsText(t, db, q))
}

// Whatever is refused leaves an empty database as it was.
func TestRefusedRestores(t *testing.T) {
	h := newHall(t)
	seal, by := keySeal(t)
	file, _ := h.write(t, seal)
	refused := func(what, says string, r Return) {
		t.Helper()
		_, err := Restore(t.Context(), r)
		require.ErrorContains(t, err, says, what)
		require.True(t, apperr.Is(err, apperr.KindConflict), "%s: %v", what, err)
	}
	other := pgtest.Empty(t)
	_, err := other.Owner().Exec(t.Context(), `CREATE TABLE theirs (n int)`)
	require.NoError(t, err)
	refused("tables of another program", "tables of another program", returnTo(other, file, by))
	require.Equal(t, "theirs", rowsAsText(t, other, `SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace`))

	// What an empty database that is served makes by itself is no obstacle.
	there := pgtest.New(t)
	_, err = postgres.New(there.Pool, time.Now).FirstLink(t.Context())
	require.NoError(t, err)
	keyed := returnTo(there, file, by)
	keyed.PutKey = func(string) (func() error, error) {
		return nil, apperr.Conflict("another key")
	}
	refused("another key", "another key", keyed)
	undone := false
	r := returnTo(there, file, by)
	r.PutKey = func(string) (func() error, error) { return func() error { undone = true; return nil }, nil }

	_, err = h.db.Owner().Exec(t.Context(), `UPDATE case_balances SET n = n + 1`)
	require.NoError(t, err)
	off, _ := h.write(t, seal)
	r.File = off
	refused("balances that differ", "do not agree", r)
	require.True(t, undone, "the key is taken back")
	require.NoError(t, postgres.Empty(t.Context(), there.Owner()))
	r.Differing = true
	done, err := Restore(t.Context(), r)
	require.NoError(t, err)
	require.NotEmpty(t, done.Balances.Differences)
}

// A backup of a newer program is refused before anything is touched.
func TestANewerSchema(t *testing.T) {
	h := newHall(t)
	_, err := h.db.Owner().Exec(t.Context(), `INSERT INTO goose_db_version (version_id, is_applied) VALUES (99999, true)`)
	require.NoError(t, err)
	seal, by := keySeal(t)
	file, made := h.write(t, seal)
	require.True(t, slices.Contains(made.Versions.Ours, 99999))
	there := pgtest.Empty(t)
	_, err = Restore(t.Context(), returnTo(there, file, by))
	require.ErrorContains(t, err, "newer boltward")
	require.Empty(t, rowsAsText(t, there, `SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace`))
}

// Reminders that waited to be sent may have been sent since.
func TestRemindersAreDoubted(t *testing.T) {
	h := newHall(t)
	_, err := h.db.Owner().Exec(t.Context(), `
		INSERT INTO people (drive_id, number, kind, name, created_at) SELECT 'spring', i, 'volunteer', 'V' || i, now() FROM generate_series(1, 3) i;
		INSERT INTO counters (drive_id, kind, last) VALUES ('spring', 'person', 3), ('spring', 'reminder', 3);
		INSERT INTO reminders (drive_id, number, person, kind, kits, parts, state, made_at)
		SELECT 'spring', i, i, 'late', '{1}', '{1}', (ARRAY['queued', 'draft', 'sent'])[i], now() FROM generate_series(1, 3) i`)
	require.NoError(t, err)
	seal, by := keySeal(t)
	file, _ := h.write(t, seal)
	there := pgtest.New(t)
	done, err := Restore(t.Context(), returnTo(there, file, by))
	require.NoError(t, err)
	require.Equal(t, int64(1), done.Doubted)
	require.Equal(t, "draft\nperhaps sent\nsent", rowsAsText(t, there, `SELECT state FROM reminders ORDER BY 1`))
}

// What older programs told organisers of a failure, with hosts and logins, is told no more
// once their database or their backup is brought up.
func TestOlderTroublesAreTold(t *testing.T) {
	newest, err := migrations.Read(t.Context(), pgtest.New(t).Owner())
	require.NoError(t, err)
	older := migrations.Versions{Queue: newest.Queue}
	for _, n := range newest.Ours {
		if n < 73 {
			older.Ours = append(older.Ours, n)
		}
	}
	old := pgtest.Empty(t)
	require.NoError(t, migrations.MigrateTo(t.Context(), old.Owner(), older))
	_, err = old.Owner().Exec(t.Context(), `INSERT INTO backups (by_itself, state, began_at, ended_at, folder, file, trouble)
		SELECT true, 'failed', now(), now(), '/disk', 'a.age', unnest(ARRAY['backup to /disk/a.age: login "x" at db.example.org', 'This user may not write into /disk.'])`)
	require.NoError(t, err)
	require.NoError(t, migrations.Migrate(t.Context(), old.Owner()))
	require.Equal(t, "This user may not write into /disk.\n"+unexpected, rowsAsText(t, old, `SELECT trouble FROM backups ORDER BY trouble COLLATE "C"`))
}

// Every table of the schema is in a backup, or is one that is left out on purpose; and the
// server's own login may read all that.
func TestEveryTableIsCarried(t *testing.T) {
	h := newHall(t)
	seal, _ := keySeal(t)
	_, made := h.write(t, seal)
	var names []string
	for name := range made.Sums {
		names = append(names, name)
	}
	left := []string{"public.goose_db_version", "public.sessions", "public.sign_in_attempts", "public.erase_again", "river.river_leader", "river.river_migration", "river.river_notification", "river.river_queue"}
	for _, name := range left {
		require.NotContains(t, names, name)
	}
	var there []string
	require.NoError(t, json.Unmarshal([]byte(rowsAsText(t, h.db, `SELECT json_agg(schemaname || '.' || tablename)::text FROM pg_tables WHERE schemaname IN ('public', 'river')`)), &there))
	require.ElementsMatch(t, there, append(names, left...))
	require.NotEmpty(t, made.Sequences)
}
