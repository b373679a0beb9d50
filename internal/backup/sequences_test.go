package backup

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
	"boltward/migrations"
)

// Numbers of reports go on after a restore, wherever their sequence stood when the backup was made:
// after the migrations that brought it, or as it was left by the first of them.
func TestReportsGoOnAfterARestore(t *testing.T) {
	newest, err := migrations.Read(t.Context(), pgtest.New(t).Owner())
	require.NoError(t, err)
	before := func(n int64) migrations.Versions {
		v := migrations.Versions{Queue: newest.Queue}
		for _, have := range newest.Ours {
			if have < n {
				v.Ours = append(v.Ours, have)
			}
		}
		return v
	}
	kit := drive.KitReport{KitRef: drive.KitRef{Number: 1, Part: 1}, Person: 1, Kind: drive.ReportCannot}
	for _, c := range []struct {
		why  string
		up   func(*pgtest.DB) error
		rows bool
		last string // that the sequence tells of when the backup is made
		want int64
	}{
		{"migrated before it was backed up", func(db *pgtest.DB) error { return migrations.Migrate(t.Context(), db.Owner()) }, true, "3", 4},
		{"nothing was said yet", func(db *pgtest.DB) error { return migrations.Migrate(t.Context(), db.Owner()) }, false, "", 1},
		{"backed up before its sequence was set right", func(db *pgtest.DB) error { return migrations.MigrateTo(t.Context(), db.Owner(), before(89)) }, true, "", 4},
		{"a sequence that tells of no number", func(db *pgtest.DB) error {
			if err := migrations.Migrate(t.Context(), db.Owner()); err != nil {
				return err
			}
			_, err := db.Owner().Exec(t.Context(), `SELECT setval('kit_reports_number_seq', 4, false)`)
			return err
		}, true, "", 4},
	} {
		old := pgtest.Empty(t)
		require.NoError(t, migrations.MigrateTo(t.Context(), old.Owner(), before(86)))
		do := func(q string) {
			t.Helper()
			_, err := old.Owner().Exec(t.Context(), q)
			require.NoError(t, err, c.why)
		}
		do(`INSERT INTO drives (id, name, zone, unit, washing, kit_cases, spare_share, keep_width, keep_length, created_at) VALUES ('spring', 'Spring', 'Europe/Dublin', 'in', 'washed first', 4, 5, 1000, 1000, now());
			INSERT INTO people (drive_id, number, kind, name, created_at) VALUES ('spring', 1, 'volunteer', 'Ada Lane', now());
			INSERT INTO sizes (drive_id, number, name, spec, created_at) VALUES ('spring', 1, 'Standard', '{}', now());
			INSERT INTO kits (drive_id, number, size, created_at) VALUES ('spring', 1, 1, now());
			INSERT INTO counters (drive_id, kind, last) VALUES ('spring', 'person', 1), ('spring', 'size', 1), ('spring', 'kit', 1);
			INSERT INTO kit_entries (drive_id, kit, part, from_state, to_state, holder, due, day, cases, at, who) VALUES ('spring', 1, 1, 'born', 'out', 1, '2026-05-01', '2026-04-01', 0, now(), 1)`)
		if c.rows {
			do(`INSERT INTO kit_reports (drive_id, number, kit, part, person, kind, note, at, ended, ended_at)
					SELECT 'spring', n, 1, 1, 1, 'cannot', '', now(), 'answered', now() FROM generate_series(1, 3) n;
				INSERT INTO counters (drive_id, kind, last) VALUES ('spring', 'report', 3)`)
		}
		require.NoError(t, c.up(old), c.why)
		require.Equal(t, c.last, rowsAsText(t, old, `SELECT last_value::text FROM pg_sequences WHERE sequencename = 'kit_reports_number_seq'`), c.why)
		seal, by := keySeal(t)
		file, _ := (&hall{postgres.New(old.Owner(), time.Now), old}).write(t, seal)
		into := pgtest.Empty(t)
		done, err := Restore(t.Context(), returnTo(into, file, by))
		require.NoError(t, err, c.why)
		require.True(t, done.Balances.Agree(), "%s: %v", c.why, done.Balances.Differences)
		got, err := postgres.New(into.Pool, time.Now).ReportKit(t.Context(), act("report"), kit)
		require.NoError(t, err, c.why)
		require.Equal(t, c.want, got, c.why)
	}
}

// The numbers of helpers at a tablet go down from one to the next: a restore goes on from the lowest,
// and nothing differs for it.
func TestHandsAtATabletGoOnAfterARestore(t *testing.T) {
	h := newHall(t)
	byCommand := act("pass")
	byCommand.Who = 0
	made, err := h.MakePass(t.Context(), byCommand, postgres.PassWish{Role: account.Desk, Place: "by the door"}, "tablet", []byte("digits"))
	require.NoError(t, err)
	opened, err := h.OpenPass(t.Context(), "tablet", "opened", "a tablet")
	require.NoError(t, err)
	at := postgres.PassVisit{Drive: "spring", Number: made.Number}
	for _, initials := range []string{"RB", "KL", "MN"} {
		require.NoError(t, h.SetHand(t.Context(), opened.SignIn, at, initials))
	}
	found, err := h.CheckAll(t.Context())
	require.NoError(t, err)
	require.True(t, found.Agree(), "%v", found.Differences)

	seal, by := keySeal(t)
	file, _ := h.write(t, seal)
	into := pgtest.Empty(t)
	done, err := Restore(t.Context(), returnTo(into, file, by))
	require.NoError(t, err)
	require.True(t, done.Balances.Agree(), "%v", done.Balances.Differences)
	again := postgres.New(into.Pool, time.Now)
	require.NoError(t, again.SetHand(t.Context(), opened.SignIn, at, "OP"))

	_, err = into.Owner().Exec(t.Context(), `SELECT setval('pass_hands_id_seq', -1002)`)
	require.NoError(t, err)
	found, err = again.CheckAll(t.Context())
	require.NoError(t, err)
	require.Len(t, found.Differences, 1, "it stands above the lowest")
}
