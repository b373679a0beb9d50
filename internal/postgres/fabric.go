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

const lotColumns = `l.number, l.donor, l.tag, l.received_on, l.pieces_told, l.kind, l.set_aside, l.shelf, l.fibre, l.weight, l.washed,
	l.print, l.turn, l.border, l.trim_ok, l.colours, l.themes, l.ends, l.pieces_measured, l.raw_length, l.raw_width, l.note, l.photo, l.created_at, l.measured_at,
	l.untagged_at, l.version`

// piecesCounted is drive.Lot.PiecesCounted.
const piecesCounted = `CASE WHEN measured_at IS NULL THEN pieces_told ELSE coalesce(pieces_measured, pieces_told) END`

const pieceColumns = `p.lot, p.piece, p.kind, p.origin, p.width, p.free_length, p.received, p.free, p.promised, p.cut, p.out, p.parted`

// LotsTagged says which numbers lots were given.
type LotsTagged struct {
	Numbers []int64
}

// TagLots books lots as they come through the door and gives each its number.
// Donors are found by name or made. It refuses by field what
// drive.Tagging.Check refuses, and a tag that hangs on another lot.
func (s *Store) TagLots(ctx context.Context, act drive.Act, lots []drive.Tagging) (LotsTagged, error) {
	tidy := make([]drive.Tagging, len(lots))
	names := make([]string, len(lots))
	for i, t := range lots {
		tidy[i] = t.Tidy()
		names[i] = tidy[i].Donor
	}
	var driveFound func() (drive.Drive, error)
	ask := func(batch *pgx.Batch) { driveFound = queueDrive(batch, act.Drive) }
	return onceAsking(ctx, s, act, "tag lots", tidy, ask, func(tx *wishTx) (LotsTagged, error) {
		d, err := driveFound()
		if err != nil {
			return LotsTagged{}, err
		}
		for _, t := range tidy {
			if err := t.Check(drive.Day(act.At, d.Location())); err != nil {
				return LotsTagged{}, err
			}
		}
		donors, err := donorsNamed(ctx, tx, act, names, nil)
		if err != nil {
			return LotsTagged{}, err
		}
		var tagged LotsTagged
		first, err := nextN(ctx, tx, act.Drive, "lot", len(tidy))
		if err != nil {
			return tagged, err
		}
		// All to the last, and at once: other desks wait for their numbers until this is kept.
		for i, t := range tidy {
			number := first + int64(i)
			if err := queueLot(&tx.last, act, t.Lot(number, donors[t.Donor], act.At)); err != nil {
				return tagged, err
			}
			tagged.Numbers = append(tagged.Numbers, number)
		}
		return tagged, nil
	})
}

// queueLot makes the row of a lot that was just tagged, and its first entry.
func queueLot(batch *pgx.Batch, act drive.Act, l drive.Lot) error {
	const insert = `INSERT INTO lots (drive_id, number, donor, tag, received_on, pieces_told, kind, set_aside, shelf, fibre, weight, washed,
			print, turn, border, trim_ok, colours, themes, ends, note, created_at, photo)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22)`
	batch.Queue(insert, act.Drive, l.Number, l.Donor, l.Tag, l.ReceivedOn, l.PiecesTold, l.Kind, l.SetAside, l.Shelf, l.Fibre, l.Weight, l.Washed,
		l.Print, l.Turn, l.Border, l.TrimOK, l.Colours, l.Themes, l.Ends, l.Note, l.CreatedAt, l.Photo)
	queueFabric(batch, act, drive.Tagged(l.Number))
	c := changes{"pieces": {To: l.PiecesTold}}
	c.set("tag", "", orZero(l.Tag))
	c.set("set aside", "", l.SetAside)
	args, err := audited(act, "lot tagged", "lot", l.Number, c)
	batch.Queue(insertAudit, args...)
	return err
}

