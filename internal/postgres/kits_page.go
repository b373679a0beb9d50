package postgres

import (
	"context"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
)

// KitPage is one part of a kit with everything that is known of it.
type KitPage struct {
	KitCard
	Parts      []KitLine  // every part of the number, this one too
	Events     []KitEvent // of every part, newest first
	Cloth      []KitCloth // by sheet; none for a kit of own fabric
	MayUndoOut bool       // the last thing that happened is that somebody got it
	MayUndo    bool       // the last thing that happened is that it came back, or turned up, and that can be undone
	LostAgain  bool       // undone so, it is lost again
	MayUnbag   bool       // the last thing that happened is that it was bagged and labelled
	MayJoin    bool       // nothing happened to it but that it was split off
}

// KitCard is one part of a kit with what its volunteer needs to know.
type KitCard struct {
	KitLine
	Spec   sizing.Spec `db:"spec"`
	Fibres []string    `db:"fibres"` // the only ones the recipient takes; none: any
	Rules  []string    `db:"rules"`  // of the recipient, in its own words
}

// KitEvent is one thing that happened to a part of a kit, or to its pillowcases
// after they came back.
type KitEvent struct {
	Part     int        `db:"part"`
	Day      time.Time  `db:"day"`
	At       time.Time  `db:"at"`
	From     string     `db:"from_state"`
	To       string     `db:"to_state"`
	OfCases  bool       `db:"of_cases"` // pillowcases moved, not the kit
	IsSaid   bool       `db:"is_said"`  // nothing moved: the holder said so many are finished
	Cases    int        `db:"cases"`    // of the kit after it, or how many moved
	Holder   *int64     `db:"holder"`
	Name     string     `db:"name"` // of the holder
	Due      *time.Time `db:"due"`
	Reason   string     `db:"reason"`
	Initials string     `db:"initials"` // whose account booked it
}

// KitCloth is what one sheet gave to a kit, so that cloth can be followed both ways.
type KitCloth struct {
	Sheet  int64  `db:"sheet"`
	State  string `db:"state"`
	Lot    int64  `db:"lot"`
	Piece  int    `db:"piece"`
	Shelf  string `db:"shelf"`
	Look   string `db:"look"` // colours and themes of the lot
	Body   int    `db:"body"`
	Cuff   int    `db:"cuff"`
	Accent int    `db:"accent"`
}

// Kit gives one part of a kit with its history; not found where the drive has none of that name.
func (s *Store) Kit(ctx context.Context, driveID string, ref drive.KitRef) (KitPage, error) {
	var page KitPage
	cards, err := s.KitCards(ctx, driveID, []drive.KitRef{ref})
	if err != nil {
		return page, err
	}
	if len(cards) == 0 {
		return page, apperr.NotFound("There is no kit %s here.", ref)
	}
	page.KitCard = cards[0]
	if page.Parts, err = s.kitParts(ctx, driveID, ref.Number); err != nil {
		return page, err
	}
	held, err := loadKits(ctx, s.pool, driveID, []int64{ref.Number})
	if err != nil {
		return page, err
	}
	page.Held, page.Mending = held[ref].Held, held[ref].Mending
	history, err := kitHistory(ctx, s.pool, driveID, ref)
	if err != nil {
		return page, err
	}
	if page.MayUndoOut = drive.HandedOut(history); page.MayUndoOut {
		if page.MayUndoOut, err = s.known(ctx, driveID, drive.HadBefore(history)); err != nil {
			return page, err
		}
	}
	if drive.TookBack(history) && page.Count(drive.CaseSewn, drive.CaseCut) == page.Cases {
		if err := s.mayUndoBack(ctx, driveID, &page, history, held); err != nil {
			return page, err
		}
	}
	page.MayUnbag = drive.MadeReady(history)
	page.MayJoin = drive.SplitOff(history)
	if page.Events, err = s.kitEvents(ctx, driveID, ref.Number); err != nil {
		return page, err
	}
	if page.Events, err = s.withSaid(ctx, driveID, ref.Number, page.Events); err != nil {
		return page, err
	}
	page.Cloth, err = s.kitCloth(ctx, driveID, ref.Number)
	return page, err
}

