package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// SecondStep is the second step of somebody's signing in.
type SecondStep struct {
	Secret []byte // sealed; nil where none was begun
	On     bool   // false while no code of it was typed
	Last   int64  // the step of the last code taken
	Left   int    // recovery codes not used yet
}

// SecondStep gives that of an account; the zero one where there is none.
func (s *Store) SecondStep(ctx context.Context, id int64) (SecondStep, error) {
	const q = `SELECT t.secret, t.on_at IS NOT NULL, t.last_step, (SELECT count(*) FROM recovery_codes r WHERE r.account_id = $1 AND r.used_at IS NULL)
		FROM second_steps t WHERE t.account_id = $1`
	var step SecondStep
	err := s.pool.QueryRow(ctx, q, id).Scan(&step.Secret, &step.On, &step.Last, &step.Left)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return step, fmt.Errorf("second step: %w", err)
	}
	return step, nil
}

// BeginSecondStep keeps a sealed secret for the act's person until a code of it is
// typed. One that is on already is a conflict.
func (s *Store) BeginSecondStep(ctx context.Context, act drive.Act, sealed []byte) error {
	_, err := once(ctx, s, act, "begin second step", nil, func(tx pgx.Tx) (bool, error) {
		const q = `INSERT INTO second_steps AS t (account_id, secret, begun_at) VALUES ($1, $2, $3)
			ON CONFLICT ON CONSTRAINT second_steps_pkey DO UPDATE SET secret = EXCLUDED.secret, begun_at = EXCLUDED.begun_at, last_step = 0 WHERE t.on_at IS NULL`
		if err := holdAccount(ctx, tx, act.Who); err != nil {
			return false, err
		}
		tag, err := tx.Exec(ctx, q, act.Who, sealed, act.At)
		if err != nil {
			return false, fmt.Errorf("begin second step: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return false, apperr.Conflict("Your second step is on already. Turn it off first, to set up another.")
		}
		return true, audit(ctx, tx, act, "second step begun", "account", act.Who, nil)
	})
	return err
}

// SecondCode is a code that was typed to turn a second step on.
type SecondCode struct {
	Secret   []byte   // sealed, as it was read when the code was judged by it
	Step     int64    // the step of time whose code it is
	Recovery [][]byte // hashes of the recovery codes
	SignIn   int64    // the session in which it was typed
}

// ConfirmSecondStep turns the second step of the act's person on, after a code of it
// was typed, and keeps the hashes of the recovery codes. Every session ends but the one
// in which that was done, which has passed the step. One that is on already is a
// conflict, unless this very wish has turned it on, and so is another secret by now.
func (s *Store) ConfirmSecondStep(ctx context.Context, act drive.Act, code SecondCode) error {
	_, err := once(ctx, s, act, "confirm second step", code.SignIn, func(tx pgx.Tx) (bool, error) {
		const q = `UPDATE second_steps SET on_at = $2, last_step = $3 WHERE account_id = $1 AND on_at IS NULL AND secret = $4`
		const passed = `UPDATE sign_ins SET second = true WHERE id = $1 AND account_id = $2`
		tag, err := tx.Exec(ctx, q, act.Who, act.At, code.Step, code.Secret)
		if err != nil {
			return false, fmt.Errorf("confirm second step: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return false, apperr.Conflict("Your second step is on already, or another secret was begun since you opened the page. Open it again.")
		}
		if err := keepRecovery(ctx, tx, act.Who, code.Recovery); err != nil {
			return false, err
		}
		if _, err := newEpoch(ctx, tx, act.At, act.Who, code.SignIn); err != nil {
			return false, err
		}
		if _, err := tx.Exec(ctx, passed, code.SignIn, act.Who); err != nil {
			return false, fmt.Errorf("confirm second step: %w", err)
		}
		return true, audit(ctx, tx, act, "second step on", "account", act.Who, nil)
	})
	return err
}

// RecoveryIs says whether these are the hashes of the recovery codes the person has,
// used or not: a form that asks for them again was granted before.
func (s *Store) RecoveryIs(ctx context.Context, id int64, hashes [][]byte) (bool, error) {
	const q = `SELECT count(*) = $3 FROM recovery_codes WHERE account_id = $1 AND hash = ANY($2)`
	var same bool
	if err := s.pool.QueryRow(ctx, q, id, hashes, len(hashes)).Scan(&same); err != nil {
		return false, fmt.Errorf("whose recovery codes: %w", err)
	}
	return same, nil
}

// RenewRecovery puts new recovery codes in the place of those the act's person has.
func (s *Store) RenewRecovery(ctx context.Context, act drive.Act, hashes [][]byte) error {
	_, err := once(ctx, s, act, "renew recovery codes", nil, func(tx pgx.Tx) (bool, error) {
		if err := keepRecovery(ctx, tx, act.Who, hashes); err != nil {
			return false, err
		}
		return true, audit(ctx, tx, act, "recovery codes renewed", "account", act.Who, nil)
	})
	return err
}

// SecondStepEnded says whether the act's form turned the second step of its person off
// when it was sent before, and it is off still.
func (s *Store) SecondStepEnded(ctx context.Context, act drive.Act) (bool, error) {
	done, err := kept[bool](ctx, s, act, "end second step", nil)
	if err != nil || !done {
		return false, err
	}
	step, err := s.SecondStep(ctx, act.Who)
	return !step.On, err
}

// EndSecondStep turns the second step of the act's person off.
func (s *Store) EndSecondStep(ctx context.Context, act drive.Act) error {
	_, err := once(ctx, s, act, "end second step", nil, func(tx pgx.Tx) (bool, error) {
		if err := dropSecondStep(ctx, tx, act.Who); err != nil {
			return false, err
		}
		return true, audit(ctx, tx, act, "second step off", "account", act.Who, nil)
	})
	return err
}

// ResetSecondStep turns somebody's second step off who has lost it, and ends every
// session of theirs and every link to choose a password. It is for the command line alone. An address that nobody has
// is not found.
func (s *Store) ResetSecondStep(ctx context.Context, act drive.Act, email string) error {
	_, err := once(ctx, s, act, "reset second step", email, func(tx pgx.Tx) (bool, error) {
		p, _, err := memberByEmail(ctx, tx, act.Drive, email)
		if err != nil {
			return false, err
		}
		if err := dropSecondStep(ctx, tx, p.ID); err != nil {
			return false, err
		}
		if _, err := newEpoch(ctx, tx, act.At, p.ID, 0); err != nil {
			return false, err
		}
		if err := revokeAccountLinks(ctx, tx, act.At, p.ID); err != nil {
			return false, err
		}
		return true, audit(ctx, tx, act, "second step reset", "account", p.ID, nil)
	})
	return err
}

// TakeCode takes the code of a step of time: false where it, or a later one, was
// taken before. Of two requests with the same code one is told true.
func (s *Store) TakeCode(ctx context.Context, id, step int64) (bool, error) {
	const q = `UPDATE second_steps SET last_step = $2 WHERE account_id = $1 AND last_step < $2`
	tag, err := s.pool.Exec(ctx, q, id, step)
	if err != nil {
		return false, fmt.Errorf("take a code: %w", err)
	}
	return tag.RowsAffected() == 1, nil
}

// TakeRecovery takes a recovery code with this hash: false where there is none, or
// it was used.
func (s *Store) TakeRecovery(ctx context.Context, id int64, hash []byte) (bool, error) {
	taken := false
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		const q = `UPDATE recovery_codes SET used_at = $3 WHERE account_id = $1 AND hash = $2 AND used_at IS NULL`
		now := s.now()
		tag, err := tx.Exec(ctx, q, id, hash, now)
		if err != nil {
			return fmt.Errorf("take a recovery code: %w", err)
		}
		if taken = tag.RowsAffected() == 1; !taken {
			return nil
		}
		return audit(ctx, tx, drive.Act{Who: id, At: now}, "recovery code used", "account", id, nil)
	})
	return taken, err
}

func keepRecovery(ctx context.Context, tx pgx.Tx, id int64, hashes [][]byte) error {
	const clear = `DELETE FROM recovery_codes WHERE account_id = $1`
	const keep = `INSERT INTO recovery_codes (account_id, number, hash) SELECT $1, n, h FROM unnest($2::bytea[]) WITH ORDINALITY AS x (h, n)`
	if err := holdAccount(ctx, tx, id); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, clear, id); err != nil {
		return fmt.Errorf("keep recovery codes: %w", err)
	}
	if _, err := tx.Exec(ctx, keep, id, hashes); err != nil {
		return fmt.Errorf("keep recovery codes: %w", err)
	}
	return nil
}

func dropSecondStep(ctx context.Context, tx pgx.Tx, id int64) error {
	const codes = `DELETE FROM recovery_codes WHERE account_id = $1`
	const step = `DELETE FROM second_steps WHERE account_id = $1`
	for _, q := range []string{codes, step} {
		if _, err := tx.Exec(ctx, q, id); err != nil {
			return fmt.Errorf("drop second step: %w", err)
		}
	}
	return nil
}
