package postgres

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// What a column that holds text is, as to people. A column that is not listed fails
// TestEveryTextIsClassified: whoever adds one says here what erases it.
const (
	ofPeople     = "erased with somebody who sews"
	ofDonors     = "erased with a donor"
	ofAccounts   = "erased with the account of somebody who signs in"
	ofRecipients = "the contact of a ward; changed on its page"
	ofDrive      = "what an organiser writes of the drive or themselves; changed in Settings"
	written      = "what people write; can be forgotten by hand or by keeping"
	things       = "photos and notes of cloth, kits and sheets; by keeping once those are done with, with the warning not to name people"
	notes        = "notes of what stands, and reasons in the books, with the warning not to name people; changed on the thing's page"
	initials     = "initials of helpers; by keeping"
	fleeting     = "gone by itself after a time"
	secret       = "a hash, a fingerprint or the id of a link: names nobody"
	plain        = "words, codes and figures of the trade: nothing personal"
)

func textColumns() map[string][]string {
	return map[string][]string{
		ofPeople: {
			"people.name", "people.contact", "people.email", "people.phone", "people.address", "people.pickup", "people.note", "people.language", "people.smoke", "people.pets",
			"kit_reports.note", "reminders.trouble",
		},
		ofDonors:   {"donors.name", "donors.email", "donors.phone", "donors.address", "donors.note"},
		ofAccounts: {"accounts.email", "accounts.name", "accounts.initials", "sign_ins.device", "half_sign_ins.device"},
		ofRecipients: {
			"recipients.name", "recipients.contact", "recipients.email", "recipients.phone", "recipients.address", "recipients.note",
		},
		ofDrive: {
			"drives.name", "drives.ask", "letter_rules.sender", "letter_rules.signed_by", "letter_rules.in_return", "letter_rules.registered", "letter_rules.wording",
			"reminder_rules.from_name", "reminder_rules.reply_to", "check_lists.points",
		},
		written: {
			"invites.name", "deliveries.carried_by", "deliveries.confirmed_by", "deliveries.note", "delivery_answers.said_by", "delivery_answers.note", "delivery_settled.reason", "box_rules.why",
			"case_notes.note", "checks.note", "laundry.note",
		},
		notes: {
			"asked.note", "standing_asks.note", "supplies.note", "lots.set_aside", "stocktakes.reason", "fabric_deeds.reason", "fabric_entries.reason", "kit_entries.reason", "case_entries.reason",
		},
		things:   {"lots.note", "photos.full_jpg", "photos.small_jpg", "kits.note", "kits.place", "sheets.short_why"},
		initials: {"pass_hands.initials", "boxes.packed_by", "boxes.checked_by", "checks.initials", "laundry.started_by", "laundry.done_by", "sheets.helper"},
		fleeting: {"lots_in_hand.tablet", "uploads.name", "uploads.content", "uploads.sheet", "uploads.trouble", "uploads.take_key", "uploads.state", "uploads.kind", "uploads.request", "once.answer", "once.key", "once.operation", "sessions.data"},
		secret:   {"accounts.password", "second_steps.secret", "recovery_codes.hash", "devices.mark", "half_sign_ins.mark", "half_sign_ins.form", "sign_ins.form", "invites.link", "passes.link", "passes.code", "sessions.token", "links.id", "sign_in_attempts.who", "sign_in_attempts.source", "once.hash", "photos.hash", "lots.photo"},
		plain: {
			"erase_again.kind", "erase_again.drive", "sign_ins.told", "half_sign_ins.told", "checks.looked", "ledger_checks.differences", "ledger_checks.differing", "invites.role", "passes.role", "passes.place", "backups.state", "backups.folder", "backups.file", "backups.sha256", "backups.counts", "backups.trouble", "backup_settings.folder", "backup_settings.recipients", "asked.matter", "asked.themes_wanted", "asked.themes_avoid", "asks.state", "asks.problem", "asks.plan", "asks.wishes", "asks.trouble", "forecasts.found",
			"audit.act", "imports.kind", "import_rows.kind", "audit.kind", "audit.subject", "audit.changes", "audit.link", "audit.request", "box_rules.rule", "case_balances.state", "case_entries.from_state", "case_entries.to_state", "case_entries.request",
			"check_lines.outcome", "check_lines.reasons", "counters.kind", "deliveries.confirmed_how", "delivery_answers.how", "delivery_answers.request", "delivery_settled.way", "delivery_settled.request",
			"drives.id", "drives.zone", "drives.unit", "drives.washing", "fabric_deeds.kind", "fabric_entries.kind", "fabric_entries.from_account", "fabric_entries.to_account", "fabric_entries.request",
			"fabric_washes.fibre", "fabric_washes.weight", "heading_choices.kind", "heading_choices.heading", "heading_choices.means", "hours.doing", "kit_entries.from_state", "kit_entries.to_state", "kit_entries.request",
			"kit_reports.kind", "kit_reports.request", "kit_reports.ended", "kits.state", "label_papers.name", "label_prints.which", "label_prints.paper", "letter_rules.paper", "links.purpose", "lot_rules.kind", "lot_rules.roles",
			"lots.tag", "lots.kind", "lots.shelf", "lots.fibre", "lots.weight", "lots.print", "lots.turn", "lots.border", "lots.colours", "lots.themes", "lots.ends", "memberships.role", "panels.role", "people.kind", "pieces.kind",
			"plans.state", "plans.problem", "plans.plan", "plans.phase", "plans.trouble", "plans.why", "plans.standing", "plans.solved", "recipients.kind", "recipients.ages", "recipients.fibres", "recipients.rules", "recipients.homes",
			"reminders.kind", "reminders.state", "reminders.way", "sheet_revisions.panels", "sheet_revisions.remnants", "sheets.state", "sizes.name", "sizes.spec", "standing_asks.matter",
			"standing_asks.themes_wanted", "standing_asks.themes_avoid", "stocktake_lots.counts", "stocktakes.shelf", "stocktakes.state", "supplies.name", "supplies.unit", "thanks.way",
		},
	}
}

