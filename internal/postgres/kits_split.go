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

// KitSplit says which part came out of a kit, and what is left in it.
type KitSplit struct {
	Part drive.KitRef
	Left int
}

// SplitKit parts pillowcases that are not sewn off a kit, as drive.Kit.Split
// decides: person 0 stands for nobody, the part then lies here.
func (s *Store) SplitKit(ctx context.Context, act drive.Act, ref drive.KitRef, n int, person int64, due *time.Time) (KitSplit, error) {
	type body struct {
		Kit    drive.KitRef
		N      int
		Person int64
		Due    *time.Time
	}
	return once(ctx, s, act, "split kit", body{ref, n, person, due}, func(tx pgx.Tx) (KitSplit, error) {
		var split KitSplit
		_, today, err := dayOf(ctx, tx, act, time.Time{})
		if err != nil {
			return split, err
		}
		var to *drive.Holder
		if person != 0 {
			if err := takesMore(ctx, tx, act.Drive); err != nil {
				return split, err
			}
			if err := drive.CheckHandOut(today, due, today); err != nil {
				return split, err
			}
			h, err := holderIn(ctx, tx, act.Drive, person)
			if err != nil {
				return split, err
			}
			to = &h
		}
		m, err := moveOne(ctx, tx, act, ref, time.Time{}, func(k drive.Kit, day time.Time) (drive.KitMoves, error) {
			split.Left = k.Cases - n
			return k.Split(n, to, due, day)
		})
		if err != nil {
			return split, err
		}
		split.Part = m.Born[0].KitRef
		if to == nil { // both bags lie where the one did
			const place = `UPDATE kits k SET place = p.place FROM kits p
				WHERE k.drive_id = $1 AND k.number = $2 AND k.part = $3 AND p.drive_id = $1 AND p.number = $2 AND p.part = $4`
			if _, err := tx.Exec(ctx, place, act.Drive, ref.Number, split.Part.Part, ref.Part); err != nil {
				return split, fmt.Errorf("place of kit: %w", err)
			}
		}
		c := changes{"part": {To: split.Part}, "cases": {To: n}}
		if to != nil {
			c["person"], c["due"] = change{To: to.Number}, change{To: dayText(due)}
		}
		return split, audit(ctx, tx, act, "split", "kit", ref, c)
	})
}

// UndoSplitKit counts a part that was split off in the kit it came from again, as
// drive.Kit.UndoSplit decides. It is a conflict once something happened to either.
func (s *Store) UndoSplitKit(ctx context.Context, act drive.Act, ref drive.KitRef) (KitSplit, error) {
	return once(ctx, s, act, "undo split", ref, func(tx pgx.Tx) (KitSplit, error) {
		kits, err := lockKits(ctx, tx, act.Drive, ref)
		if err != nil {
			return KitSplit{}, err
		}
		k := kits[0]
		history, err := kitHistory(ctx, tx, act.Drive, ref)
		if err != nil {
			return KitSplit{}, err
		}
		var parent *drive.Kit
		var had *int64
		if k.Parent != nil {
			of := drive.KitRef{Number: k.Number, Part: *k.Parent}
			with, err := lockKits(ctx, tx, act.Drive, of) // locked above with all parts of the number
			if err != nil {
				return KitSplit{}, err
			}
			parent = &with[0]
			steps, err := kitHistory(ctx, tx, act.Drive, of)
			if err != nil {
				return KitSplit{}, err
			}
			for _, step := range steps {
				if step.ID < history[0].ID {
					had = step.Holder
				}
			}
		}
		to := drive.CaseCut
		if k.State == drive.KitOut {
			to = drive.CaseOut
		}
		written, err := writtenCases(ctx, tx, act.Drive, ref, to)
		if err != nil {
			return KitSplit{}, err
		}
		m, err := k.UndoSplit(history, written, parent, had)
		if err != nil {
			return KitSplit{}, err
		}
		day, _, err := dayOf(ctx, tx, act, time.Time{})
		if err != nil {
			return KitSplit{}, err
		}
		undone := KitSplit{Part: parent.KitRef, Left: parent.Cases + k.Cases}
		if err := moveKits(ctx, tx, act, day, day, m); err != nil {
			return KitSplit{}, err
		}
		if err := saidAgain(ctx, tx, act.Drive, parent.KitRef); err != nil {
			return KitSplit{}, err
		}
		return undone, audit(ctx, tx, act, "split undone", "kit", ref, changes{"cases": {To: k.Cases}})
	})
}

