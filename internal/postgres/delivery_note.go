package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// PrintedNote is a delivery note, with the id of the recipient's personal link where
// there is one.
type PrintedNote struct {
	Note drive.DeliveryNote
	Link string
}

// DeliveryNote gives what stands on the note of a delivery: what was counted into its
// boxes, not what came to light later. One that was undone has none.
func (s *Store) DeliveryNote(ctx context.Context, driveID string, number int64) (PrintedNote, error) {
	var p PrintedNote
	d, err := s.Delivery(ctx, driveID, number)
	if err != nil {
		return p, err
	}
	if d.State() == drive.DeliveryUndone {
		return p, apperr.Conflict("Delivery %d was undone: it has no note. Its boxes go with another one.", number)
	}
	p.Note = drive.DeliveryNote{Number: number, SentOn: d.SentOn, CarriedBy: d.CarriedBy, Note: d.Note}
	if p.Note.Recipient, err = s.Recipient(ctx, driveID, d.Recipient); err != nil {
		return p, err
	}
	if p.Note.Rows, err = s.noteRows(ctx, driveID, number, 0); err != nil {
		return p, err
	}
	const kept = `SELECT u.rule, u.why AS reason, u.box FROM box_rules u JOIN boxes b ON b.drive_id = u.drive_id AND b.number = u.box
		WHERE u.drive_id = $1 AND b.delivery = $2 AND NOT u.kept ORDER BY u.box, u.line`
	rows, err := s.pool.Query(ctx, kept, driveID, number)
	if err != nil {
		return p, fmt.Errorf("rules that were not kept: %w", err)
	}
	if p.Note.Overrides, err = collect(rows, "rules that were not kept", pgx.RowToStructByName[drive.NoteOverride]); err != nil {
		return p, err
	}
	p.Link, err = s.LinkOfRecipient(ctx, driveID, d.Recipient)
	return p, err
}

// BoxRows gives what was counted into a box, by size and theme.
func (s *Store) BoxRows(ctx context.Context, driveID string, box int64) ([]drive.NoteRow, error) {
	return s.noteRows(ctx, driveID, 0, box)
}

// noteRows gives what was counted into boxes, by box, size and theme: that of the cloth of the
// bodies, where all bodies of a kit are of one. Of a kit that mixes them nobody wrote down which
// pillowcase went into which box, and a note that counts by theme must not guess.
// Of those of a delivery, or of one box; the other is 0.
func (s *Store) noteRows(ctx context.Context, driveID string, delivery, box int64) ([]drive.NoteRow, error) {
	const q = `SELECT b.number AS box, b.packed_by, b.checked_by, z.name AS size, coalesce(t.theme, '') AS theme, sum(l.n) AS n
		FROM boxes b
		JOIN box_lines l ON l.drive_id = b.drive_id AND l.box = b.number AND NOT l.added
		JOIN sizes z ON z.drive_id = l.drive_id AND z.number = l.size
		LEFT JOIN LATERAL (
			SELECT nullif(min(w.words), '') AS theme
			FROM panels n
			JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet AND h.state <> 'withdrawn'
			JOIN lots o ON o.drive_id = h.drive_id AND o.number = h.lot
			CROSS JOIN LATERAL (SELECT coalesce(string_agg(DISTINCT theme, ', ' ORDER BY theme), '') AS words FROM unnest(o.themes) theme) w
			WHERE n.drive_id = l.drive_id AND n.kit = l.kit AND n.role = 'body'
			HAVING count(DISTINCT w.words) = 1) t ON l.kit > 0
		WHERE b.drive_id = $1 AND (b.delivery = $2 OR b.number = $3)
		GROUP BY b.number, b.packed_by, b.checked_by, z.number, z.name, t.theme
		ORDER BY b.number, z.number, t.theme NULLS LAST`
	rows, err := s.pool.Query(ctx, q, driveID, delivery, box)
	if err != nil {
		return nil, fmt.Errorf("rows of the delivery note: %w", err)
	}
	return collect(rows, "rows of the delivery note", pgx.RowToStructByName[drive.NoteRow])
}
