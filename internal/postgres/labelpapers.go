package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
)

const labelPaperColumns = `number, name, paper_width, paper_height, margin_left, margin_top, label_width, label_height, columns, rows,
	gap_across, gap_down, lines, version`

// LabelPapers gives the sheets and rolls that a drive described, by name.
func (s *Store) LabelPapers(ctx context.Context, driveID string) ([]drive.LabelPaper, error) {
	const q = `SELECT ` + labelPaperColumns + ` FROM label_papers WHERE drive_id = $1 AND NOT retired ORDER BY lower(name), number`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("papers for labels: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.LabelPaper])
	if err != nil {
		return nil, fmt.Errorf("papers for labels: %w", err)
	}
	return list, nil
}

// LabelPaper gives one paper, one that was put away too; not found where the drive
// has none of that number.
func (s *Store) LabelPaper(ctx context.Context, driveID string, number int64) (drive.LabelPaper, error) {
	const q = `SELECT ` + labelPaperColumns + ` FROM label_papers WHERE drive_id = $1 AND number = $2`
	return oneLabelPaper(ctx, s.pool, q, driveID, number)
}

// CreateLabelPaper keeps a paper under its name; it refuses by field what
// drive.LabelPaper.Check refuses, and a name that another has.
func (s *Store) CreateLabelPaper(ctx context.Context, act drive.Act, p drive.LabelPaper, u length.Unit) (drive.LabelPaper, error) {
	p = p.Tidy()
	if err := p.Check(u); err != nil {
		return p, err
	}
	return once(ctx, s, act, "create label paper", p, func(tx pgx.Tx) (drive.LabelPaper, error) {
		p := p
		var err error
		if p.Number, err = next(ctx, tx, act.Drive, "label paper"); err != nil {
			return p, err
		}
		p.Version = 1
		const insert = `INSERT INTO label_papers (drive_id, number, name, paper_width, paper_height, margin_left, margin_top, label_width, label_height,
				columns, rows, gap_across, gap_down, lines, created_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)`
		_, err = tx.Exec(ctx, insert, act.Drive, p.Number, p.Name, p.PaperWidth, p.PaperHeight, p.Left, p.Top, p.LabelWidth, p.LabelHeight,
			p.Columns, p.Rows, p.GapAcross, p.GapDown, p.Lines, act.At)
		if err != nil {
			return p, fmt.Errorf("create label paper: %w", err)
		}
		return p, audit(ctx, tx, act, "label paper added", "label paper", p.Number, labelPaperChanges(drive.LabelPaper{}, p))
	})
}

// UpdateLabelPaper changes a paper that is still at p.Version; a later one is a
// conflict. What was printed on it stays as it was.
func (s *Store) UpdateLabelPaper(ctx context.Context, act drive.Act, p drive.LabelPaper, u length.Unit) (drive.LabelPaper, error) {
	p = p.Tidy()
	if err := p.Check(u); err != nil {
		return p, err
	}
	return once(ctx, s, act, "update label paper", p, func(tx pgx.Tx) (drive.LabelPaper, error) {
		p := p
		old, err := lockLabelPaper(ctx, tx, act.Drive, p.Number)
		if err != nil {
			return p, err
		}
		if old.Version != p.Version {
			return p, stale("The paper")
		}
		p.Version++
		const update = `UPDATE label_papers SET name = $3, paper_width = $4, paper_height = $5, margin_left = $6, margin_top = $7, label_width = $8,
				label_height = $9, columns = $10, rows = $11, gap_across = $12, gap_down = $13, lines = $14, version = $15
			WHERE drive_id = $1 AND number = $2`
		_, err = tx.Exec(ctx, update, act.Drive, p.Number, p.Name, p.PaperWidth, p.PaperHeight, p.Left, p.Top, p.LabelWidth, p.LabelHeight,
			p.Columns, p.Rows, p.GapAcross, p.GapDown, p.Lines, p.Version)
		if err != nil {
			return p, fmt.Errorf("update label paper: %w", err)
		}
		return p, audit(ctx, tx, act, "label paper changed", "label paper", p.Number, labelPaperChanges(old, p))
	})
}

// RetireLabelPaper puts a paper away: it is no longer offered.
func (s *Store) RetireLabelPaper(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return s.retireLabelPaper(ctx, act, number, true, "label paper put away")
}

// RestoreLabelPaper offers a paper again.
func (s *Store) RestoreLabelPaper(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return s.retireLabelPaper(ctx, act, number, false, "label paper offered again")
}

func (s *Store) retireLabelPaper(ctx context.Context, act drive.Act, number int64, away bool, said string) (int64, error) {
	return once(ctx, s, act, said, number, func(tx pgx.Tx) (int64, error) {
		if _, err := lockLabelPaper(ctx, tx, act.Drive, number); err != nil {
			return 0, err
		}
		const update = `UPDATE label_papers SET retired = $3, version = version + 1 WHERE drive_id = $1 AND number = $2`
		if _, err := tx.Exec(ctx, update, act.Drive, number, away); err != nil {
			return 0, fmt.Errorf("%s: %w", said, err)
		}
		return number, audit(ctx, tx, act, said, "label paper", number, changes{})
	})
}

func lockLabelPaper(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.LabelPaper, error) {
	const q = `SELECT ` + labelPaperColumns + ` FROM label_papers WHERE drive_id = $1 AND number = $2 FOR NO KEY UPDATE`
	return oneLabelPaper(ctx, tx, q, driveID, number)
}

func oneLabelPaper(ctx context.Context, db querier, q, driveID string, number int64) (drive.LabelPaper, error) {
	return one[drive.LabelPaper](ctx, db, "paper for labels", apperr.NotFound("There is no such paper for labels here."), q, driveID, number)
}

func labelPaperChanges(old, p drive.LabelPaper) changes {
	c := changes{}
	c.set("name", old.Name, p.Name)
	c.set("paper width", old.PaperWidth, p.PaperWidth)
	c.set("paper height", old.PaperHeight, p.PaperHeight)
	c.set("left", old.Left, p.Left)
	c.set("top", old.Top, p.Top)
	c.set("label width", old.LabelWidth, p.LabelWidth)
	c.set("label height", old.LabelHeight, p.LabelHeight)
	c.set("columns", old.Columns, p.Columns)
	c.set("rows", old.Rows, p.Rows)
	c.set("gap across", old.GapAcross, p.GapAcross)
	c.set("gap down", old.GapDown, p.GapDown)
	c.set("lines", old.Lines, p.Lines)
	return c
}
