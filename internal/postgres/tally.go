package postgres

import (
	"context"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// TallyTaken says what a tally brought: new lots with the first of their numbers,
// which run on in the order of the rows, and how many have a size now.
type TallyTaken struct {
	Lots     int
	First    int64
	Measured int
}

// TakeTally takes rows that somebody typed in from paper, all or none: lots are
// tagged, and measured where a row gives a size. What is wrong with a row is
// refused on its field, as drive.TallyProblems names them.
func (s *Store) TakeTally(ctx context.Context, act drive.Act, rows []drive.Incoming[drive.LotIn]) (TallyTaken, error) {
	return once(ctx, s, act, "take tally", rows, func(tx pgx.Tx) (TallyTaken, error) {
		d, err := driveIn(ctx, tx, act.Drive)
		if err != nil {
			return TallyTaken{}, err
		}
		// Two tallies at once wait for each other here, before they look at what stands.
		if _, err := nextN(ctx, tx, act.Drive, "donor", 0); err != nil {
			return TallyTaken{}, err
		}
		first, err := nextN(ctx, tx, act.Drive, "lot", 0)
		if err != nil {
			return TallyTaken{}, err
		}
		lots, donors, err := fabricHere(ctx, tx, act.Drive, rows)
		if err != nil {
			return TallyTaken{}, err
		}
		fates, decided := drive.JudgeTally(d, drive.Day(act.At, d.Location()), rows, lots, donors)
		if err := drive.TallyProblems(fates); err != nil {
			return TallyTaken{}, err
		}
		taken := TallyTaken{First: first}
		for _, r := range decided {
			if r.Old == nil {
				taken.Lots++
			}
			if r.Measured != nil {
				taken.Measured++
			}
		}
		return taken, takeFabric(ctx, tx, act, d, decided, taking{}, nil)
	})
}

// JudgeTally says what would become of rows, and is wrong with them, without
// taking anything.
func (s *Store) JudgeTally(ctx context.Context, d drive.Drive, rows []drive.Incoming[drive.LotIn]) ([]drive.RowFate, []drive.Decided, error) {
	lots, donors, err := fabricHere(ctx, s.pool, d.ID, rows)
	if err != nil {
		return nil, nil, err
	}
	fates, decided := drive.JudgeTally(d, drive.Day(s.now(), d.Location()), rows, lots, donors)
	return fates, decided, nil
}
