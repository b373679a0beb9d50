package postgres

import (
	"context"
	"errors"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// KitReported gives the number of what the act's form said of a kit when it was sent before;
// 0 where it was not.
func (s *Store) KitReported(ctx context.Context, act drive.Act) (int64, error) {
	return kept[int64](ctx, s, act, "report on kit", nil)
}

// ReportKit notes what a holder says of a kit; what they said before that
// cannot stand beside it is replaced by it. It gives the report's number. A kit that is not with
// them is a conflict, what cannot be is refused by field.
func (s *Store) ReportKit(ctx context.Context, act drive.Act, r drive.KitReport) (int64, error) {
	var driveFound func() (drive.Drive, error)
	var kitFound func() ([]drive.Kit, error)
	ask := func(batch *pgx.Batch) {
		driveFound, kitFound = queueDrive(batch, act.Drive), queueKits(batch, act.Drive, r.KitRef)
	}
	return onceAsking(ctx, s, act, "report on kit", r, ask, func(tx *wishTx) (int64, error) {
		d, err := driveFound()
		if err != nil {
			return 0, err
		}
		kits, err := kitFound()
		if err != nil {
			return 0, err
		}
		if err := kits[0].Report(r, drive.Day(act.At, d.Location())).Refuse(kits[0]); err != nil {
			return 0, err
		}
		const replace = `UPDATE kit_reports SET ended_at = $5, ended = 'replaced'
			WHERE drive_id = $1 AND kit = $2 AND part = $3 AND kind = ANY($4) AND ended_at IS NULL`
		const q = `INSERT INTO kit_reports (drive_id, kit, part, person, kind, cases, until, note, at, request)
			VALUES ($1, $2, $3, $4, $5, nullif($6, 0), $7, $8, $9, $10) RETURNING number`
		var number int64
		var batch pgx.Batch
		batch.Queue(replace, act.Drive, r.Number, r.Part, r.Kind.Replaces(), act.At)
		batch.Queue(q, act.Drive, r.Number, r.Part, r.Person, r.Kind, r.Cases, r.Until, r.Note, act.At, act.Request).QueryRow(func(row pgx.Row) error {
			return row.Scan(&number)
		})
		if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
			return 0, fmt.Errorf("report on kit: %w", err)
		}
		c := changes{"report": {To: number}, "person": {To: r.Person}, "said": {To: r.Kind}}
		return number, audit(ctx, tx, act, "holder said", "kit", r.KitRef, c)
	})
}

// EndReport ends what was said of a kit: taken back by whoever said it, or
// answered by the drive. person is whose report it has to be; 0: anybody's. One
// that does not stand any more is a conflict.
func (s *Store) EndReport(ctx context.Context, act drive.Act, report, person int64) (drive.KitRef, error) {
	type body struct{ Report, Person int64 }
	return once(ctx, s, act, "end report", body{report, person}, func(tx pgx.Tx) (drive.KitRef, error) {
		const q = `UPDATE kit_reports SET ended_at = $4, ended = CASE WHEN $3::bigint > 0 THEN 'taken back' ELSE 'answered' END
			WHERE drive_id = $1 AND number = $2 AND ended_at IS NULL AND ($3 = 0 OR person = $3) RETURNING kit, part`
		var ref drive.KitRef
		err := tx.QueryRow(ctx, q, act.Drive, report, person, act.At).Scan(&ref.Number, &ref.Part)
		if errors.Is(err, pgx.ErrNoRows) {
			return ref, apperr.Conflict("This does not stand any more: it was answered, taken back, or the kit has moved.")
		}
		if err != nil {
			return ref, fmt.Errorf("end report: %w", err)
		}
		return ref, audit(ctx, tx, act, "report ended", "kit", ref, changes{"report": {To: report}})
	})
}

// saidAgain makes what the holder of a kit said of it stand again, once something that happened to it is undone:
// what ended since the last step that stands, by the step that is undone or by its undoing. What they said
// since of the same kind counts instead.
func saidAgain(ctx context.Context, tx pgx.Tx, driveID string, ref drive.KitRef) error {
	history, err := kitHistory(ctx, tx, driveID, ref)
	if err != nil {
		return err
	}
	parted, err := partedFrom(ctx, tx, driveID, ref)
	if err != nil {
		return err
	}
	moved, last := drive.LastStanding(history, parted)
	const q = `UPDATE kit_reports r SET ended_at = NULL, ended = '' FROM kits k
		WHERE r.drive_id = $1 AND r.kit = $2 AND r.part = $3 AND r.ended = 'moved' AND r.moved_by > CASE r.kind WHEN 'longer' THEN $5::bigint ELSE $4 END
			AND k.drive_id = r.drive_id AND k.number = r.kit AND k.part = r.part AND k.state = 'out' AND k.holder = r.person
			AND NOT EXISTS (SELECT FROM kit_reports later WHERE later.drive_id = r.drive_id AND later.kit = r.kit AND later.part = r.part
				AND later.person = r.person AND (later.kind = r.kind OR 'finished' NOT IN (later.kind, r.kind)) AND later.number > r.number)`
	if _, err := tx.Exec(ctx, q, driveID, ref.Number, ref.Part, moved, last); err != nil {
		return fmt.Errorf("what was said of a kit before: %w", err)
	}
	return nil
}

// partedFrom gives the parts that parted from a kit.
func partedFrom(ctx context.Context, db querier, driveID string, ref drive.KitRef) ([]drive.PartedStep, error) {
	const q = `SELECT min(e.at) AS at, max(e.at) FILTER (WHERE e.reason = $4) AS again
		FROM kits p JOIN kit_entries e ON e.drive_id = p.drive_id AND e.kit = p.number AND e.part = p.part
		WHERE p.drive_id = $1 AND p.number = $2 AND p.parent = $3 GROUP BY p.part`
	rows, err := db.Query(ctx, q, driveID, ref.Number, ref.Part, drive.ReasonAgain)
	if err != nil {
		return nil, fmt.Errorf("what parted from a kit: %w", err)
	}
	return collect(rows, "what parted from a kit", pgx.RowToStructByName[drive.PartedStep])
}

// ReportsOf gives what was said of kits and stands, by kit: of one holder, or of
// one kit with its parts; 0 leaves either open.
func (s *Store) ReportsOf(ctx context.Context, driveID string, person, kit int64) (map[drive.KitRef][]drive.StandingReport, error) {
	// Each way has an index of its own, so what is left open does not stand in the statement.
	q := `SELECT r.number AS report, r.kit AS number, r.part, r.person, p.name, r.kind, coalesce(r.cases, 0) AS done, r.until, r.note AS said, r.at AS said_at
		FROM kit_reports r JOIN people p ON p.drive_id = r.drive_id AND p.number = r.person
		WHERE r.drive_id = $1 AND r.ended_at IS NULL`
	args := []any{driveID}
	if person != 0 {
		args = append(args, person)
		q += ` AND r.person = $2`
	}
	if kit != 0 {
		args = append(args, kit)
		q += fmt.Sprintf(` AND r.kit = $%d`, len(args))
	}
	rows, err := s.pool.Query(ctx, q+` ORDER BY r.kit, r.part, r.number`, args...)
	if err != nil {
		return nil, fmt.Errorf("reports: %w", err)
	}
	list, err := collect(rows, "reports", pgx.RowToStructByName[drive.StandingReport])
	if err != nil {
		return nil, err
	}
	by := map[drive.KitRef][]drive.StandingReport{}
	for _, r := range list {
		by[r.KitRef] = append(by[r.KitRef], r)
	}
	return by, nil
}