// KitCards gives these kits in order with how they are sewn; those the drive
// does not have are left out.
func (s *Store) KitCards(ctx context.Context, driveID string, refs []drive.KitRef) ([]KitCard, error) {
	numbers, parts := namesOf(refs)
	const q = `SELECT ` + kitLineColumns + `, z.spec, coalesce(r.fibres, '{}') AS fibres, coalesce(r.rules, '{}') AS rules` + kitLineFrom + `
		JOIN unnest($2::bigint[], $3::int[]) AS named (number, part) ON named.number = k.number AND named.part = k.part
		WHERE k.drive_id = $1 ORDER BY k.number, k.part`
	rows, err := s.pool.Query(ctx, q, driveID, numbers, parts)
	if err != nil {
		return nil, fmt.Errorf("cards of kits: %w", err)
	}
	cards, err := pgx.CollectRows(rows, pgx.RowToStructByName[KitCard])
	if err != nil {
		return nil, fmt.Errorf("cards of kits: %w", err)
	}
	return cards, nil
}

func (s *Store) kitParts(ctx context.Context, driveID string, number int64) ([]KitLine, error) {
	const q = `SELECT ` + kitLineColumns + kitLineFrom + ` WHERE k.drive_id = $1 AND k.number = $2 ORDER BY k.part`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("parts of kit: %w", err)
	}
	parts, err := pgx.CollectRows(rows, pgx.RowToStructByName[KitLine])
	if err != nil {
		return nil, fmt.Errorf("parts of kit: %w", err)
	}
	return parts, nil
}

func (s *Store) kitEvents(ctx context.Context, driveID string, number int64) ([]KitEvent, error) {
	const q = `SELECT e.part, e.day, e.at, e.from_state, e.to_state, e.of_cases, false AS is_said, e.cases, e.holder, coalesce(p.name, '') AS name, e.due, e.reason,
			coalesce(w.initials, '') AS initials
		FROM (
			SELECT id, part, day, at, from_state, to_state, false AS of_cases, cases, holder, due, reason, who
			FROM kit_entries WHERE drive_id = $1 AND kit = $2
			UNION ALL
			SELECT id, to_part, day, at, from_state, to_state, true, n, NULL, NULL, reason, who
			FROM case_entries WHERE drive_id = $1 AND to_kit = $2 AND to_kit > 0
				AND from_state IN ('sewn', 'to mend', 'good', 'packed', 'delivered') AND to_state <> 'out' AND to_state <> from_state) e
		LEFT JOIN people p ON p.drive_id = $1 AND p.number = e.holder
		LEFT JOIN signers w ON w.id = e.who
		ORDER BY e.at DESC, e.of_cases DESC, e.id DESC`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("history of kit: %w", err)
	}
	events, err := pgx.CollectRows(rows, pgx.RowToStructByName[KitEvent])
	if err != nil {
		return nil, fmt.Errorf("history of kit: %w", err)
	}
	return events, nil
}

// kitCloth follows the panels of a kit to their lots. Panels are written for the
// whole kit when its plan is accepted, so every part shows the same cloth.
func (s *Store) kitCloth(ctx context.Context, driveID string, number int64) ([]KitCloth, error) {
	const q = `SELECT h.number AS sheet, h.state, h.lot, h.piece, l.shelf, array_to_string(l.colours || l.themes, ', ') AS look,
			count(*) FILTER (WHERE n.role = 'body') AS body, count(*) FILTER (WHERE n.role = 'cuff') AS cuff,
			count(*) FILTER (WHERE n.role = 'accent') AS accent
		FROM panels n
		JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet
		JOIN lots l ON l.drive_id = h.drive_id AND l.number = h.lot
		WHERE n.drive_id = $1 AND n.kit = $2
		GROUP BY h.drive_id, h.number, l.shelf, l.colours, l.themes
		ORDER BY h.lot, h.piece, h.number`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("cloth of kit: %w", err)
	}
	cloth, err := pgx.CollectRows(rows, pgx.RowToStructByName[KitCloth])
	if err != nil {
		return nil, fmt.Errorf("cloth of kit: %w", err)
	}
	return cloth, nil
}