// PlaceKits says where the bags of kits lie; an empty place is none. It moves
// nothing and refuses, by the field "place", more than a line.
func (s *Store) PlaceKits(ctx context.Context, act drive.Act, refs []drive.KitRef, place string) (KitsMoved, error) {
	refs, place = drive.SortedKits(refs), strings.Join(strings.Fields(place), " ")
	if len([]rune(place)) > 120 {
		return KitsMoved{}, apperr.Invalid("place", "Say where they lie in up to 120 characters.")
	}
	type body struct {
		Kits  []drive.KitRef
		Place string
	}
	return once(ctx, s, act, "place kits", body{refs, place}, func(tx pgx.Tx) (KitsMoved, error) {
		var moved KitsMoved
		kits, err := lockKits(ctx, tx, act.Drive, refs...)
		if err != nil {
			return moved, err
		}
		for _, k := range kits {
			const update = `UPDATE kits SET place = $4 WHERE drive_id = $1 AND number = $2 AND part = $3`
			if _, err := tx.Exec(ctx, update, act.Drive, k.Number, k.Part, place); err != nil {
				return moved, fmt.Errorf("place of kit: %w", err)
			}
			moved.Kits = append(moved.Kits, k.KitRef)
			moved.Cases += k.Cases
		}
		return moved, auditKits(ctx, tx, act, "place noted", moved.Kits, changes{"place": {To: "changed"}}) // people write names where a bag lies
	})
}

// KitsHere gives the kits that lie here with what decides whom they suit, at most
// limit of them, those needed first and lying longest; and how many there are.
func (s *Store) KitsHere(ctx context.Context, driveID string, limit int) ([]KitLine, []drive.KitHere, int, error) {
	const q = `SELECT ` + kitLineColumns + `, z.spec, coalesce(r.homes, '{}') AS homes, count(*) OVER () AS all_kits` + kitLineFrom + `
		WHERE k.drive_id = $1 AND k.state IN ('cut', 'ready', 'found')
		ORDER BY a.due NULLS LAST, k.since, k.number, k.part LIMIT $2`
	rows, err := s.pool.Query(ctx, q, driveID, limit)
	if err != nil {
		return nil, nil, 0, fmt.Errorf("kits here: %w", err)
	}
	type row struct {
		KitLine
		drive.KitHereFacts
		AllKits int `db:"all_kits"`
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[row])
	if err != nil {
		return nil, nil, 0, fmt.Errorf("kits here: %w", err)
	}
	lines, here, all := make([]KitLine, len(found)), make([]drive.KitHere, len(found)), 0
	for i, r := range found {
		lines[i], all = r.KitLine, r.AllKits
		here[i] = drive.KitHere{Kit: r.Kit, KitHereFacts: r.KitHereFacts, NeededBy: r.NeededBy}
	}
	return lines, here, all, nil
}

// namesOf gives the numbers and the parts of kits, as statements ask for them.
func namesOf(refs []drive.KitRef) (numbers []int64, parts []int) {
	for _, ref := range refs {
		numbers, parts = append(numbers, ref.Number), append(parts, ref.Part)
	}
	return numbers, parts
}

// KitHomes is what the recipient of a kit asks of the homes it is sewn in.
type KitHomes struct {
	drive.KitRef
	Homes []string `db:"homes"`
}

// KitHomes gives those of these kits whose recipients ask something of homes, in order.
func (s *Store) KitHomes(ctx context.Context, driveID string, refs []drive.KitRef) ([]KitHomes, error) {
	numbers, parts := namesOf(refs)
	const q = `SELECT k.number, k.part, r.homes FROM kits k
		JOIN unnest($2::bigint[], $3::int[]) AS named (number, part) ON named.number = k.number AND named.part = k.part
		JOIN asked a ON a.drive_id = k.drive_id AND a.number = k.asked
		JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient
		WHERE k.drive_id = $1 AND cardinality(r.homes) > 0 ORDER BY k.number, k.part`
	rows, err := s.pool.Query(ctx, q, driveID, numbers, parts)
	if err != nil {
		return nil, fmt.Errorf("homes asked for: %w", err)
	}
	return collect(rows, "homes asked for", pgx.RowToStructByName[KitHomes])
}

// KitNeeded is the day by which a recipient needs a kit's pillowcases.
type KitNeeded struct {
	drive.KitRef
	By time.Time `db:"due"`
}

// KitsNeededBefore gives those of these kits that are needed before a day, the most urgent first.
func (s *Store) KitsNeededBefore(ctx context.Context, driveID string, refs []drive.KitRef, day time.Time) ([]KitNeeded, error) {
	numbers, parts := namesOf(refs)
	const q = `SELECT k.number, k.part, a.due FROM kits k
		JOIN unnest($2::bigint[], $3::int[]) AS named (number, part) ON named.number = k.number AND named.part = k.part
		JOIN asked a ON a.drive_id = k.drive_id AND a.number = k.asked
		WHERE k.drive_id = $1 AND a.due < $4 ORDER BY a.due, k.number, k.part`
	rows, err := s.pool.Query(ctx, q, driveID, numbers, parts, day)
	if err != nil {
		return nil, fmt.Errorf("kits needed before a day: %w", err)
	}
	return collect(rows, "kits needed before a day", pgx.RowToStructByName[KitNeeded])
}

// SizesSewnBy gives the sizes of which somebody has sewn pillowcases.
func (s *Store) SizesSewnBy(ctx context.Context, driveID string, person int64) ([]int64, error) {
	const q = `SELECT DISTINCT e.size` + doneFrom + ` AND e.person = $2 ORDER BY e.size`
	rows, err := s.pool.Query(ctx, q, driveID, person)
	if err != nil {
		return nil, fmt.Errorf("sizes sewn: %w", err)
	}
	sizes, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return nil, fmt.Errorf("sizes sewn: %w", err)
	}
	return sizes, nil
}
