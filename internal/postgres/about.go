package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// aboutQuery is one part of what is kept about somebody: its columns are named in
// words and are text.
type aboutQuery struct{ name, q string }

// aboutTrail is what the audit trail says of somebody ($1 drive, $2 number); $3 is the kind.
const aboutTrail = `SELECT to_char(at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "At (UTC)", act AS "Done",
		coalesce((SELECT string_agg(k, ', ' ORDER BY k) FROM jsonb_object_keys(changes) k), '') AS "Fields"
	FROM audit WHERE drive_id = $1 AND kind = $3 AND subject = ($2::bigint)::text OR drive_id = $1 AND link = $3 || ' ' || ($2::bigint)::text ORDER BY id`

// AboutPerson gives all that is kept about somebody who sews; not found where the
// drive has nobody of that number. It is for whoever may read contacts.
func (s *Store) AboutPerson(ctx context.Context, driveID string, number int64) (drive.About, error) {
	p, err := s.Person(ctx, driveID, number)
	if err != nil {
		return drive.About{}, err
	}
	return s.about(ctx, p.Name, driveID, []aboutQuery{
		{"Themselves", `SELECT name AS "Name", kind AS "Kind", heads::text AS "People in the group", contact AS "Ask for", email AS "E-mail", phone AS "Phone", address AS "Address",
				coalesce(agreed_on::text, '') AS "Agreed that it is kept on", pickup AS "Pickup place", CASE WHEN french_seam THEN 'yes' ELSE 'no' END AS "French seams",
				CASE WHEN overlocker THEN 'yes' ELSE 'no' END AS "Overlocker", CASE WHEN beginner THEN 'yes' ELSE 'no' END AS "Begins",
				coalesce(pace::text, '') AS "Pillowcases a week", language AS "Reads best", smoke AS "Smoke at home", pets AS "Pets at home", note AS "Note",
				CASE WHEN active THEN 'yes' ELSE 'no' END AS "Sews now", to_char(created_at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Kept since"
			FROM people WHERE drive_id = $1 AND number = $2 AND $3 <> ''`},
		{"Kits", `SELECT e.day::text AS "Day", e.kit || CASE WHEN e.part > 1 THEN '-' || e.part ELSE '' END AS "Kit", e.from_state AS "From", e.to_state AS "To", coalesce(e.due::text, '') AS "Due", e.cases::text AS "Pillowcases", e.reason AS "Why"
			FROM kit_entries e WHERE e.drive_id = $1 AND e.holder = $2 AND $3 <> '' ORDER BY e.id`},
		{"What they said of kits", `SELECT to_char(at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "At (UTC)", kit || CASE WHEN part > 1 THEN '-' || part ELSE '' END AS "Kit", kind AS "Said",
				coalesce(cases::text, '') AS "Finished", coalesce(until::text, '') AS "Until", note AS "Note"
			FROM kit_reports WHERE drive_id = $1 AND person = $2 AND $3 <> '' ORDER BY number`},
		{"Pillowcases", `SELECT e.day::text AS "Day", e.n::text AS "Pillowcases", e.from_state AS "From", e.to_state AS "To", e.reason AS "Why", coalesce(n.note, '') AS "Note"
			FROM case_entries e LEFT JOIN case_notes n ON n.drive_id = e.drive_id AND n.entry = e.id WHERE e.drive_id = $1 AND e.person = $2 AND $3 <> '' ORDER BY e.id`},
		{"Hours", `SELECT day::text AS "Day", doing AS "Doing", minutes::text AS "Minutes", heads::text AS "People", CASE WHEN undone_at IS NULL THEN 'yes' ELSE 'no' END AS "Counts"
			FROM hours WHERE drive_id = $1 AND person = $2 AND $3 <> '' ORDER BY number`},
		{"Reminders", `SELECT to_char(made_at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Made", kind AS "About", state AS "State", way AS "Way", trouble AS "Trouble"
			FROM reminders WHERE drive_id = $1 AND person = $2 AND $3 <> '' ORDER BY number`},
		{"Wishes no reminders", `SELECT to_char(at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Since" FROM reminder_stops WHERE drive_id = $1 AND person = $2 AND $3 <> ''`},
		{"Personal links", `SELECT to_char(created_at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Made", to_char(expires_at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Good until",
				coalesce(to_char(revoked_at AT TIME ZONE 'UTC', 'YYYY-MM-DD'), '') AS "Ended"
			FROM links WHERE drive_id = $1 AND person = $2 AND $3 <> '' ORDER BY created_at`},
		{"What was changed about them, and by their link", aboutTrail},
	}, driveID, number, "person")
}

