package postgres

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"
)

// Balances is how much the database holds, and everything in which a balance
// differs from its ledger. It says nothing of when and where, so that two
// databases that hold the same say the same.
type Balances struct {
	Drives      map[string]DriveBalances `json:"drives"`
	Outside     map[string]int64         `json:"outside"`             // rows that belong to no drive, by table
	Checksums   map[string]string        `json:"checksums,omitempty"` // of rows by table, where they were asked for
	Differing   map[string]int           `json:"differing"`           // how many balances differ, by drive; without those where none does
	Differences []Difference             `json:"differences"`         // the first DifferencesTold of each drive
}

// DifferencesTold is how many differences of one drive are told one by one, and kept.
// Where a whole ledger went wrong everything differs: the first show what it is.
const DifferencesTold = 50

// DriveBalances is how much one drive holds.
type DriveBalances struct {
	Counts map[string]int64 `json:"counts"` // rows by table
	// Sums are areas in square 1/1600 mm by account, pillowcases by state, and
	// kits and what they hold by place.
	Sums map[string]json.Number `json:"sums"`
}

// Difference is one thing that does not agree, in words for whoever looks after
// the database.
type Difference struct {
	Drive string `json:"drive"` // empty where it is of none
	What  string `json:"what"`
}

// Agree says whether every balance agrees with its ledger.
func (b Balances) Agree() bool { return len(b.Differing) == 0 }

// Differ is how many balances do not agree, over all drives.
func (b Balances) Differ() int { return total(b.Differing) }

func total(differing map[string]int) int {
	all := 0
	for _, n := range differing {
		all += n
	}
	return all
}

// CheckBalances adds up every ledger anew and holds the balances against it, as
// they stood at one moment.
func (s *Store) CheckBalances(ctx context.Context) (Balances, error) {
	var b Balances
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.root, options, func(tx pgx.Tx) (err error) {
		b, err = balancesIn(ctx, tx)
		return err
	})
	return b, err
}

func balancesIn(ctx context.Context, tx pgx.Tx) (Balances, error) {
	b := Balances{Drives: map[string]DriveBalances{}, Outside: map[string]int64{}, Differing: map[string]int{}, Differences: []Difference{}}
	// Everything is added up whole. After a crash Postgres knows nothing of how much
	// there is, and would look for each of many by itself.
	if _, err := tx.Exec(ctx, `SET LOCAL enable_nestloop = off`); err != nil {
		return b, fmt.Errorf("check balances: %w", err)
	}
	if err := b.count(ctx, tx); err != nil {
		return b, err
	}
	if err := b.sum(ctx, tx); err != nil {
		return b, err
	}
	for _, q := range ledgerChecks() {
		rows, err := tx.Query(ctx, q)
		if err != nil {
			return b, fmt.Errorf("check balances: %w", err)
		}
		var d Difference
		_, err = pgx.ForEachRow(rows, []any{&d.Drive, &d.What}, func() error {
			b.differs(d)
			return nil
		})
		if err != nil {
			return b, fmt.Errorf("check balances: %w", err)
		}
	}
	return b, b.checkSequences(ctx, tx)
}

func (b *Balances) differs(d Difference) {
	if b.Differing[d.Drive]++; b.Differing[d.Drive] <= DifferencesTold {
		b.Differences = append(b.Differences, d)
	}
}

