package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// PassWish is a pass as an organiser wants it.
type PassWish struct {
	Role  account.Role
	Place string    // where the tablet lies, such as "cutting table"
	Until time.Time // zero for tonight
}

// PassMade is a pass that was just made, with the id of its link.
type PassMade struct {
	Number int64
	Link   string
	Until  time.Time
	Spoken time.Time // until when it may be opened by the digits said aloud
}

// Pass is a pass of a drive.
type Pass struct {
	Number int64        `db:"number"`
	Role   account.Role `db:"role"`
	Place  string       `db:"place"`
	By     string       `db:"made_by"`
	Made   time.Time    `db:"at"`
	Until  time.Time    `db:"until"`
	Opened *time.Time   `db:"opened_at"` // nil until a tablet has it
	Ended  *time.Time   `db:"ended_at"`  // by an organiser
	Hands  []string     `db:"hands"`     // initials of who worked at it, as far as they are kept
}

// OpenPass is a pass that a tablet can be given.
type OpenPass struct {
	Drive     string       `db:"drive_id"`
	DriveName string       `db:"drive_name"`
	Zone      string       `db:"zone"`
	Number    int64        `db:"number"`
	Role      account.Role `db:"role"`
	Place     string       `db:"place"`
	Until     time.Time    `db:"until"`
}

// MakePass makes a pass for one tablet in the act's drive, at longest until the
// next midnight there. link is the id of the link it gets and code the fingerprint
// of the digits said aloud, unless the same wish got others before.
func (s *Store) MakePass(ctx context.Context, act drive.Act, wish PassWish, link string, code []byte) (PassMade, error) {
	var bad error
	if _, bad = account.ParsePassRole(string(wish.Role)); bad != nil {
		return PassMade{}, bad
	}
	if wish.Place, bad = account.CleanPlace(wish.Place); bad != nil {
		return PassMade{}, bad
	}
	return once(ctx, s, act, "make pass", wish, func(tx pgx.Tx) (PassMade, error) {
		if err := letsIn(ctx, tx, act); err != nil {
			return PassMade{}, err
		}
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return PassMade{}, err
		}
		made := PassMade{Link: link, Until: drive.DayBegins(drive.Day(act.At, d.Location()).AddDate(0, 0, 1), d.Location()), Spoken: act.At.Add(account.SpokenLife)}
		if !wish.Until.IsZero() {
			if !wish.Until.After(act.At) || wish.Until.After(made.Until) {
				return made, apperr.Invalid("until", "Give a time later today, or leave it empty for the whole day.")
			}
			made.Until = wish.Until
		}
		if made.Number, err = next(ctx, tx, act.Drive, "pass"); err != nil {
			return made, err
		}
		if err := insertDriveLink(ctx, tx, act, "pass", link, made.Until); err != nil {
			return made, err
		}
		const insert = `INSERT INTO passes (drive_id, number, role, place, link, code, code_until, made_by, at, until) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
		_, err = tx.Exec(ctx, insert, act.Drive, made.Number, wish.Role, wish.Place, link, code, made.Spoken, act.Who, act.At, made.Until)
		if err != nil {
			return made, fmt.Errorf("make pass: %w", err)
		}
		return made, audit(ctx, tx, act, "pass made", "pass", made.Number, changes{"role": {To: wish.Role}, "until": {To: made.Until.UTC()}})
	})
}

// Passes gives the passes of a drive that are good still, or were since then, the
// latest first.
func (s *Store) Passes(ctx context.Context, driveID string, since time.Time) ([]Pass, error) {
	const q = `SELECT p.number, p.role, p.place, coalesce(a.name, '') AS made_by, p.at, p.until, p.opened_at, coalesce(p.ended_at, l.revoked_at) AS ended_at,
			ARRAY(SELECT h.initials FROM pass_hands h WHERE h.drive_id = p.drive_id AND h.pass = p.number AND h.initials <> '' ORDER BY h.id DESC) AS hands
		FROM passes p JOIN links l ON l.id = p.link LEFT JOIN accounts a ON a.id = p.made_by
		WHERE p.drive_id = $1 AND p.until > $2 ORDER BY p.number DESC LIMIT 200`
	rows, err := s.pool.Query(ctx, q, driveID, since)
	if err != nil {
		return nil, fmt.Errorf("passes: %w", err)
	}
	return collect(rows, "passes", pgx.RowToStructByName[Pass])
}

// EndPass ends a pass at once: the next request of its tablet finds it over.
func (s *Store) EndPass(ctx context.Context, act drive.Act, number int64) error {
	_, err := once(ctx, s, act, "end pass", number, func(tx pgx.Tx) (bool, error) {
		const q = `UPDATE passes SET ended_at = $3, ended_by = $4 WHERE drive_id = $1 AND number = $2 AND ended_at IS NULL AND until > $3 RETURNING link`
		const revoke = `UPDATE links SET revoked_at = $2 WHERE id = $1 AND revoked_at IS NULL`
		var link string
		err := tx.QueryRow(ctx, q, act.Drive, number, act.At, act.Who).Scan(&link)
		if errors.Is(err, pgx.ErrNoRows) {
			return false, apperr.NotFound("This pass is over already.")
		}
		if err != nil {
			return false, fmt.Errorf("end pass: %w", err)
		}
		if _, err := tx.Exec(ctx, revoke, link, act.At); err != nil {
			return false, fmt.Errorf("end pass: %w", err)
		}
		return true, audit(ctx, tx, act, "pass ended", "pass", number, nil)
	})
	return err
}

const openPasses = `SELECT p.drive_id, d.name AS drive_name, d.zone, p.number, p.role, p.place, p.until
	FROM passes p JOIN links l ON l.id = p.link JOIN drives d ON d.id = p.drive_id
	WHERE p.opened_at IS NULL AND p.ended_at IS NULL AND p.until > $1 AND l.revoked_at IS NULL AND `

// PassOf gives the pass that a link opens: not found where a tablet has it already,
// or it is over.
func (s *Store) PassOf(ctx context.Context, link string) (OpenPass, error) {
	const q = openPasses + `p.link = $2`
	return one[OpenPass](ctx, s.pool, "pass", passGone(), q, s.now(), link)
}

// PassSpoken gives the link of the pass whose digits have this fingerprint; empty
// where there is none, its digits have run out, or a tablet has it by another form than
// the one of this key.
func (s *Store) PassSpoken(ctx context.Context, code []byte, key string) (string, error) {
	const q = `SELECT p.link FROM passes p JOIN links l ON l.id = p.link
		WHERE p.code = $2 AND p.code_until > $1 AND p.ended_at IS NULL AND p.until > $1 AND l.revoked_at IS NULL
			AND (p.opened_at IS NULL OR EXISTS (SELECT 1 FROM once o WHERE o.drive_id = p.drive_id AND o.who = 0 AND o.key = $3))`
	var link string
	err := s.pool.QueryRow(ctx, q, s.now(), code, strangersKey(opening, key)).Scan(&link)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return "", fmt.Errorf("pass by its digits: %w", err)
	}
	return link, nil
}

// PassOpened is a pass that a tablet has: the number that its session holds, and the drive.
type PassOpened struct {
	SignIn int64
	Drive  string
}

// OpenPass gives a pass to the tablet that asks. Of two that ask for the same the second
// finds it taken; the same form, by its key, has it again, since an answer may get lost.
func (s *Store) OpenPass(ctx context.Context, link, key, device string) (PassOpened, error) {
	const whose = `SELECT drive_id FROM passes WHERE link = $1`
	act := drive.Act{Key: strangersKey(opening, key), At: s.now()}
	err := s.pool.QueryRow(ctx, whose, link).Scan(&act.Drive)
	if errors.Is(err, pgx.ErrNoRows) {
		return PassOpened{}, passGone()
	}
	if err != nil {
		return PassOpened{}, fmt.Errorf("open pass: %w", err)
	}
	return once(ctx, s, act, "open pass", link, func(tx pgx.Tx) (PassOpened, error) {
		opened := PassOpened{Drive: act.Drive}
		const lock = `SELECT number FROM passes WHERE link = $1 FOR NO KEY UPDATE`
		if _, err := tx.Exec(ctx, lock, link); err != nil {
			return opened, fmt.Errorf("open pass: %w", err)
		}
		const q = openPasses + `p.link = $2`
		p, err := one[OpenPass](ctx, tx, "pass", passGone(), q, act.At, link)
		if err != nil {
			return opened, err
		}
		const open = `UPDATE passes SET opened_at = $3 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, open, p.Drive, p.Number, act.At); err != nil {
			return opened, fmt.Errorf("open pass: %w", err)
		}
		if err := useLink(ctx, tx, link, act.At); err != nil {
			return opened, err
		}
		const begin = `INSERT INTO sign_ins (drive_id, pass, device, began_at, seen_at) VALUES ($1, $2, $3, $4, now()) RETURNING id`
		if err := tx.QueryRow(ctx, begin, p.Drive, p.Number, device, act.At).Scan(&opened.SignIn); err != nil {
			return opened, fmt.Errorf("open pass: %w", err)
		}
		return opened, audit(ctx, tx, drive.Act{Drive: p.Drive, At: act.At, Link: fmt.Sprintf("pass %d", p.Number)}, "pass opened", "pass", p.Number, nil)
	})
}

