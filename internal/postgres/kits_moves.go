package postgres

import (
	"context"
	"fmt"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

const kitFields = `k.number, k.part, k.parent, k.asked, k.size, k.plan, k.own_fabric, k.cases, k.state, k.holder, k.since, k.due, k.note, k.place, k.loose,
	coalesce(p.name, '') AS holder_name`

const kitColumns = kitFields + `,
	(SELECT max(l.part) FROM kits l WHERE l.drive_id = k.drive_id AND l.number = k.number) AS last_part,
	k.state = 'lost' AND EXISTS (SELECT FROM case_entries e
		WHERE e.drive_id = k.drive_id AND e.to_kit = k.number AND e.to_kit > 0 AND e.to_part = k.part AND e.from_state = 'to mend' AND e.to_state = 'lost') AS mending,
	(SELECT max(e.day) FROM case_entries e
		WHERE e.drive_id = k.drive_id AND e.to_kit = k.number AND e.to_kit > 0 AND e.kit = k.number AND e.part = k.part AND e.undoes IS NULL
			AND NOT EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)) AS moved`

// lockKits locks the kits with all their parts, in key order, and gives those
// asked for as they stand then, in that order. A kit the drive does not have is
// not found.
func lockKits(ctx context.Context, tx pgx.Tx, driveID string, refs ...drive.KitRef) ([]drive.Kit, error) {
	if len(refs) == 0 {
		return nil, apperr.Invalid("kit", "Choose at least one kit.")
	}
	var batch pgx.Batch
	found := queueKits(&batch, driveID, refs...)
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return nil, fmt.Errorf("lock kits: %w", err)
	}
	return found()
}

// queueKits is lockKits in a batch; what it gives says what was found once that is answered.
func queueKits(batch *pgx.Batch, driveID string, refs ...drive.KitRef) (found func() ([]drive.Kit, error)) {
	refs = drive.SortedKits(refs)
	numbers := make([]int64, len(refs))
	for i, ref := range refs {
		numbers[i] = ref.Number
	}
	// A list that Postgres does not know beforehand makes it plan anew each time; one in a SELECT does not.
	const lock = `SELECT number FROM kits WHERE drive_id = $1 AND number = ANY((SELECT $2::bigint[])::bigint[]) ORDER BY number, part FOR NO KEY UPDATE`
	var list []drive.Kit
	var held []heldLine
	batch.Queue(lock, driveID, numbers)
	// Read after the lock in statements of their own, which see what whoever was first has written.
	batch.Queue(kitsOfNumbers, driveID, numbers).Query(func(rows pgx.Rows) (err error) {
		list, err = collect(rows, "kits", pgx.RowToStructByName[drive.Kit])
		return err
	})
	batch.Queue(heldOfNumbers, driveID, numbers).Query(func(rows pgx.Rows) (err error) {
		held, err = collect(rows, "pillowcases of kits", pgx.RowToStructByName[heldLine])
		return err
	})
	return func() ([]drive.Kit, error) {
		all := kitsHolding(list, held)
		kits := make([]drive.Kit, 0, len(refs))
		for _, ref := range refs {
			k, here := all[ref]
			if !here {
				return nil, apperr.NotFound("There is no kit %s here.", ref)
			}
			kits = append(kits, k)
		}
		return kits, nil
	}
}

const kitsOfNumbers = `SELECT ` + kitColumns + ` FROM kits k
	LEFT JOIN people p ON p.drive_id = k.drive_id AND p.number = k.holder
	WHERE k.drive_id = $1 AND k.number = ANY((SELECT $2::bigint[])::bigint[])`

const heldOfNumbers = `SELECT kit AS number, part, asked, size, state, n FROM case_balances
	WHERE drive_id = $1 AND kit = ANY((SELECT $2::bigint[])::bigint[]) AND kit > 0 AND n > 0 ORDER BY kit, part, asked, size, state`

// heldLine is what one part of a kit holds in one state.
type heldLine struct {
	drive.KitRef
	drive.KitHeld
}

// loadKits gives every part of the kits of these numbers with its pillowcases.
func loadKits(ctx context.Context, db querier, driveID string, numbers []int64) (map[drive.KitRef]drive.Kit, error) {
	rows, err := db.Query(ctx, kitsOfNumbers, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("kits: %w", err)
	}
	list, err := collect(rows, "kits", pgx.RowToStructByName[drive.Kit])
	if err != nil {
		return nil, err
	}
	rows, err = db.Query(ctx, heldOfNumbers, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("pillowcases of kits: %w", err)
	}
	held, err := collect(rows, "pillowcases of kits", pgx.RowToStructByName[heldLine])
	if err != nil {
		return nil, err
	}
	return kitsHolding(list, held), nil
}

