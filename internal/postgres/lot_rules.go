package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"

	"github.com/jackc/pgx/v5"
)

// LotRules gives what was decided by eye and holds, oldest first.
func (s *Store) LotRules(ctx context.Context, driveID string) ([]drive.LotRule, error) {
	const q = `SELECT number, kind, lot, other, roles, recipient, made_at FROM lot_rules WHERE drive_id = $1 AND ended_at IS NULL ORDER BY number`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("rules of lots: %w", err)
	}
	return collect(rows, "rules of lots", pgx.RowToStructByName[drive.LotRule])
}

// AddLotRule keeps a rule; plans that are made from now on keep to it.
func (s *Store) AddLotRule(ctx context.Context, act drive.Act, r drive.LotRule) (int64, error) {
	type body struct {
		Kind             drive.LotRuleKind
		Lot              int64
		Other, Recipient *int64
		Roles            drive.RuleRoles
	}
	return once(ctx, s, act, "add lot rule", body{r.Kind, r.Lot, r.Other, r.Recipient, r.Roles}, func(tx pgx.Tx) (int64, error) {
		if err := r.Check(); err != nil {
			return 0, err
		}
		number, err := next(ctx, tx, act.Drive, "rule")
		if err != nil {
			return 0, err
		}
		const q = `INSERT INTO lot_rules (drive_id, number, kind, lot, other, roles, recipient, made_at, made_by) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
		if _, err := tx.Exec(ctx, q, act.Drive, number, r.Kind, r.Lot, r.Other, r.Roles, r.Recipient, act.At, act.Who); err != nil {
			return 0, fmt.Errorf("keep rule: %w", err)
		}
		c := changes{"lot": {To: r.Lot}}
		c.set(string(r.Kind)+" with", int64(0), orZero(r.Other))
		c.set("as", "", string(r.Roles))
		c.set("only for", int64(0), orZero(r.Recipient))
		return number, audit(ctx, tx, act, "rule made", "rule", number, c)
	})
}

// EndLotRule ends a rule; not found where none of that number holds.
func (s *Store) EndLotRule(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "end lot rule", number, func(tx pgx.Tx) (int64, error) {
		const q = `UPDATE lot_rules SET ended_at = $3 WHERE drive_id = $1 AND number = $2 AND ended_at IS NULL`
		tag, err := tx.Exec(ctx, q, act.Drive, number, act.At)
		if err != nil {
			return 0, fmt.Errorf("end rule: %w", err)
		}
		if tag.RowsAffected() != 1 {
			return 0, apperr.NotFound("There is no such rule here any more.")
		}
		return number, audit(ctx, tx, act, "rule ended", "rule", number, changes{})
	})
}

// RuleTried is the problem of planning without a rule and with it; where an accepted plan is
// changed, what stands of it then.
type RuleTried struct {
	Without, With           *planning.Problem
	StandWithout, StandWith *drive.PlanStands
}

// TryLotRule gives what a plan of the drive would be made from without a rule and with it; of
// is the accepted plan that would be changed, 0 where it is not accepted yet. It keeps nothing.
func (s *Store) TryLotRule(ctx context.Context, driveID string, of int64, r drive.LotRule) (RuleTried, error) {
	var out RuleTried
	if err := r.Check(); err != nil {
		return out, err
	}
	if of == 0 {
		in, err := s.inputNow(ctx, driveID)
		if err != nil {
			return out, err
		}
		out.Without, _ = in.Problem()
		in.Cloths = r.On(in.Cloths)
		out.With, _ = in.Problem()
		return out, nil
	}
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		c, err := changing(ctx, tx, driveID, of)
		if err != nil {
			return err
		}
		before, stands := c.Problem()
		after, then := c.With(r).Problem()
		out = RuleTried{before, after, &stands, &then}
		return nil
	})
	return out, err
}

// LotLook is what a lot looks like.
type LotLook struct {
	Lot   int64  `db:"number"`
	Photo string `db:"photo"` // the fingerprint of its photo; empty where nobody took one
	drive.SheetLot
}

// LotLooks gives what every measured lot of a drive looks like, by its number.
func (s *Store) LotLooks(ctx context.Context, driveID string) (map[int64]LotLook, error) {
	const q = `SELECT l.number, coalesce(l.photo, '') AS photo, ` + sheetLotColumns + ` FROM lots l WHERE l.drive_id = $1 AND l.measured_at IS NOT NULL`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("looks of lots: %w", err)
	}
	list, err := collect(rows, "looks of lots", pgx.RowToStructByName[LotLook])
	looks := map[int64]LotLook{}
	for _, l := range list {
		looks[l.Lot] = l
	}
	return looks, err
}
