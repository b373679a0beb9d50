package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
)

// reminderLost is how long a reminder that is being sent counts as on its way; a
// crash is supposed after that.
const reminderLost = 3 * time.Minute

// unanswered is what holds of a kit k that a reminder may speak of: the drive owes
// no answer to what was said of it, and it is not all finished.
const unanswered = `NOT EXISTS (SELECT FROM kit_reports a WHERE a.drive_id = k.drive_id AND a.kit = k.number AND a.part = k.part AND a.ended_at IS NULL
	AND (a.kind IN ('longer', 'cannot') OR a.cases >= k.cases))`

// reminderQuery: $1 drive, $2 when sending had to begin to count as on its way, $3 now.
const reminderQuery = `SELECT m.number, m.person, p.name, m.kind, CASE WHEN m.state = 'sending' AND m.began_at < $2 THEN 'perhaps sent' ELSE m.state END AS state,
		m.way, m.made_at, m.ended_at, m.trouble, p.email, p.phone, coalesce(l.id, '') AS link, coalesce(w.initials, '') AS initials,
		coalesce((SELECT jsonb_agg(jsonb_build_object('number', k.number, 'part', k.part, 'cases', k.cases, 'size', z.name,
					'due', to_char(k.due, 'YYYY-MM-DD"T00:00:00Z"'), 'since', to_char(k.since, 'YYYY-MM-DD"T00:00:00Z"'))
				ORDER BY k.due NULLS LAST, k.number, k.part)
			FROM unnest(m.kits, m.parts) AS n (number, part)
			JOIN kits k ON k.drive_id = m.drive_id AND k.number = n.number AND k.part = n.part AND k.state = 'out' AND k.holder = m.person AND ` + unanswered + `
			JOIN sizes z ON z.drive_id = k.drive_id AND z.number = k.size), '[]') AS kits
	FROM reminders m
	JOIN people p ON p.drive_id = m.drive_id AND p.number = m.person
	LEFT JOIN links l ON l.drive_id = m.drive_id AND l.person = m.person AND l.revoked_at IS NULL AND l.expires_at > $3
	LEFT JOIN signers w ON w.id = m.who
	WHERE m.drive_id = $1`

// Reminders gives those that stand, the oldest first, and the latest of those
// that ended, newest first, at most limit.
func (s *Store) Reminders(ctx context.Context, driveID string, limit int) (standing, ended []drive.Reminder, err error) {
	now := s.now()
	const q = reminderQuery + ` AND m.state IN ('draft', 'queued', 'sending') ORDER BY m.number`
	if standing, err = remindersIn(ctx, s.pool, q, driveID, now.Add(-reminderLost), now); err != nil {
		return nil, nil, err
	}
	const old = reminderQuery + ` AND m.state NOT IN ('draft', 'queued', 'sending') ORDER BY coalesce(m.ended_at, m.made_at) DESC, m.number DESC LIMIT $4`
	ended, err = remindersIn(ctx, s.pool, old, driveID, now.Add(-reminderLost), now, limit)
	return standing, ended, err
}

func remindersIn(ctx context.Context, db querier, q string, args ...any) ([]drive.Reminder, error) {
	rows, err := db.Query(ctx, q, args...)
	if err != nil {
		return nil, fmt.Errorf("reminders: %w", err)
	}
	return collect(rows, "reminders", pgx.RowToStructByName[drive.Reminder])
}

// RemindersDue makes the reminders that the rules of every drive ask for today,
// in the hours in which a message wakes nobody, and says how many. Any number of workers may do it at once: one stands for a
// person at a time. Where the drive sends them by itself and mails says that the
// program can, those to people with an address are queued at once. A drive that fails
// keeps no other from its reminders; the error names each that did.
func (s *Store) RemindersDue(ctx context.Context, mails bool) (int, error) {
	const q = `SELECT drive_id FROM reminder_rules WHERE on_at ORDER BY drive_id`
	rows, err := s.pool.Query(ctx, q)
	if err != nil {
		return 0, fmt.Errorf("drives that remind: %w", err)
	}
	drives, err := collect(rows, "drives that remind", pgx.RowTo[string])
	if err != nil {
		return 0, err
	}
	all := 0
	var failed []error
	for _, id := range drives {
		made, err := s.remindersOf(ctx, id, mails)
		all += made
		if err != nil {
			failed = append(failed, fmt.Errorf("reminders of %s: %w", id, err))
		}
	}
	return all, errors.Join(failed...)
}