func kitsHolding(list []drive.Kit, held []heldLine) map[drive.KitRef]drive.Kit {
	kits := make(map[drive.KitRef]drive.Kit, len(list))
	for _, k := range list {
		kits[k.KitRef] = k
	}
	for _, h := range held {
		k := kits[h.KitRef]
		k.Held = append(k.Held, h.KitHeld)
		kits[h.KitRef] = k
	}
	return kits
}

// decideKits asks for a decision on each kit and puts the moves together. Kits
// that stand against it are named all at once; a refusal of a field comes first.
func decideKits(kits []drive.Kit, decide func(drive.Kit) (drive.KitMoves, error)) (drive.KitMoves, error) {
	var all drive.KitMoves
	var against []string
	for _, k := range kits {
		m, err := decide(k)
		if apperr.Is(err, apperr.KindConflict) {
			against = append(against, err.Error())
			continue
		}
		if err != nil {
			return drive.KitMoves{}, err
		}
		all.Add(m)
	}
	if len(against) > 0 {
		return drive.KitMoves{}, apperr.Conflict("%s Nothing was changed.", strings.Join(against, " "))
	}
	return all, nil
}

// moveKits writes what was decided: rows for new parts, then both ledgers.
// kitDay is the day the kits are where they go since, day the day it is booked.
func moveKits(ctx context.Context, tx pgx.Tx, act drive.Act, kitDay, day time.Time, m drive.KitMoves) error {
	const q = `INSERT INTO kits (drive_id, number, part, parent, asked, size, plan, own_fabric, note, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
	var batch pgx.Batch
	for _, n := range m.Born {
		batch.Queue(q, act.Drive, n.Number, n.Part, n.Parent, n.Asked, n.Size, n.Plan, n.OwnFabric, n.Note, act.At)
	}
	if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
		return fmt.Errorf("new kits: %w", err)
	}
	if err := writeKits(ctx, tx, act, kitDay, m.Kits); err != nil {
		return err
	}
	return writeCases(ctx, tx, act, day, m.Cases)
}

// kitHistory gives the entries of one part of a kit in their order.
func kitHistory(ctx context.Context, db querier, driveID string, ref drive.KitRef) ([]drive.KitStep, error) {
	const q = `SELECT id, from_state, to_state, holder, due, day, cases, reason, at FROM kit_entries
		WHERE drive_id = $1 AND kit = $2 AND part = $3 ORDER BY id`
	rows, err := db.Query(ctx, q, driveID, ref.Number, ref.Part)
	if err != nil {
		return nil, fmt.Errorf("history of kit: %w", err)
	}
	steps, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.KitStep])
	if err != nil {
		return nil, fmt.Errorf("history of kit: %w", err)
	}
	return steps, nil
}

// writtenCases gives the entries that brought pillowcases of one part of a kit
// to a state and were not undone, newest first, as many as an undoing can need.
func writtenCases(ctx context.Context, db querier, driveID string, ref drive.KitRef, to drive.CaseState) ([]drive.WrittenCase, error) {
	const q = `SELECT e.id, e.size, e.n, e.asked, e.kit, e.part, e.from_state, e.to_asked, e.to_kit, e.to_part, e.to_state, e.person, e.reason
		FROM case_entries e
		WHERE e.drive_id = $1 AND e.to_kit = $2 AND e.to_kit > 0 AND e.to_part = $3 AND e.to_state = $4 AND e.undoes IS NULL
			AND NOT EXISTS (SELECT FROM case_entries u WHERE u.drive_id = e.drive_id AND u.undoes = e.id)
		ORDER BY e.id DESC LIMIT 500`
	rows, err := db.Query(ctx, q, driveID, ref.Number, ref.Part, to)
	if err != nil {
		return nil, fmt.Errorf("written pillowcases: %w", err)
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (drive.WrittenCase, error) {
		var w drive.WrittenCase
		err := row.Scan(&w.ID, &w.Size, &w.N, &w.Asked, &w.Kit, &w.Part, &w.From, &w.ToAsked, &w.ToKit, &w.ToPart, &w.To, &w.Person, &w.Reason)
		return w, err
	})
	if err != nil {
		return nil, fmt.Errorf("written pillowcases: %w", err)
	}
	return list, nil
}

// dayOf is the day a person gave, or today in the drive's zone, and today.
func dayOf(ctx context.Context, db querier, act drive.Act, given time.Time) (day, today time.Time, err error) {
	d, err := driveIn(ctx, db, act.Drive)
	if err != nil {
		return day, today, err
	}
	today = drive.Day(act.At, d.Location())
	if given.IsZero() {
		return today, today, nil
	}
	return given, today, nil
}
