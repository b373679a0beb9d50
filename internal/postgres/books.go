package postgres

import (
	"context"
	"fmt"
	"iter"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// BooksOf says which books: of a drive, from one day to another, both included,
// with or without how to reach people.
type BooksOf struct {
	Drive    string
	From, To time.Time
	Contacts bool
}

// Books opens the books of a period for use, as one snapshot: everything that use
// goes through is read in one transaction that sees one moment. Rows come as they
// are asked for, so that nothing long is held. It refuses what CheckPeriod refuses.
func (s *Store) Books(ctx context.Context, of BooksOf, use func(drive.Books) error) error {
	if err := drive.CheckPeriod(of.From, of.To); err != nil {
		return err
	}
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	return pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		d, err := driveIn(ctx, tx, of.Drive)
		if err != nil {
			return err
		}
		zone := d.Location().String()
		alive, days := aliveStates(), []any{of.Drive, of.From, of.To}
		inZone, reach := append(days[:3:3], zone), append(days[:3:3], zone, of.Contacts)
		return use(drive.Books{
			Drive: d, From: of.From, To: of.To, MadeAt: s.now(), Contacts: of.Contacts,
			Asked:         bookRows[drive.BookLine](ctx, tx, "asked for", booksLines, of.Drive, of.To, zone),
			Fabric:        bookRows[drive.BookLot](ctx, tx, "fabric", booksLots, inZone...),
			FabricEntries: bookRows[drive.BookFabricEntry](ctx, tx, "fabric entries", booksFabricEntries, inZone...),
			Kits:          bookRows[drive.BookKit](ctx, tx, "kits", booksKits, of.Drive, of.To),
			KitEntries:    bookRows[drive.BookKitEntry](ctx, tx, "kit entries", booksKitEntries, days...),
			Cases:         bookRows[drive.BookCases](ctx, tx, "pillowcases", booksCases, append(days[:3:3], alive)...),
			CaseStates:    bookRows[drive.BookCaseState](ctx, tx, "states of pillowcases", booksCaseStates, days...),
			CaseEntries:   bookRows[drive.BookCaseEntry](ctx, tx, "pillowcase entries", booksCaseEntries, days...),
			Checks:        bookRows[drive.BookCheck](ctx, tx, "checks", booksChecks, days...),
			Reasons:       bookRows[drive.BookReason](ctx, tx, "reasons", booksReasons, days...),
			Deliveries:    bookRows[drive.BookDelivery](ctx, tx, "deliveries", booksDeliveries, days...),
			Boxes:         bookRows[drive.BookBox](ctx, tx, "boxes", booksBoxes, days...),
			Gifts:         bookRows[drive.BookGift](ctx, tx, "gifts", booksGifts, reach...),
			People:        bookRows[drive.BookPerson](ctx, tx, "people", booksPeople, reach...),
			Hours:         bookRows[drive.BookHours](ctx, tx, "hours", booksHours, days...),
		})
	})
}

// bookRows gives the rows of a query one by one as they arrive.
func bookRows[T any](ctx context.Context, tx pgx.Tx, what, q string, args ...any) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		rows, err := tx.Query(ctx, q, args...)
		if err == nil {
			defer rows.Close()
			for rows.Next() {
				row, err := pgx.RowToStructByName[T](rows)
				if err != nil {
					yield(row, fmt.Errorf("books, %s: %w", what, err))
					return
				}
				if !yield(row, nil) {
					return
				}
			}
			err = rows.Err()
		}
		if err != nil {
			var none T
			yield(none, fmt.Errorf("books, %s: %w", what, err))
		}
	}
}

// aliveStates are the states that count towards what was asked for.
func aliveStates() []string {
	var list []string
	for _, state := range drive.CaseStates() {
		if state.Alive() {
			list = append(list, string(state))
		}
	}
	return list
}