// Every column of every table that can hold text is listed as what it is to people.
func TestEveryTextIsClassified(t *testing.T) {
	s := newStore(t)
	const q = `SELECT table_name || '.' || column_name FROM information_schema.columns JOIN information_schema.tables USING (table_schema, table_name)
		WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND (data_type IN ('text', 'jsonb', 'json', 'bytea', 'character varying') OR udt_name IN ('_text', '_varchar'))
			AND column_name <> 'drive_id'`
	rows, err := s.db.Owner().Query(t.Context(), q)
	require.NoError(t, err)
	there, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	listed := map[string]string{}
	for what, columns := range textColumns() {
		for _, c := range columns {
			require.Empty(t, listed[c], "%s is listed once", c)
			listed[c] = what
		}
	}
	for _, c := range there {
		require.NotEmpty(t, listed[c], "say in textColumns what %s is to people, and let what erases them erase it", c)
		delete(listed, c)
	}
	require.Empty(t, listed, "these are no columns")
}

// rowsWith gives the rows of every table that hold one of these, in small letters.
func rowsWith(t *testing.T, s *testStore, texts ...string) []string {
	t.Helper()
	const q = `SELECT table_name::text FROM information_schema.tables WHERE table_schema = 'public' AND table_type = 'BASE TABLE'`
	rows, err := s.db.Owner().Query(t.Context(), q)
	require.NoError(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	var found []string
	for _, table := range tables {
		for row := range strings.SplitSeq(strings.ToLower(rowsOf(t, s, table)), "\n") {
			if slices.ContainsFunc(texts, func(text string) bool { return strings.Contains(row, text) }) {
				found = append(found, table+" "+row)
			}
		}
	}
	return found
}

// somebodyWhoSews is a person with all that can be kept of one: contacts, a kit that
// came back, what they said of it, hours, a reminder and a link.
func somebodyWhoSews(t *testing.T) (*testStore, int64) {
	s, _ := planned(t)
	_, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	for _, sheet := range list.Sheets {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), sheet.Number)
		require.NoError(t, err)
	}
	saved, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{
		Kind: drive.PersonVolunteer, Name: zephyr, Heads: 1, Pickup: "Zephyr's porch", Language: "Zephyrish", Note: "zephyr likes owls",
	}, &drive.Contacts{Contact: "Mr Zephyr", Email: zephyrMail, Phone: zephyrPhone, Address: zephyrHome})
	require.NoError(t, err)
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{{Number: 1, Part: 1}}, Person: saved.Number})
	require.NoError(t, err)
	_, err = s.PersonLink(t.Context(), s.fresh(), saved.Number, false)
	require.NoError(t, err)
	_, err = s.ReportKit(t.Context(), s.fresh(), drive.KitReport{KitRef: drive.KitRef{Number: 1, Part: 1}, Person: saved.Number, Kind: drive.ReportCannot, Note: "zephyr is ill"})
	require.NoError(t, err)
	_, err = s.GiveHours(t.Context(), s.fresh(), drive.Hours{Person: saved.Number, Doing: "sewing", Heads: 1, Minutes: 60})
	require.NoError(t, err)
	return s, saved.Number
}