// AboutDonor gives all that is kept about a donor; not found where the drive has
// none of that number. It is for whoever may read contacts.
func (s *Store) AboutDonor(ctx context.Context, driveID string, number int64) (drive.About, error) {
	d, err := s.Donor(ctx, driveID, number)
	if err != nil {
		return drive.About{}, err
	}
	return s.about(ctx, d.Name, driveID, []aboutQuery{
		{"Themselves", `SELECT name AS "Name", email AS "E-mail", phone AS "Phone", address AS "Address", CASE WHEN letter THEN 'yes' ELSE 'no' END AS "Wants a letter",
				CASE WHEN no_letters THEN 'yes' ELSE 'no' END AS "Wants none", note AS "Note", to_char(created_at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Kept since"
			FROM donors WHERE drive_id = $1 AND number = $2 AND $3 <> ''`},
		{"Gifts", `SELECT number::text AS "Lot", received_on::text AS "Day", coalesce((` + piecesCounted + `)::text, '') AS "Pieces", coalesce(kind, '') AS "Kind", note AS "Note",
				CASE WHEN photo IS NULL THEN 'no' ELSE 'yes' END AS "Photo" FROM lots WHERE drive_id = $1 AND donor = $2 AND $3 <> '' ORDER BY number`},
		{"Thanks", `SELECT gift_on::text AS "For the gift of", way AS "Way", thanked_on::text AS "On", CASE WHEN undone_at IS NULL THEN 'yes' ELSE 'no' END AS "Counts"
			FROM thanks WHERE drive_id = $1 AND donor = $2 AND $3 <> '' ORDER BY number`},
		{"What was changed about them", aboutTrail},
	}, driveID, number, "donor")
}