// count counts rows. Wishes, sessions, tries, files that wait, photos that no lot
// has, backups, lots on the table, what to ask for, forecasts and the queue come and go, so they are left out.
func (b Balances) count(ctx context.Context, tx pgx.Tx) error {
	const q = `SELECT 'lots' AS what, drive_id, count(*) AS n FROM lots GROUP BY 2
		UNION ALL SELECT 'photos', drive_id, count(photo) FROM lots GROUP BY 2
		UNION ALL SELECT 'pieces', drive_id, count(*) FROM pieces GROUP BY 2
		UNION ALL SELECT 'fabric_entries', drive_id, count(*) FROM fabric_entries GROUP BY 2
		UNION ALL SELECT 'fabric_deeds', drive_id, count(*) FROM fabric_deeds GROUP BY 2
		UNION ALL SELECT 'fabric_washes', drive_id, count(*) FROM fabric_washes GROUP BY 2
		UNION ALL SELECT 'letter_rules', drive_id, count(*) FROM letter_rules GROUP BY 2
		UNION ALL SELECT 'thanks', drive_id, count(*) FROM thanks GROUP BY 2
		UNION ALL SELECT 'label_papers', drive_id, count(*) FROM label_papers GROUP BY 2
		UNION ALL SELECT 'label_prints', drive_id, count(*) FROM label_prints GROUP BY 2
		UNION ALL SELECT 'label_printed', drive_id, count(*) FROM label_printed GROUP BY 2
		UNION ALL SELECT 'stocktakes', drive_id, count(*) FROM stocktakes GROUP BY 2
		UNION ALL SELECT 'stocktake_lots', drive_id, count(*) FROM stocktake_lots GROUP BY 2
		UNION ALL SELECT 'supplies', drive_id, count(*) FROM supplies GROUP BY 2
		UNION ALL SELECT 'keeping', drive_id, count(*) FROM keeping GROUP BY 2
		UNION ALL SELECT 'hours', drive_id, count(*) FROM hours GROUP BY 2
		UNION ALL SELECT 'standing_asks', drive_id, count(*) FROM standing_asks GROUP BY 2
		UNION ALL SELECT 'kits', drive_id, count(*) FROM kits GROUP BY 2
		UNION ALL SELECT 'kit_entries', drive_id, count(*) FROM kit_entries GROUP BY 2
		UNION ALL SELECT 'kit_reports', drive_id, count(*) FROM kit_reports GROUP BY 2
		UNION ALL SELECT 'reminders', drive_id, count(*) FROM reminders GROUP BY 2
		UNION ALL SELECT 'reminder_rules', drive_id, count(*) FROM reminder_rules GROUP BY 2
		UNION ALL SELECT 'reminder_stops', drive_id, count(*) FROM reminder_stops GROUP BY 2
		UNION ALL SELECT 'case_entries', drive_id, count(*) FROM case_entries GROUP BY 2
		UNION ALL SELECT 'case_balances', drive_id, count(*) FROM case_balances GROUP BY 2
		UNION ALL SELECT 'laundry', drive_id, count(*) FROM laundry GROUP BY 2
		UNION ALL SELECT 'laundry_lines', drive_id, count(*) FROM laundry_lines GROUP BY 2
		UNION ALL SELECT 'laundry_left', drive_id, count(*) FROM laundry_left GROUP BY 2
		UNION ALL SELECT 'box_rules', drive_id, count(*) FROM box_rules GROUP BY 2
		UNION ALL SELECT 'case_notes', drive_id, count(*) FROM case_notes GROUP BY 2
		UNION ALL SELECT 'check_lists', drive_id, count(*) FROM check_lists GROUP BY 2
		UNION ALL SELECT 'checks', drive_id, count(*) FROM checks GROUP BY 2
		UNION ALL SELECT 'check_lines', drive_id, count(*) FROM check_lines GROUP BY 2
		UNION ALL SELECT 'plans', drive_id, count(*) FROM plans GROUP BY 2
		UNION ALL SELECT 'lot_rules', drive_id, count(*) FROM lot_rules GROUP BY 2
		UNION ALL SELECT 'sheets', drive_id, count(*) FROM sheets GROUP BY 2
		UNION ALL SELECT 'panels', drive_id, count(*) FROM panels GROUP BY 2
		UNION ALL SELECT 'sheet_remnants', drive_id, count(*) FROM sheet_remnants GROUP BY 2
		UNION ALL SELECT 'sheet_revisions', drive_id, count(*) FROM sheet_revisions GROUP BY 2
		UNION ALL SELECT 'boxes', drive_id, count(*) FROM boxes GROUP BY 2
		UNION ALL SELECT 'box_lines', drive_id, count(*) FROM box_lines GROUP BY 2
		UNION ALL SELECT 'deliveries', drive_id, count(*) FROM deliveries GROUP BY 2
		UNION ALL SELECT 'delivery_answers', drive_id, count(*) FROM delivery_answers GROUP BY 2
		UNION ALL SELECT 'delivery_counts', drive_id, count(*) FROM delivery_counts GROUP BY 2
		UNION ALL SELECT 'delivery_settled', drive_id, count(*) FROM delivery_settled GROUP BY 2
		UNION ALL SELECT 'donors', drive_id, count(*) FROM donors GROUP BY 2
		UNION ALL SELECT 'people', drive_id, count(*) FROM people GROUP BY 2
		UNION ALL SELECT 'recipients', drive_id, count(*) FROM recipients GROUP BY 2
		UNION ALL SELECT 'sizes', drive_id, count(*) FROM sizes GROUP BY 2
		UNION ALL SELECT 'asked', drive_id, count(*) FROM asked GROUP BY 2
		UNION ALL SELECT 'asked_sizes', drive_id, count(*) FROM asked_sizes GROUP BY 2
		UNION ALL SELECT 'invites', drive_id, count(*) FROM invites GROUP BY 2
		UNION ALL SELECT 'passes', drive_id, count(*) FROM passes GROUP BY 2
		UNION ALL SELECT 'pass_hands', drive_id, count(*) FROM pass_hands GROUP BY 2
		UNION ALL SELECT 'memberships', drive_id, count(*) FROM memberships GROUP BY 2
		UNION ALL SELECT 'imports', drive_id, count(*) FROM imports GROUP BY 2
		UNION ALL SELECT 'import_rows', drive_id, count(*) FROM import_rows GROUP BY 2
		UNION ALL SELECT 'heading_choices', drive_id, count(*) FROM heading_choices GROUP BY 2
		UNION ALL SELECT 'counters', drive_id, count(*) FROM counters GROUP BY 2
		UNION ALL SELECT 'audit', drive_id, count(*) FROM audit GROUP BY 2
		UNION ALL SELECT 'drives', '', count(*) FROM drives
		UNION ALL SELECT 'accounts', '', count(*) FROM accounts
		UNION ALL SELECT 'second_steps', '', count(*) FROM second_steps
		UNION ALL SELECT 'recovery_codes', '', count(*) FROM recovery_codes
		UNION ALL SELECT 'links', '', count(*) FROM links`
	rows, err := tx.Query(ctx, q)
	if err != nil {
		return fmt.Errorf("count rows: %w", err)
	}
	var what, driveID string
	var n int64
	_, err = pgx.ForEachRow(rows, []any{&what, &driveID, &n}, func() error {
		if driveID == "" {
			b.Outside[what] = n
			return nil
		}
		b.of(driveID).Counts[what] = n
		return nil
	})
	if err != nil {
		return fmt.Errorf("count rows: %w", err)
	}
	return nil
}