func TestSomebodyIsForgottenWhole(t *testing.T) {
	s, person := somebodyWhoSews(t)
	_, err := s.ErasePerson(t.Context(), s.fresh(), person)
	require.True(t, apperr.Is(err, apperr.KindConflict), "who has a kit is not forgotten: %v", err)
	require.ErrorContains(t, err, "They still have these kits: 1.")
	require.NotEmpty(t, rowsWith(t, s, "zephyr is ill"))
	_, err = s.TakeBack(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, drive.KitReturn{Sewn: 1, RestUnsewn: true}, dayIn(0))
	require.NoError(t, err)
	links, err := s.PersonLinks(t.Context(), "spring", []int64{person})
	require.NoError(t, err)
	require.Len(t, links, 1)
	balances := rowsOf(t, s, "case_balances", "kits", "hours", "case_entries", "kit_entries")

	act := s.fresh()
	saved, err := s.ErasePerson(t.Context(), act, person)
	require.NoError(t, err)
	again, err := s.ErasePerson(t.Context(), act, person)
	require.NoError(t, err)
	require.Equal(t, saved, again, "the same wish twice")
	require.Empty(t, rowsWith(t, s, "zephyr", zephyrPhone, "quarrel"), "nothing of them is kept in any table")
	require.Equal(t, balances, rowsOf(t, s, "case_balances", "kits", "hours", "case_entries", "kit_entries"), "what they sewed stays")
	agrees(t, s)
	_, err = s.PersonByLink(t.Context(), links[person])
	require.True(t, apperr.Is(err, apperr.KindNotFound), "their link is over")
	p, err := s.Person(t.Context(), "spring", person)
	require.NoError(t, err)
	require.NotNil(t, p.ErasedAt)
	_, err = s.UpdatePerson(t.Context(), s.fresh(), p, nil)
	require.Error(t, err)
	_, err = s.ErasePerson(t.Context(), s.fresh(), person)
	require.True(t, apperr.Is(err, apperr.KindConflict))
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{{Number: 2, Part: 1}}, Person: person})
	require.Error(t, err, "nobody gets kits in their place")
}