// AboutAccount gives all that is kept about somebody who signs in, in every drive;
// never the hash of a password or a token. Who is erased, or never was, is not found.
func (s *Store) AboutAccount(ctx context.Context, id int64) (drive.About, error) {
	const q = `SELECT name FROM accounts WHERE id = $1 AND erased_at IS NULL`
	var name string
	switch err := s.pool.QueryRow(ctx, q, id).Scan(&name); {
	case errors.Is(err, pgx.ErrNoRows):
		return drive.About{}, noAccount()
	case err != nil:
		return drive.About{}, fmt.Errorf("about an account: %w", err)
	}
	return s.about(ctx, name, "", []aboutQuery{
		{"Themselves", `SELECT name AS "Name", initials AS "Initials", email AS "E-mail", CASE WHEN password <> '' THEN 'yes' ELSE 'no' END AS "Has a password",
				CASE WHEN opens THEN 'yes' ELSE 'no' END AS "May start drives", to_char(created_at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Kept since" FROM accounts WHERE id = $1`},
		{"Drives they work for", `SELECT d.name AS "Drive", m.role AS "As", to_char(m.created_at AT TIME ZONE 'UTC', 'YYYY-MM-DD') AS "Since",
				coalesce(to_char(m.seen_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "Last there (UTC)"
			FROM memberships m JOIN drives d ON d.id = m.drive_id WHERE m.account_id = $1 ORDER BY d.name`},
		{"Signed in", `SELECT to_char(began_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Since (UTC)", device AS "With", to_char(seen_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Last seen (UTC)",
				coalesce(to_char(ended_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "Ended (UTC)",
				CASE WHEN told = 'known' THEN 'no' WHEN told = 'first' THEN 'their first' WHEN told IS NULL THEN '' ELSE 'yes' END AS "New browser",
				CASE WHEN told IN ('known', 'first', 'on the page') THEN '' ELSE coalesce(told, '') END AS "Mail about it",
				coalesce(to_char(told_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "Mail at (UTC)" FROM sign_ins WHERE account_id = $1 ORDER BY id`},
		{"Their password without the code", `SELECT to_char(began_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "At (UTC)", device AS "With", to_char(until AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Code awaited until (UTC)",
				wrong::text AS "Codes refused", coalesce(nullif(told, 'on the page'), '') AS "Mail about it", coalesce(to_char(told_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "Told at (UTC)",
				coalesce(to_char(mine_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "Said to be them (UTC)"
			FROM half_sign_ins WHERE account_id = $1 ORDER BY id`},
		{"Browsers they signed in at", `SELECT to_char(first_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "First (UTC)", to_char(seen_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Last (UTC)"
			FROM devices WHERE account_id = $1 ORDER BY first_at, seen_at`},
		{"Second step", `SELECT to_char(begun_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Begun (UTC)", coalesce(to_char(on_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "On since (UTC)",
				coalesce(to_char(to_timestamp(nullif(last_step, 0) * 30) AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "Last code (UTC)" FROM second_steps WHERE account_id = $1`},
		{"Recovery codes", `SELECT number::text AS "Code", coalesce(to_char(used_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), 'not used') AS "Used (UTC)" FROM recovery_codes WHERE account_id = $1 ORDER BY number`},
		{"Links to choose a password", `SELECT to_char(created_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Made (UTC)", to_char(expires_at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Good until (UTC)",
				coalesce(to_char(coalesce(used_at, revoked_at) AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI'), '') AS "Used or ended (UTC)" FROM links WHERE account_id = $1 ORDER BY created_at`},
		{"Invitations they made or came by", `SELECT drive_id AS "Drive", number::text AS "Invitation", role AS "As", to_char(at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Made (UTC)",
				CASE WHEN made_by = $1 THEN 'yes' ELSE 'no' END AS "Made by them", CASE WHEN used_by = $1 THEN 'yes' ELSE 'no' END AS "Used by them" FROM invites WHERE made_by = $1 OR used_by = $1 ORDER BY drive_id, number`},
		{"Passes they made or ended", `SELECT drive_id AS "Drive", number::text AS "Pass", role AS "As", place AS "Place", to_char(at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "Made (UTC)",
				CASE WHEN made_by = $1 THEN 'yes' ELSE 'no' END AS "Made by them", CASE WHEN ended_by = $1 THEN 'yes' ELSE 'no' END AS "Ended by them" FROM passes WHERE made_by = $1 OR ended_by = $1 ORDER BY drive_id, number`},
		{"Initials beside what they did", initialsTold()},
		{"What they did", `SELECT to_char(at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "At (UTC)", drive_id AS "Drive", act AS "Done", kind AS "To", subject AS "Which"
			FROM audit WHERE who = $1 ORDER BY id`},
		{"What was changed about them", `SELECT to_char(at AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI') AS "At (UTC)", drive_id AS "Drive", act AS "Done" FROM audit WHERE kind = 'account' AND subject = ($1::bigint)::text ORDER BY id`},
	}, id)
}

// AccountOf gives the number of the account with an e-mail address, not found where nobody has it.
func (s *Store) AccountOf(ctx context.Context, email string) (int64, error) {
	const q = `SELECT id FROM accounts WHERE email = lower(btrim($1))`
	var id int64
	err := s.pool.QueryRow(ctx, q, email).Scan(&id)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return 0, apperr.NotFound("Nobody signs in with the address %q.", email)
	case err != nil:
		return 0, fmt.Errorf("account of an address: %w", err)
	}
	return id, nil
}

func (s *Store) about(ctx context.Context, who, driveID string, parts []aboutQuery, args ...any) (drive.About, error) {
	about := drive.About{Who: who, Drive: driveID, MadeAt: s.now().UTC().Truncate(time.Second)}
	for _, p := range parts {
		rows, err := s.pool.Query(ctx, p.q, args...)
		if err != nil {
			return about, fmt.Errorf("about somebody, %s: %w", p.name, err)
		}
		part := drive.AboutPart{Name: p.name}
		part.Rows, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (map[string]string, error) {
			values := make([]string, len(row.FieldDescriptions()))
			into := make([]any, len(values))
			for i := range values {
				into[i] = &values[i]
			}
			if err := row.Scan(into...); err != nil {
				return nil, err
			}
			named := map[string]string{}
			part.Order = part.Order[:0]
			for i, f := range row.FieldDescriptions() {
				part.Order = append(part.Order, f.Name)
				named[f.Name] = values[i]
			}
			return named, nil
		})
		if err != nil {
			return about, fmt.Errorf("about somebody, %s: %w", p.name, err)
		}
		about.Parts = append(about.Parts, part)
	}
	return about, nil
}