// remindersOf is RemindersDue for one drive.
func (s *Store) remindersOf(ctx context.Context, driveID string, mails bool) (int, error) {
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return 0, err
	}
	if hour := s.now().In(d.Location()).Hour(); hour < drive.RemindFrom || hour >= drive.RemindUntil {
		return 0, nil
	}
	return inOne(ctx, s, func(tx pgx.Tx) (int, error) { return s.remindersDue(ctx, tx, driveID, mails) })
}

// inOne does something in one transaction and gives how many came of it, none where it failed.
func inOne(ctx context.Context, s *Store, do func(pgx.Tx) (int, error)) (n int, err error) {
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		n, err = do(tx)
		return err
	})
	if err != nil {
		return 0, err
	}
	return n, nil
}

// MakeReminders is RemindersDue for one drive, when somebody asks.
func (s *Store) MakeReminders(ctx context.Context, act drive.Act, mails bool) (int, error) {
	return once(ctx, s, act, "make reminders", nil, func(tx pgx.Tx) (int, error) {
		made, err := s.remindersDue(ctx, tx, act.Drive, mails)
		if err != nil {
			return made, err
		}
		return made, audit(ctx, tx, act, "reminders looked for", "drive", act.Drive, changes{"made": {To: made}})
	})
}

func (s *Store) remindersDue(ctx context.Context, tx pgx.Tx, driveID string, mails bool) (int, error) {
	// One at a time for a drive; whoever is second finds what the first has made.
	if err := lockDrive(ctx, tx, driveID); err != nil {
		return 0, err
	}
	d, err := driveIn(ctx, tx, driveID)
	if err != nil {
		return 0, err
	}
	rules, err := reminderRules(ctx, tx, driveID)
	if err != nil {
		return 0, err
	}
	people, err := remindable(ctx, tx, d)
	if err != nil {
		return 0, err
	}
	today, made := drive.Day(s.now(), d.Location()), 0
	if rules.ByItself && mails && rules.Reminds(today) {
		if err := s.queueDrafts(ctx, tx, driveID); err != nil {
			return 0, err
		}
	}
	for _, p := range people {
		kind, kits := rules.Reminder(p.Remindable, today)
		if kind == "" {
			continue
		}
		number, err := s.insertReminder(ctx, tx, driveID, p.Person, kind, kits)
		if err != nil {
			return made, err
		}
		if number == 0 {
			continue
		}
		made++
		if rules.ByItself && mails && p.Mail {
			if err := s.queueReminder(ctx, tx, driveID, number, 0); err != nil {
				return made, err
			}
		}
	}
	return made, nil
}