// opening marks the wishes of tablets for a pass.
const opening = "open"

// handsOfPass is how many different initials a pass takes in its day.
const handsOfPass = 50

// SetHand says who is at the tablet of a session from now on. Initials beyond
// handsOfPass different ones are an invalid "initials".
func (s *Store) SetHand(ctx context.Context, signIn int64, p PassVisit, initials string) error {
	initials, bad := account.CleanInitials(initials)
	if bad != nil {
		return bad
	}
	return pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		const lock = `SELECT number FROM passes WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
		const others = `SELECT count(*) FROM pass_hands WHERE drive_id = $1 AND pass = $2 AND initials <> $3`
		const add = `INSERT INTO pass_hands (drive_id, pass, initials, at) VALUES ($1, $2, $3, $4) ON CONFLICT (drive_id, pass, initials) WHERE initials <> '' DO NOTHING`
		const set = `UPDATE sign_ins SET hand = (SELECT id FROM pass_hands WHERE drive_id = $2 AND pass = $3 AND initials = $4) WHERE id = $1`
		if _, err := tx.Exec(ctx, lock, p.Drive, p.Number); err != nil {
			return fmt.Errorf("who is at the tablet: %w", err)
		}
		var n int
		if err := tx.QueryRow(ctx, others, p.Drive, p.Number, initials).Scan(&n); err != nil {
			return fmt.Errorf("who is at the tablet: %w", err)
		}
		if n >= handsOfPass {
			return apperr.Invalid("initials", "%d people were at this tablet already, as many as a pass takes. Tap initials that were here before, or ask an organiser for another pass.", n)
		}
		if _, err := tx.Exec(ctx, add, p.Drive, p.Number, initials, s.now()); err != nil {
			return fmt.Errorf("who is at the tablet: %w", err)
		}
		if _, err := tx.Exec(ctx, set, signIn, p.Drive, p.Number, initials); err != nil {
			return fmt.Errorf("who is at the tablet: %w", err)
		}
		return nil
	})
}

func passGone() error {
	return apperr.NotFound("This pass does not work any more: a tablet has it already, or it is over. Ask an organiser for another.")
}