func (b Balances) sum(ctx context.Context, tx pgx.Tx) error {
	const q = `SELECT 'fabric ' || a.account, p.drive_id, sum(a.area)::text
			FROM pieces p, LATERAL (VALUES ('received', p.received), ('free', p.free), ('promised', p.promised), ('cut', p.cut),
				('out', p.out), ('parted', p.parted)) AS a (account, area) GROUP BY 1, 2
		UNION ALL SELECT 'kits ' || state, drive_id, count(*)::text FROM kits GROUP BY 1, 2
		UNION ALL SELECT 'pillowcases in kits ' || state, drive_id, sum(cases)::text FROM kits GROUP BY 1, 2
		UNION ALL SELECT 'pillowcases ' || state, drive_id, sum(n)::text FROM case_balances GROUP BY 1, 2
		UNION ALL SELECT 'pillowcases asked for', drive_id, sum(wanted)::text FROM asked GROUP BY 2
		UNION ALL SELECT 'last ' || kind, drive_id, last::text FROM counters`
	rows, err := tx.Query(ctx, q)
	if err != nil {
		return fmt.Errorf("sums: %w", err)
	}
	var what, driveID, sum string
	_, err = pgx.ForEachRow(rows, []any{&what, &driveID, &sum}, func() error {
		b.of(driveID).Sums[what] = json.Number(sum)
		return nil
	})
	if err != nil {
		return fmt.Errorf("sums: %w", err)
	}
	return nil
}

func (b Balances) of(driveID string) DriveBalances {
	d, known := b.Drives[driveID]
	if !known {
		d = DriveBalances{Counts: map[string]int64{}, Sums: map[string]json.Number{}}
		b.Drives[driveID] = d
	}
	return d
}
