package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// errNothingTaken ends an import that writes nothing, so that its wish is not kept either.
var errNothingTaken = errors.New("no row is taken")

// taking is how a list is taken in.
type taking struct {
	good bool                  // the good rows although others are refused
	told func(done, total int) // how many rows are written of how many
	file int64                 // the spreadsheet whose taking in this is; 0 for none
}

func (t taking) tell(done, total int) {
	if t.told != nil {
		t.told(done, total)
	}
}

// bring runs one import: the fates of all rows are decided and the good ones
// written in one transaction, all or none. With a row refused nothing is written
// unless the good ones are wanted. The answer kept for a repeat names no rows that were taken, and
// of those that were not only where they stand: what is wrong with them quotes them.
func bring[T any](ctx context.Context, s *Store, act drive.Act, what string, rows []drive.Incoming[T], how taking,
	decide func(tx pgx.Tx, d drive.Drive) (fates []drive.RowFate, write func(*made) error, err error),
) (drive.ImportReport, error) {
	// Row by row, for the text of all rows at once is larger than the rows.
	sum := sha256.New()
	rowsOf := json.NewEncoder(sum)
	for _, row := range rows {
		if err := rowsOf.Encode(row); err != nil {
			return drive.ImportReport{}, fmt.Errorf("fingerprint of a row: %w", err)
		}
	}
	body := struct {
		Rows     []byte
		TakeGood bool
	}{sum.Sum(nil), how.good}
	var told *drive.ImportReport // to whoever was first
	kept, err := once(ctx, s, act, "bring "+what, body, func(tx pgx.Tx) (drive.ImportReport, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return drive.ImportReport{}, err
		}
		fates, write, err := decide(tx, d)
		if err != nil {
			return drive.ImportReport{}, err
		}
		report := drive.Report(fates, how.good)
		told = &report
		if report.Taken == 0 {
			return report, errNothingTaken
		}
		var rows made
		if err := write(&rows); err != nil {
			return drive.ImportReport{}, err
		}
		if err := keepImport(ctx, tx, act, what, report.Taken, rows); err != nil {
			return drive.ImportReport{}, err
		}
		if how.file != 0 {
			if err := keepTaken(ctx, tx, act, how.file, report); err != nil {
				return drive.ImportReport{}, err
			}
		}
		c := changes{"taken": {To: report.Taken}, "unchanged": {To: report.Unchanged}, "refused": {To: len(report.Refused)}}
		return report.WithoutReasons(), audit(ctx, tx, act, "brought in", "import", what, c)
	})
	switch {
	case told != nil && (err == nil || errors.Is(err, errNothingTaken)):
		return *told, nil
	case err != nil:
		return drive.ImportReport{}, err
	}
	return kept, nil
}

// PreviewFabric says what ImportFabric would do, and changes nothing.
func (s *Store) PreviewFabric(ctx context.Context, driveID string, rows []drive.Incoming[drive.LotIn], takeGood bool) (drive.ImportReport, error) {
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return drive.ImportReport{}, err
	}
	lots, donors, err := fabricHere(ctx, s.pool, driveID, rows)
	if err != nil {
		return drive.ImportReport{}, err
	}
	fates, _ := drive.JudgeFabric(d, drive.Day(s.now(), d.Location()), rows, lots, donors)
	return drive.Report(fates, takeGood), nil
}

// ImportFabric takes lots from a spreadsheet as one act: tagged, and measured
// where a row gives a size. Rows whose code hangs on a lot already are unchanged, or
// give it the size it waits for.
func (s *Store) ImportFabric(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.LotIn], takeGood bool) (drive.ImportReport, error) {
	return s.importFabric(ctx, act, rows, taking{good: takeGood})
}

