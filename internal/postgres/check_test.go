package postgres

import (
	"slices"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// A table that nobody thought about would be missing from the counts by which two
// databases are compared.
func TestEveryTableIsCounted(t *testing.T) {
	s, _ := lived(t)
	found, err := s.CheckBalances(t.Context())
	require.NoError(t, err)
	comeAndGo := []string{"goose_db_version", "once", "uploads", "asks", "forecasts", "lots_in_hand", "sessions", "sign_ins", "half_sign_ins", "devices", "sign_in_attempts", "erase_again", "backups", "backup_settings", "ledger_checks"}
	rows, err := s.db.Owner().Query(t.Context(), `SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1`)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), `INSERT INTO accounts (email, name, initials, created_at) VALUES ('a@example.org', 'A', 'A', now());
		INSERT INTO memberships (drive_id, account_id, role, created_at) SELECT 'spring', id, 'desk', now() FROM accounts;
		INSERT INTO links (id, purpose, drive_id, created_at, expires_at) VALUES ('invite', 'invite', 'spring', now(), now()), ('pass', 'pass', 'spring', now(), now());
		INSERT INTO invites (drive_id, number, role, link, made_by, at) VALUES ('spring', 1, 'desk', 'invite', 1, now());
		INSERT INTO passes (drive_id, number, role, place, link, code, code_until, made_by, at, until) VALUES ('spring', 1, 'desk', 'door', 'pass', '', now(), 1, now(), now() + interval '1 hour');
		INSERT INTO pass_hands (drive_id, pass, initials, at) VALUES ('spring', 1, 'RB', now());
		INSERT INTO sheet_remnants (drive_id, sheet, remnant, x, y, w, h, label) VALUES ('spring', 1, 99, 0, 0, 1, 1, 99);
		INSERT INTO delivery_settled (drive_id, delivery, settled, box, size, way, n, day, at, who) VALUES ('spring', 1, 99, 1, 1, 'found', 1, now(), now(), 1);
		INSERT INTO standing_asks (drive_id, number, recipient, sizes, wanted, due, lead_days, matter, weight, created_at) VALUES ('spring', 99, 1, '{1}', 40, now(), 14, 'should', 10, now());
		INSERT INTO box_rules (drive_id, box, line, rule, kept) VALUES ('spring', 1, 1, 'no buttons', true);
		INSERT INTO laundry (drive_id, number, started_on, at, who) VALUES ('spring', 1, now(), now(), 1);
		INSERT INTO laundry_lines (drive_id, batch, line, asked, size, kit, part, n) VALUES ('spring', 1, 1, 1, 1, 0, 0, 1);
		INSERT INTO laundry_left (drive_id, entry, batch, line, n) SELECT 'spring', min(id), 1, 1, 0 FROM case_entries WHERE drive_id = 'spring';
		INSERT INTO keeping (drive_id, people) VALUES ('spring', 24);
		INSERT INTO imports (drive_id, number, kind, taken, at, who) VALUES ('spring', 1, 'donors', 1, now(), 1);
		INSERT INTO import_rows (drive_id, import, kind, number, version) VALUES ('spring', 1, 'donor', 1, 1);
		INSERT INTO heading_choices (drive_id, kind, heading, means) VALUES ('spring', 'fabric', 'stoff', 'kind');
		INSERT INTO sheet_revisions (drive_id, sheet, revision, plan, used, panels, remnants, replaced_by, replaced_at) VALUES ('spring', 1, 1, 1, 1, '[]', '[]', 1, now())`)
	require.NoError(t, err)
	unwashed := bolt(t, s, false)
	handle(t, s, unwashed, drive.Handling{Kind: drive.DeedWashed, Sizes: []drive.WashedSize{{Piece: 1, Length: 100 * inch}}})
	_, err = s.CreateLabelPaper(t.Context(), s.fresh(), aLabelPaper(0), length.CM)
	require.NoError(t, err)
	_, err = s.PrintLabels(t.Context(), s.fresh(), drive.LabelWish{Which: drive.LabelsMissing, Start: 1, Paper: aLabelPaper(1)})
	require.NoError(t, err)
	take, err := s.BeginStocktake(t.Context(), s.fresh(), "")
	require.NoError(t, err)
	_, err = s.CountLot(t.Context(), s.fresh(), take, unwashed, 0, nil, false)
	require.NoError(t, err)
	_, err = s.SaveSupply(t.Context(), s.fresh(), drive.Supply{Name: "thread", PerKits: 1})
	require.NoError(t, err)
	_, err = s.UpdateLetterRules(t.Context(), s.fresh(), drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In).LetterRules())
	require.NoError(t, err)
	tagged(t, s, "Mary Ellis", 1)
	list, err := s.Donors(t.Context(), "spring", "Mary Ellis")
	require.NoError(t, err)
	_, err = s.NoteThanks(t.Context(), s.fresh(), []drive.GiftOf{{Donor: list[0].Number, On: drive.Day(s.clock.now, time.UTC)}}, drive.ThankedByLetter, dayIn(0))
	require.NoError(t, err)
	_, err = s.GiveHours(t.Context(), s.fresh(), drive.Hours{Person: addPerson(t, s, "Kim Roe"), Day: dayIn(0), Doing: "sewing", Heads: 1, Minutes: 60})
	require.NoError(t, err)
	ward := addRecipient(t, s, "Ward 9").Number
	_, err = s.AddLotRule(t.Context(), s.fresh(), drive.LotRule{Kind: drive.LotKeptFor, Lot: unwashed, Recipient: &ward})
	require.NoError(t, err)
	due, mary := dayIn(1), addPerson(t, s, "Bo Lund")
	kit := ownKits(t, s, addSize(t, s, "travel"), 1, 2, mary, &due)[0]
	_, err = s.ReportKit(t.Context(), s.fresh(), drive.KitReport{KitRef: kit, Person: mary, Kind: drive.ReportCannot})
	require.NoError(t, err)
	aReminder(t, s, mary, kit)
	remindersOn(t, s, false)
	_, err = s.SetReminded(t.Context(), s.fresh(), mary, false)
	require.NoError(t, err)
	_, err = s.UpdateCheckList(t.Context(), s.fresh(), drive.UsualCheckList(length.In))
	require.NoError(t, err)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: 1, N: 1, Note: "in a bag at the door"})
	require.NoError(t, err)
	d, err := s.Delivery(t.Context(), "spring", 1)
	require.NoError(t, err)
	sent := d.Boxes[0]
	_, err = s.ConfirmDelivery(t.Context(), s.fresh(), 1, drive.Confirmation{
		By: "Sister Hale", How: drive.ByPhone, On: *d.BookedOn, Arrived: []drive.Arrived{{Box: sent.Number, Size: sent.Lines[0].Size, N: 1}},
	})
	require.NoError(t, err)
	_, err = s.SettleDelivery(t.Context(), s.fresh(), 1, drive.Settlement{Box: sent.Number, Size: sent.Lines[0].Size, Way: drive.SettleMissing, N: 1, Reason: "nobody knows"})
	require.NoError(t, err)
	before := found
	found, err = s.CheckBalances(t.Context())
	require.NoError(t, err)
	require.Greater(t, found.Drives["spring"].Counts["fabric_entries"], before.Drives["spring"].Counts["fabric_entries"])
	for _, table := range tables {
		if slices.Contains(comeAndGo, table) {
			continue
		}
		_, ofDrive := found.Drives["spring"].Counts[table]
		_, outside := found.Outside[table]
		require.True(t, ofDrive || outside, "rows of %s are counted", table)
	}
}