// queueDrafts has what waited for a person sent by e-mail, to those who have an address by now:
// it was made before the program was told to send by itself, or could. Otherwise they would
// never be reminded again, for one reminder stands for a person at a time.
func (s *Store) queueDrafts(ctx context.Context, tx pgx.Tx, driveID string) error {
	const q = `SELECT m.number FROM reminders m JOIN people p ON p.drive_id = m.drive_id AND p.number = m.person
		WHERE m.drive_id = $1 AND m.state = 'draft' AND p.email <> '' ORDER BY m.number FOR NO KEY UPDATE OF m`
	rows, err := tx.Query(ctx, q, driveID)
	if err != nil {
		return fmt.Errorf("reminders that wait: %w", err)
	}
	waiting, err := collect(rows, "reminders that wait", pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, number := range waiting {
		if err := s.queueReminder(ctx, tx, driveID, number, 0); err != nil {
			return err
		}
	}
	return nil
}

// toRemind is somebody with kits, and whether they have an e-mail address.
type toRemind struct {
	drive.Remindable
	Mail bool
}

// remindable gives everybody who has kits.
func remindable(ctx context.Context, tx pgx.Tx, d drive.Drive) ([]toRemind, error) {
	const q = `SELECT k.holder, k.number, k.part, k.cases, k.due,
			coalesce((SELECT r.cases FROM kit_reports r WHERE r.drive_id = k.drive_id AND r.kit = k.number AND r.part = k.part AND r.kind = 'finished' AND r.ended_at IS NULL), 0),
			EXISTS (SELECT FROM kit_reports r WHERE r.drive_id = k.drive_id AND r.kit = k.number AND r.part = k.part AND r.kind = 'longer' AND r.ended_at IS NULL),
			EXISTS (SELECT FROM kit_reports r WHERE r.drive_id = k.drive_id AND r.kit = k.number AND r.part = k.part AND r.kind = 'cannot' AND r.ended_at IS NULL),
			greatest(k.since, (SELECT max(e.day) FROM kit_entries e WHERE e.drive_id = k.drive_id AND e.holder = k.holder),
				(SELECT max((r.at AT TIME ZONE $2)::date) FROM kit_reports r WHERE r.drive_id = k.drive_id AND r.person = k.holder)) AS heard,
			(SELECT max((coalesce(m.ended_at, m.made_at) AT TIME ZONE $2)::date) FROM reminders m WHERE m.drive_id = k.drive_id AND m.person = k.holder
				AND (m.trouble = '' OR m.state IN ('failed', 'perhaps sent'))) AS reminded,
			EXISTS (SELECT FROM reminder_stops t WHERE t.drive_id = k.drive_id AND t.person = k.holder), p.email <> ''
		FROM kits k JOIN people p ON p.drive_id = k.drive_id AND p.number = k.holder
		WHERE k.drive_id = $1 AND k.state = 'out' ORDER BY k.holder, k.due NULLS LAST, k.number, k.part`
	rows, err := tx.Query(ctx, q, d.ID, d.Location().String())
	if err != nil {
		return nil, fmt.Errorf("who has kits: %w", err)
	}
	var people []toRemind
	var p toRemind
	var k drive.HeldKit
	_, err = pgx.ForEachRow(rows, []any{&p.Person, &k.Number, &k.Part, &k.Cases, &k.Due, &k.Finished, &k.Longer, &k.Cannot, &p.Heard, &p.Reminded, &p.Stopped, &p.Mail}, func() error {
		if n := len(people); n == 0 || people[n-1].Person != p.Person {
			p.Kits = nil
			people = append(people, p)
		}
		last := &people[len(people)-1]
		if p.Heard.After(last.Heard) {
			last.Heard = p.Heard
		}
		last.Kits = append(last.Kits, k)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("who has kits: %w", err)
	}
	return people, nil
}

// insertReminder makes a draft, with a personal link to put into it; 0 where one
// stands for this person already, or they are forgotten by now.
func (s *Store) insertReminder(ctx context.Context, tx pgx.Tx, driveID string, person int64, kind drive.ReminderKind, kits []drive.KitRef) (int64, error) {
	numbers, parts := make([]int64, len(kits)), make([]int32, len(kits))
	for i, ref := range kits {
		numbers[i], parts[i] = ref.Number, int32(ref.Part)
	}
	// Held until it is made: whoever forgets them waits, and then ends the link and the draft.
	const here = `SELECT FROM people WHERE drive_id = $1 AND number = $2 AND erased_at IS NULL FOR SHARE`
	tag, err := tx.Exec(ctx, here, driveID, person)
	if err != nil {
		return 0, fmt.Errorf("whom to remind: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return 0, nil
	}
	const standing = `SELECT EXISTS (SELECT FROM reminders WHERE drive_id = $1 AND person = $2 AND state IN ('draft', 'queued', 'sending'))`
	var stands bool
	if err := tx.QueryRow(ctx, standing, driveID, person).Scan(&stands); err != nil {
		return 0, fmt.Errorf("a reminder that stands: %w", err)
	}
	if stands {
		return 0, nil
	}
	// A link that was ended stays ended until a person makes one.
	const linked = `SELECT EXISTS (SELECT FROM links WHERE drive_id = $1 AND person = $2)`
	now, had := s.now(), false
	if err := tx.QueryRow(ctx, linked, driveID, person).Scan(&had); err != nil {
		return 0, fmt.Errorf("a personal link: %w", err)
	}
	if !had {
		if _, err := holderLink(ctx, tx, driveID, linkHolder{person: &person}, now); err != nil {
			return 0, err
		}
		act := drive.Act{Drive: driveID, At: now, Request: "reminders"}
		if err := audit(ctx, tx, act, "personal link made", "person", person, nil); err != nil {
			return 0, err
		}
	}
	number, err := next(ctx, tx, driveID, "reminder")
	if err != nil {
		return 0, err
	}
	const q = `INSERT INTO reminders (drive_id, number, person, kind, kits, parts, made_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`
	if _, err := tx.Exec(ctx, q, driveID, number, person, kind, numbers, parts, now); err != nil {
		return 0, fmt.Errorf("insert reminder: %w", err)
	}
	return number, nil
}

// queueReminder enqueues a draft to be sent by SMTP.
func (s *Store) queueReminder(ctx context.Context, tx pgx.Tx, driveID string, number, who int64) error {
	const q = `UPDATE reminders SET state = 'queued', way = 'e-mail', who = $3, trouble = '' WHERE drive_id = $1 AND number = $2`
	if _, err := tx.Exec(ctx, q, driveID, number, who); err != nil {
		return fmt.Errorf("queue reminder: %w", err)
	}
	if _, err := s.work.InsertTx(ctx, tx, task.Remind{Drive: driveID, Number: number}, &river.InsertOpts{MaxAttempts: remindTries}); err != nil {
		return fmt.Errorf("enqueue reminder: %w", err)
	}
	return nil
}