func (s *Store) importFabric(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.LotIn], how taking) (drive.ImportReport, error) {
	return bring(ctx, s, act, "fabric", rows, how, func(tx pgx.Tx, d drive.Drive) ([]drive.RowFate, func(*made) error, error) {
		// Two files at once wait for each other here, before they look at what stands,
		// and in the order in which a lot that is tagged takes its numbers.
		for _, kind := range []string{"donor", "lot"} {
			if _, err := nextN(ctx, tx, act.Drive, kind, 0); err != nil {
				return nil, nil, err
			}
		}
		lots, donors, err := fabricHere(ctx, tx, act.Drive, rows)
		if err != nil {
			return nil, nil, err
		}
		fates, decided := drive.JudgeFabric(d, drive.Day(act.At, d.Location()), rows, lots, donors)
		return fates, func(m *made) error { return takeFabric(ctx, tx, act, d, decided, how, m) }, nil
	})
}

// fabricHere gives the lots that carry one of the rows' codes, by code in lower
// case, and the names of their donors.
func fabricHere(ctx context.Context, db querier, driveID string, rows []drive.Incoming[drive.LotIn]) (map[string]drive.Lot, map[int64]string, error) {
	tags := make([]string, len(rows))
	for i, r := range rows {
		tags[i] = r.Value.Tagging.Tidy().Tag
	}
	const q = `SELECT ` + lotColumns + ` FROM lots l WHERE l.drive_id = $1 AND lower(l.tag) IN (SELECT lower(t) FROM unnest($2::text[]) AS t)`
	found, err := db.Query(ctx, q, driveID, tags)
	if err != nil {
		return nil, nil, fmt.Errorf("lots by code: %w", err)
	}
	list, err := pgx.CollectRows(found, pgx.RowToStructByName[drive.Lot])
	if err != nil {
		return nil, nil, fmt.Errorf("lots by code: %w", err)
	}
	lots, numbers := map[string]drive.Lot{}, []int64{}
	for _, l := range list {
		lots[strings.ToLower(*l.Tag)] = l
		if l.Donor != nil {
			numbers = append(numbers, *l.Donor)
		}
	}
	const names = `SELECT number, name FROM donors WHERE drive_id = $1 AND number = ANY($2)`
	givers, err := db.Query(ctx, names, driveID, numbers)
	if err != nil {
		return nil, nil, fmt.Errorf("donors of lots: %w", err)
	}
	donors := map[int64]string{}
	var number int64
	var name string
	_, err = pgx.ForEachRow(givers, []any{&number, &name}, func() error {
		donors[number] = name
		return nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("donors of lots: %w", err)
	}
	return lots, donors, nil
}

// takeFabric writes the rows that are taken.
func takeFabric(ctx context.Context, tx pgx.Tx, act drive.Act, d drive.Drive, rows []drive.Decided, how taking, m *made) error {
	names := make([]string, len(rows))
	fresh := 0
	for i, r := range rows {
		names[i] = r.Tagging.Donor
		if r.Old == nil {
			fresh++
		}
	}
	donors, err := donorsNamed(ctx, tx, act, names, m)
	if err != nil {
		return err
	}
	number, err := nextN(ctx, tx, act.Drive, "lot", fresh)
	if err != nil {
		return err
	}
	done := 0
	for some := range slices.Chunk(slices.DeleteFunc(slices.Clone(rows), func(r drive.Decided) bool { return r.Old != nil }), lotsAtOnce) {
		var lots newLots
		for _, r := range some {
			if err := lots.add(act, d, r, number, donors[r.Tagging.Donor]); err != nil {
				return err
			}
			m.add(drive.BroughtLot, number, 1)
			number++
		}
		if err := lots.write(ctx, tx, act); err != nil {
			return err
		}
		done += len(some)
		how.tell(done, len(rows))
	}
	// Known lots get their size one by one, locked in the order of their numbers.
	var old []drive.Decided
	for _, r := range rows {
		if r.Old != nil {
			old = append(old, r)
		}
	}
	slices.SortFunc(old, func(a, b drive.Decided) int { return int(a.Old.Number - b.Old.Number) })
	for i, r := range old {
		how.tell(done+i, len(rows))
		lot, err := lockLot(ctx, tx, act.Drive, r.Old.Number)
		if err != nil {
			return err
		}
		if lot.Version != r.Old.Version {
			return stale(fmt.Sprintf("Lot %d", lot.Number))
		}
		was := lot
		if lot.Donor == nil {
			lot.Donor = donors[r.Tagging.Donor]
		}
		if _, err := measure(ctx, tx, act, d, was, lot, *r.Measured); err != nil {
			return err
		}
		m.add(drive.BroughtSize, lot.Number, lot.Version+1)
	}
	return nil
}

// lotsAtOnce is how many lots are written together: few enough that somebody who
// watches sees them go by, and a wish to stop is heard.
const lotsAtOnce = 250

// newLots collects lots that were not here, to be written in bulk.
type newLots struct {
	lots    []drive.Lot
	pieces  []drive.NewPiece
	entries []drive.FabricEntry
}

func (n *newLots) add(act drive.Act, d drive.Drive, r drive.Decided, number int64, donor *int64) error {
	lot := r.Tagging.Lot(number, donor, act.At)
	n.entries = append(n.entries, drive.Tagged(number))
	if r.Measured != nil {
		out, err := drive.Measure(d, lot, *r.Measured, 1)
		if err != nil {
			return err
		}
		lot = out.Lot
		lot.MeasuredAt = &act.At
		n.pieces = append(n.pieces, out.Pieces...)
		n.entries = append(n.entries, out.Entries...)
	}
	n.lots = append(n.lots, lot)
	return nil
}

func (n *newLots) write(ctx context.Context, tx pgx.Tx, act drive.Act) error {
	columns := []string{
		"drive_id", "number", "donor", "tag", "received_on", "pieces_told", "kind", "set_aside", "shelf", "fibre", "weight", "washed",
		"print", "turn", "border", "trim_ok", "colours", "themes", "ends", "pieces_measured", "raw_length", "raw_width", "note", "created_at", "measured_at",
	}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"lots"}, columns, pgx.CopyFromSlice(len(n.lots), func(i int) ([]any, error) {
		l := n.lots[i]
		return []any{
			act.Drive, l.Number, l.Donor, l.Tag, l.ReceivedOn, l.PiecesTold, l.Kind, l.SetAside, l.Shelf, l.Fibre, l.Weight, l.Washed,
			l.Print, l.Turn, l.Border, l.TrimOK, l.Colours, l.Themes, l.Ends, l.Recounted, (*int64)(l.RawLength), (*int64)(l.RawWidth), l.Note, l.CreatedAt, l.MeasuredAt,
		}, nil
	}))
	if err != nil {
		return fmt.Errorf("bring in lots: %w", err)
	}
	if err := copyPieces(ctx, tx, act.Drive, n.pieces); err != nil {
		return err
	}
	return copyFabric(ctx, tx, act, n.entries)
}

