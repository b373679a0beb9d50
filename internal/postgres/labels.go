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

// LabelItem is one label with the lot it is for.
type LabelItem struct {
	Lot    drive.Lot
	Pieces []drive.Piece // all of the lot
	Piece  int           // 0: the lot
	Copy   int           // of several that are alike, from 1
	Copies int
}

// Labels gives the labels that a wish comes to, by lot. It refuses by field what
// drive.LabelWish.Check refuses, lots and pieces that are not there, and a wish
// that comes to nothing.
func (s *Store) Labels(ctx context.Context, driveID string, wish drive.LabelWish) ([]LabelItem, error) {
	var items []LabelItem
	err := pgx.BeginTxFunc(ctx, s.root, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		places, err := wishedLabels(ctx, tx, driveID, wish)
		if err != nil {
			return err
		}
		items, err = labelItems(ctx, tx, driveID, places)
		return err
	})
	return items, person(err)
}

// labelPlace is a label as it is kept.
type labelPlace struct {
	Lot    int64 `db:"lot"`
	Piece  int   `db:"piece"`
	Copy   int   `db:"copy"`
	Copies int   `db:"copies"`
}

func wishedLabels(ctx context.Context, db querier, driveID string, wish drive.LabelWish) ([]labelPlace, error) {
	if err := wish.Check(); err != nil {
		return nil, err
	}
	var lots, pieces []int64
	for _, n := range wish.Named {
		lots, pieces = append(lots, n.Lot), append(pieces, int64(n.Piece))
	}
	// A lot that is named gets its label wherever its cloth went.
	const q = labelsHere + `, named AS (SELECT lot, piece FROM unnest($4::bigint[], $5::bigint[]) AS n (lot, piece)),
		chosen AS (
			SELECT d.lot, d.piece, d.several FROM due d
			WHERE CASE $2 WHEN 'without a label' THEN d.at IS NULL WHEN 'measured since' THEN d.at < d.measured_at
				WHEN 'a drop-off' THEN d.piece = 0 AND d.received_on = $3 WHEN 'all on the shelf' THEN true ELSE false END
			UNION ALL
			SELECT n.lot, n.piece::integer, coalesce((SELECT d.several FROM due d WHERE d.lot = n.lot AND d.piece = n.piece), 1) FROM named n)
		SELECT lot, piece, several FROM chosen ORDER BY lot, piece LIMIT $6`
	rows, err := db.Query(ctx, q, driveID, string(wish.Which), wish.Day, lots, pieces, drive.MostLabels+1)
	if err != nil {
		return nil, fmt.Errorf("labels to print: %w", err)
	}
	var places []labelPlace
	var lot int64
	var piece, several int
	_, err = pgx.ForEachRow(rows, []any{&lot, &piece, &several}, func() error {
		if !wish.Each || several < 1 {
			several = 1
		}
		for copy := 1; copy <= several && len(places) <= drive.MostLabels; copy++ {
			places = append(places, labelPlace{lot, piece, copy, several})
		}
		return nil
	})
	switch {
	case err != nil:
		return nil, fmt.Errorf("labels to print: %w", err)
	case len(places) > drive.MostLabels:
		return nil, apperr.Invalid("which", "These are more than %d labels: print them in parts.", drive.MostLabels)
	case len(places) == 0:
		return nil, noLabels(wish.Which)
	}
	return places, nil
}

func noLabels(which drive.LabelWhich) error {
	switch which {
	case drive.LabelsMissing:
		return apperr.Invalid("which", "Every lot on the shelf has its label. Name lots to print theirs again.")
	case drive.LabelsSince:
		return apperr.Invalid("which", "No lot was measured since its label was printed.")
	case drive.LabelsOfDay:
		return apperr.Invalid("day", "Nothing that came in on that day is still here.")
	}
	return apperr.Invalid("which", "There is no fabric on the shelf.")
}

// labelItems gives the lots of labels; a lot or piece that is not there is an
// invalid "lots".
func labelItems(ctx context.Context, db querier, driveID string, places []labelPlace) ([]LabelItem, error) {
	var numbers []int64
	for _, p := range places {
		numbers = append(numbers, p.Lot)
	}
	const lotsQuery = `SELECT ` + lotColumns + ` FROM lots l WHERE l.drive_id = $1 AND l.number = ANY($2)`
	rows, err := db.Query(ctx, lotsQuery, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("lots of labels: %w", err)
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Lot])
	if err != nil {
		return nil, fmt.Errorf("lots of labels: %w", err)
	}
	lots := map[int64]drive.Lot{}
	for _, l := range found {
		lots[l.Number] = l
	}
	const piecesQuery = `SELECT ` + pieceColumns + ` FROM pieces p WHERE p.drive_id = $1 AND p.lot = ANY($2) ORDER BY p.lot, p.piece`
	rows, err = db.Query(ctx, piecesQuery, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("pieces of labels: %w", err)
	}
	cut, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Piece])
	if err != nil {
		return nil, fmt.Errorf("pieces of labels: %w", err)
	}
	pieces, there := map[int64][]drive.Piece{}, map[drive.LabelOf]bool{}
	for _, p := range cut {
		pieces[p.Lot] = append(pieces[p.Lot], p)
		there[drive.LabelOf{Lot: p.Lot, Piece: p.Piece}] = true
	}
	items := make([]LabelItem, len(places))
	for i, p := range places {
		lot, ok := lots[p.Lot]
		switch {
		case !ok:
			return nil, apperr.Invalid("lots", "There is no lot %d in this drive.", p.Lot)
		case p.Piece != 0 && !there[drive.LabelOf{Lot: p.Lot, Piece: p.Piece}]:
			return nil, apperr.Invalid("lots", "Lot %d has no piece %d.", p.Lot, p.Piece)
		}
		items[i] = LabelItem{Lot: lot, Pieces: pieces[p.Lot], Piece: p.Piece, Copy: p.Copy, Copies: p.Copies}
	}
	return items, nil
}