// SetAside keeps a lot from planning and says why.
func (s *Store) SetAside(ctx context.Context, act drive.Act, number int64, why string) (int64, error) {
	return once(ctx, s, act, "set aside", [2]any{number, why}, func(tx pgx.Tx) (int64, error) {
		lot, err := lockLot(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		aside, err := drive.SetAside(lot, why)
		if err != nil {
			return 0, err
		}
		return number, updateLot(ctx, tx, act, lot, aside, "set aside")
	})
}

// TakeBackAside lets planning draw on a lot again.
func (s *Store) TakeBackAside(ctx context.Context, act drive.Act, number int64) (int64, error) {
	return once(ctx, s, act, "take back aside", number, func(tx pgx.Tx) (int64, error) {
		lot, err := lockLot(ctx, tx, act.Drive, number)
		if err != nil || lot.SetAside == "" {
			return number, err
		}
		back := lot
		back.SetAside = ""
		return number, updateLot(ctx, tx, act, lot, back, "set aside no longer")
	})
}

// ChangeLot corrects what is written about a lot that is still at this version; a
// later one is a conflict. It gives the version the lot has then.
func (s *Store) ChangeLot(ctx context.Context, act drive.Act, number int64, version int, change drive.LotChange) (int, error) {
	body := struct {
		Number  int64
		Version int
		Change  drive.LotChange
	}{number, version, change}
	return once(ctx, s, act, "change lot", body, func(tx pgx.Tx) (int, error) {
		// Donors before lots, as where lots come in.
		donor := drive.Tagging{Donor: change.Donor}.Tidy().Donor
		donors, err := donorsNamed(ctx, tx, act, []string{donor}, nil)
		if err != nil {
			return 0, err
		}
		lot, err := lockLot(ctx, tx, act.Drive, number)
		if err != nil {
			return 0, err
		}
		if lot.Version != version {
			return 0, stale(fmt.Sprintf("Lot %d", number))
		}
		changed, err := change.Apply(lot, donors[donor])
		if err != nil {
			return 0, err
		}
		return version + 1, updateLot(ctx, tx, act, lot, changed, "lot changed")
	})
}

// updateLot writes a lot that is locked, as the next version.
func updateLot(ctx context.Context, tx pgx.Tx, act drive.Act, old, l drive.Lot, what string) error {
	const update = `UPDATE lots SET donor = $3, tag = $4, pieces_told = $5, kind = $6, set_aside = $7, shelf = $8, fibre = $9, weight = $10, washed = $11,
			print = $12, turn = $13, border = $14, trim_ok = $15, colours = $16, themes = $17, ends = $18, raw_length = $19, raw_width = $20,
			note = $21, measured_at = $22, untagged_at = $23, pieces_measured = $24, version = version + 1
		WHERE drive_id = $1 AND number = $2`
	_, err := tx.Exec(ctx, update, act.Drive, l.Number, l.Donor, l.Tag, l.PiecesTold, l.Kind, l.SetAside, l.Shelf, l.Fibre, l.Weight, l.Washed,
		l.Print, l.Turn, l.Border, l.TrimOK, l.Colours, l.Themes, l.Ends, l.RawLength, l.RawWidth, l.Note, l.MeasuredAt, l.UntaggedAt, l.Recounted)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return audit(ctx, tx, act, what, "lot", l.Number, lotChanges(old, l))
}

func lotChanges(old, l drive.Lot) changes {
	c := changes{}
	c.set("donor", orZero(old.Donor), orZero(l.Donor))
	c.set("tag", orZero(old.Tag), orZero(l.Tag))
	c.set("pieces", old.PiecesCounted(), l.PiecesCounted())
	c.set("kind", old.Kind, l.Kind)
	c.set("set aside", old.SetAside, l.SetAside)
	c.set("shelf", old.Shelf, l.Shelf)
	c.set("fibre", old.Fibre, l.Fibre)
	c.set("weight", old.Weight, l.Weight)
	c.set("washed", old.Washed, l.Washed)
	c.set("print", old.Print, l.Print)
	c.set("turn", old.Turn, l.Turn)
	c.set("border", old.Border, l.Border)
	c.set("trim ok", old.TrimOK, l.TrimOK)
	c.set("colours", old.Colours, l.Colours)
	c.set("themes", old.Themes, l.Themes)
	c.set("ends", old.Ends, l.Ends)
	c.set("length", orZero(old.RawLength), orZero(l.RawLength))
	c.set("width", orZero(old.RawWidth), orZero(l.RawWidth))
	c.personal("note", old.Note, l.Note)
	c.set("measured", momentText(old.MeasuredAt), momentText(l.MeasuredAt))
	return c
}

func momentText(at *time.Time) string {
	if at == nil {
		return ""
	}
	return at.UTC().Format(time.RFC3339)
}

func lockLot(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Lot, error) {
	const q = `SELECT ` + lotColumns + ` FROM lots l WHERE l.drive_id = $1 AND l.number = $2 FOR NO KEY UPDATE`
	lot, err := oneLot(ctx, tx, q, driveID, number)
	if err == nil {
		err = lot.StillALot()
	}
	return lot, err
}

func oneLot(ctx context.Context, db querier, q, driveID string, number int64) (drive.Lot, error) {
	rows, err := db.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Lot{}, fmt.Errorf("lot: %w", err)
	}
	lot, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Lot])
	if errors.Is(err, pgx.ErrNoRows) {
		return lot, apperr.NotFound("There is no lot %d here.", number)
	}
	if err != nil {
		return lot, fmt.Errorf("lot: %w", err)
	}
	return lot, nil
}

func piecesBy(ctx context.Context, db querier, q, driveID string, lot int64) ([]drive.Piece, error) {
	rows, err := db.Query(ctx, q, driveID, lot)
	if err != nil {
		return nil, fmt.Errorf("pieces of lot: %w", err)
	}
	pieces, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.Piece])
	if err != nil {
		return nil, fmt.Errorf("pieces of lot: %w", err)
	}
	return pieces, nil
}