func TestAllThatIsKeptAboutSomebody(t *testing.T) {
	s, person := somebodyWhoSews(t)
	about, err := s.AboutPerson(t.Context(), "spring", person)
	require.NoError(t, err)
	var text, asJSON strings.Builder
	require.NoError(t, about.WriteText(&text))
	require.NoError(t, about.WriteJSON(&asJSON))
	var read drive.About
	require.NoError(t, json.Unmarshal([]byte(asJSON.String()), &read))
	for _, is := range []string{zephyr, zephyrMail, zephyrPhone, zephyrHome, "Mr Zephyr", "Zephyr's porch", "Zephyrish", "zephyr likes owls", "zephyr is ill", "personal link made", "person added", "sewing"} {
		require.Contains(t, text.String(), is)
		require.Contains(t, asJSON.String(), is)
	}
	links, err := s.PersonLinks(t.Context(), "spring", []int64{person})
	require.NoError(t, err)
	require.NotContains(t, asJSON.String(), links[person], "a link is no part of it: whoever has the file could use it")
	// Each column that is erased with somebody is in what they are given.
	for _, column := range textColumns()[ofPeople] {
		if column == "reminders.trouble" {
			continue // of a reminder that failed; there is none here
		}
		table, name, _ := strings.Cut(column, ".")
		var values []string
		rows, err := s.db.Owner().Query(t.Context(), `SELECT `+name+`::text FROM `+table+` WHERE `+map[string]string{"people": "number", "kit_reports": "person"}[table]+` = $1`, person)
		require.NoError(t, err)
		values, err = pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		for _, v := range slices.DeleteFunc(values, func(v string) bool { return v == "" }) {
			require.Contains(t, text.String(), v, column)
		}
	}
	_, err = s.AboutPerson(t.Context(), "spring", 99)
	require.True(t, apperr.Is(err, apperr.KindNotFound))
}

func TestWhatIsPastItsTimeIsForgotten(t *testing.T) {
	s, person := somebodyWhoSews(t)
	_, err := s.TakeBack(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, drive.KitReturn{Sewn: 1, RestUnsewn: true}, dayIn(0))
	require.NoError(t, err)
	months := 12
	n, err := s.ForgetPast(t.Context())
	require.NoError(t, err)
	require.Zero(t, n, "no drive said how long")
	_, err = s.UpdateKeeping(t.Context(), s.fresh(), drive.Keeping{People: &months, Donors: &months, Writing: &months})
	require.NoError(t, err)
	zero := 0
	_, err = s.UpdateKeeping(t.Context(), s.fresh(), drive.Keeping{People: &zero, Version: 1})
	require.NotEmpty(t, apperr.Fields(err)["people"])
	_, err = s.UpdateKeeping(t.Context(), s.fresh(), drive.Keeping{})
	require.True(t, apperr.Is(err, apperr.KindConflict), "somebody else has said since")

	s.clock.now = s.clock.now.AddDate(0, 11, 0)
	late := addPerson(t, s, "Late Comer")
	n, err = s.ForgetPast(t.Context())
	require.NoError(t, err)
	require.Zero(t, n, "eleven months are no twelve")

	s.clock.now = s.clock.now.AddDate(0, 1, 1)
	k, err := s.Keeping(t.Context(), "spring")
	require.NoError(t, err)
	past, err := s.PastKeeping(t.Context(), "spring", k)
	require.NoError(t, err)
	require.Contains(t, past.People, drive.Forgettable{Number: person, Name: zephyr, Last: past.People[slices.IndexFunc(past.People, func(f drive.Forgettable) bool { return f.Number == person })].Last})
	require.Equal(t, -1, slices.IndexFunc(past.People, func(f drive.Forgettable) bool { return f.Number == late }))
	n, err = s.ForgetPast(t.Context())
	require.NoError(t, err)
	require.Equal(t, len(past.People)+len(past.Donors), n, "what was shown before is what went")
	require.Empty(t, rowsWith(t, s, "zephyr"))
	var told int
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM audit WHERE act IN ('person erased', 'donor erased') AND request = 'keeping' AND at > $1`, s.clock.now.Add(-time.Hour)).Scan(&told))
	require.Equal(t, n, told, "each is in the trail")
	n, err = s.ForgetPast(t.Context())
	require.NoError(t, err)
	require.Zero(t, n)
	agrees(t, s)
}