// PrintLabels notes that the labels of a wish are printed, and gives the number of
// the printing. Two who print what has no label at once do not print the same.
func (s *Store) PrintLabels(ctx context.Context, act drive.Act, wish drive.LabelWish) (int64, error) {
	return once(ctx, s, act, "print labels", wish, func(tx pgx.Tx) (int64, error) {
		// The counter's row makes the second wait for the first.
		number, err := next(ctx, tx, act.Drive, "label print")
		if err != nil {
			return 0, err
		}
		places, err := wishedLabels(ctx, tx, act.Drive, wish)
		if err != nil {
			return 0, err
		}
		if _, err := labelItems(ctx, tx, act.Drive, places); err != nil {
			return 0, err
		}
		const insert = `INSERT INTO label_prints (drive_id, number, which, paper, start, at, who) VALUES ($1, $2, $3, $4, $5, $6, $7)`
		if _, err := tx.Exec(ctx, insert, act.Drive, number, wish.Which, wish.Paper, wish.Start, act.At, act.Who); err != nil {
			return 0, fmt.Errorf("print labels: %w", err)
		}
		_, err = tx.CopyFrom(ctx, pgx.Identifier{"label_printed"}, []string{"drive_id", "print", "position", "lot", "piece", "copy", "copies"},
			pgx.CopyFromSlice(len(places), func(i int) ([]any, error) {
				p := places[i]
				return []any{act.Drive, number, i + 1, p.Lot, p.Piece, p.Copy, p.Copies}, nil
			}))
		if err != nil {
			return 0, fmt.Errorf("print labels: %w", err)
		}
		return number, audit(ctx, tx, act, "labels printed", "label print", number, changes{"labels": {To: len(places)}})
	})
}

// UndoLabelPrint takes back that labels were printed: they came out wrong, or not
// at all, and count as missing again.
func (s *Store) UndoLabelPrint(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "undo label print", number, func(tx pgx.Tx) (int64, error) {
		const update = `UPDATE label_prints SET undone_at = $3 WHERE drive_id = $1 AND number = $2 AND undone_at IS NULL`
		tag, err := tx.Exec(ctx, update, act.Drive, number, act.At)
		if err != nil {
			return 0, fmt.Errorf("undo label print: %w", err)
		}
		if tag.RowsAffected() == 0 {
			return 0, apperr.Conflict("That printing is undone already.")
		}
		return number, audit(ctx, tx, act, "labels not printed", "label print", number, changes{})
	})
}

// LabelPrint is one printing of labels.
type LabelPrint struct {
	Number   int64            `db:"number"`
	Which    drive.LabelWhich `db:"which"`
	Paper    drive.LabelPaper `db:"paper"`
	Start    int              `db:"start"`
	At       time.Time        `db:"at"`
	WhoName  string           `db:"who_name"`
	UndoneAt *time.Time       `db:"undone_at"`
	Labels   int              `db:"labels"`
}

// After is the first label of the last sheet that this printing left, from 1.
func (p LabelPrint) After() int { return (p.Start-1+p.Labels)%p.Paper.PerSheet() + 1 }

const labelPrints = `SELECT p.number, p.which, p.paper, p.start, p.at, coalesce(a.name, '') AS who_name, p.undone_at,
		(SELECT count(*) FROM label_printed i WHERE i.drive_id = p.drive_id AND i.print = p.number) AS labels
	FROM label_prints p LEFT JOIN signers a ON a.id = p.who
	WHERE p.drive_id = $1`

// LabelPrints gives the latest printings, newest first.
func (s *Store) LabelPrints(ctx context.Context, driveID string, most int) ([]LabelPrint, error) {
	const q = labelPrints + ` ORDER BY p.number DESC LIMIT $2`
	rows, err := s.pool.Query(ctx, q, driveID, most)
	if err != nil {
		return nil, fmt.Errorf("printings of labels: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[LabelPrint])
	if err != nil {
		return nil, fmt.Errorf("printings of labels: %w", err)
	}
	return list, nil
}

// LabelPrint gives one printing with its labels, as the lots are now.
func (s *Store) LabelPrint(ctx context.Context, driveID string, number int64) (LabelPrint, []LabelItem, error) {
	const q = labelPrints + ` AND p.number = $2`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return LabelPrint{}, nil, fmt.Errorf("printing of labels: %w", err)
	}
	p, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[LabelPrint])
	if errors.Is(err, pgx.ErrNoRows) {
		return p, nil, apperr.NotFound("There is no such printing here.")
	}
	if err != nil {
		return p, nil, fmt.Errorf("printing of labels: %w", err)
	}
	const places = `SELECT lot, piece, copy, copies FROM label_printed WHERE drive_id = $1 AND print = $2 ORDER BY position`
	rows, err = s.pool.Query(ctx, places, driveID, number)
	if err != nil {
		return p, nil, fmt.Errorf("printing of labels: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[labelPlace])
	if err != nil {
		return p, nil, fmt.Errorf("printing of labels: %w", err)
	}
	items, err := labelItems(ctx, s.pool, driveID, list)
	return p, items, err
}
