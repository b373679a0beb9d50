package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// BooksOf says which books: of a drive, from one day to another, both included,
// with or without how to reach people. Whole: every list will be gone through, in the
// order of drive.Books; then the next rows are fetched while some are written.
type BooksOf struct {
	Drive    string
	From, To time.Time
	Contacts bool
	Whole    bool
}

// Books opens the books of a period for use, as one snapshot: everything that use
// goes through is read in one transaction that sees one moment. Rows come as they
// are asked for, and a few ahead, so that nothing long is held. It refuses what
// CheckPeriod refuses.
func (s *Store) Books(ctx context.Context, of BooksOf, use func(drive.Books) error) error {
	if err := drive.CheckPeriod(of.From, of.To); err != nil {
		return err
	}
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	return pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) error {
		// A year's entries are sorted and added up in memory; by the server's own measure they go by the disk.
		if _, err := tx.Exec(ctx, `SET LOCAL work_mem = '16MB'`); err != nil {
			return fmt.Errorf("the books: %w", err)
		}
		d, err := driveIn(ctx, tx, of.Drive)
		if err != nil {
			return err
		}
		zone := d.Location().String()
		alive, days := aliveStates(), []any{of.Drive, of.From, of.To}
		inZone, reach := append(days[:3:3], zone), append(days[:3:3], zone, of.Contacts)
		r := &bookReader{ctx: ctx, tx: tx, whole: of.Whole, ahead: make(chan struct{}, bunchesKept)}
		defer r.end()
		return use(drive.Books{
			Drive: d, From: of.From, To: of.To, MadeAt: s.now(), Contacts: of.Contacts,
			Asked:         bookRows[drive.BookLine](r, "asked for", booksLines, of.Drive, of.To, zone),
			AskedChanges:  bookRows[drive.BookAskedChange](r, "changes of what is asked for", booksAskedChanges, inZone...),
			Fabric:        bookRows[drive.BookLot](r, "fabric", booksLots, inZone...),
			FabricEntries: bookRows[drive.BookFabricEntry](r, "fabric entries", booksFabricEntries, inZone...),
			Kits:          bookRows[drive.BookKit](r, "kits", booksKits, of.Drive, of.To),
			KitEntries:    bookRows[drive.BookKitEntry](r, "kit entries", booksKitEntries, days...),
			Cases:         bookRows[drive.BookCases](r, "pillowcases", booksCases, append(days[:3:3], alive)...),
			CaseStates:    bookRows[drive.BookCaseState](r, "states of pillowcases", booksCaseStates, days...),
			CaseEntries:   bookRows[drive.BookCaseEntry](r, "pillowcase entries", booksCaseEntries, days...),
			Checks:        bookRows[drive.BookCheck](r, "checks", booksChecks, days...),
			Reasons:       bookRows[drive.BookReason](r, "reasons", booksReasons, days...),
			Laundry:       bookRows[drive.BookWash](r, "laundry", booksLaundry, days...),
			Deliveries:    bookRows[drive.BookDelivery](r, "deliveries", booksDeliveries, days...),
			Boxes:         bookRows[drive.BookBox](r, "boxes", booksBoxes, days...),
			Gifts:         bookRows[drive.BookGift](r, "gifts", booksGifts, reach...),
			People:        bookRows[drive.BookPerson](r, "people", booksPeople, reach...),
			Hours:         bookRows[drive.BookHours](r, "hours", booksHours, days...),
		})
	})
}

// BooksBegin gives the first day on which anything of a drive happened, as far as it was
// noted: some of it before the drive was put into the program.
func (s *Store) BooksBegin(ctx context.Context, d drive.Drive) (time.Time, error) {
	const q = `SELECT least(
		(SELECT min(day) FROM case_entries WHERE drive_id = $1), (SELECT min(day) FROM kit_entries WHERE drive_id = $1),
		(SELECT min(received_on) FROM lots WHERE drive_id = $1), (SELECT min(day) FROM hours WHERE drive_id = $1 AND undone_at IS NULL), $2::date)`
	var day time.Time
	if err := s.pool.QueryRow(ctx, q, d.ID, drive.Day(d.CreatedAt, d.Location())).Scan(&day); err != nil {
		return day, fmt.Errorf("the first day of the books: %w", err)
	}
	return day, nil
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