func copyPieces(ctx context.Context, tx pgx.Tx, driveID string, pieces []drive.NewPiece) error {
	columns := []string{"drive_id", "lot", "piece", "kind", "origin", "width"}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"pieces"}, columns, pgx.CopyFromSlice(len(pieces), func(i int) ([]any, error) {
		p := pieces[i]
		return []any{driveID, p.Lot, p.Piece, string(p.Kind), p.Origin, int64(p.Width)}, nil
	}))
	if err != nil {
		return fmt.Errorf("bring in pieces: %w", err)
	}
	return nil
}

func copyFabric(ctx context.Context, tx pgx.Tx, act drive.Act, entries []drive.FabricEntry) error {
	columns := []string{"drive_id", "lot", "piece", "kind", "from_account", "to_account", "length", "area", "other_piece", "reason", "at", "who", "request"}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"fabric_entries"}, columns, pgx.CopyFromSlice(len(entries), func(i int) ([]any, error) {
		e := entries[i]
		return []any{act.Drive, e.Lot, e.Piece, string(e.Kind), string(e.From), string(e.To), int64(e.Length), int64(e.Area), e.OtherPiece, e.Reason, act.At, act.Who, act.Request}, nil
	}))
	if err != nil {
		return fmt.Errorf("bring in the fabric ledger: %w", err)
	}
	return nil
}
