package postgres

import (
	"context"
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/jackc/pgx/v5"
)

// LotsQuery is how the shelf is looked at.
type LotsQuery struct {
	Q      string // in number, tag, donor, kind, colours, themes, fibre, shelf and note
	State  LotsState
	Print  string // "": every print
	Weight string // "": every kind of cloth
	Fibre  string // "": every fibre
	Colour string // "": every colour
	Shelf  string // "": everywhere
	Donor  int64  // 0: from anybody
	Sort   string // number, tag, donor, received, kind, width, free, shelf; anything else is number
	Desc   bool
	Limit  int // 0: all
	Offset int
}

// LotsState narrows a list of lots.
type LotsState string

// What stands on the shelf or waits to is the usual list.
const (
	LotsHere    LotsState = "" // to be measured, or with cloth that is free or promised
	LotsWaiting LotsState = "to measure"
	LotsFree    LotsState = "free"
	LotsLeft    LotsState = "left" // to be measured, or with free cloth; set aside or not
	LotsAside   LotsState = "set aside"
	LotsUsed    LotsState = "used up"
	LotsAll     LotsState = "all"
)

// LotLine is one row of the list: a lot with what is left of it. Width and Length
// are those of its largest free piece.
type LotLine struct {
	drive.Lot
	DonorName string        `db:"donor_name"`
	Pieces    int           `db:"pieces"` // with free cloth
	Width     length.Length `db:"width"`
	Length    length.Length `db:"length"`
	Free      length.Area   `db:"free"`
	Promised  length.Area   `db:"promised"`
}

// LotsList is one page of the list with the totals of all that match.
type LotsList struct {
	Lots     []LotLine
	Total    int // lots that match
	Waiting  int // of them not measured
	Aside    int // of those, set aside: they do not wait to be
	Pieces   int
	Free     length.Area
	Promised length.Area
}

// Lots gives the fabric of a drive: the lots of one page, and the sums of all that match, as they
// stand at one moment. The two are found apart, so that a page costs what it shows: Postgres takes its
// lots from the index as far as the page goes. What is sorted by anything but the number is gone
// through as a whole.
func (s *Store) Lots(ctx context.Context, driveID string, l LotsQuery) (LotsList, error) {
	wanted, args := l.wanted(driveID)
	page := lotsFound(wanted, l.State) + ` ORDER BY ` + lotsOrder(l.Sort, l.Desc)
	if l.Limit > 0 {
		// Postgres plans for a limit that stands there, not for one it is told later.
		page += fmt.Sprintf(` LIMIT %d`, l.Limit)
	}
	args = append(args, l.Offset)
	q := fmt.Sprintf(`SELECT f.*, t.* FROM (%s) t
		CROSS JOIN (SELECT *, row_number() OVER () AS at FROM (%s OFFSET $%d) page) f ORDER BY f.at`, lotsTotals(wanted, l.State), page, len(args))
	rows, err := s.pool.Query(ctx, q, args...)
	if err != nil {
		return LotsList{}, fmt.Errorf("lots: %w", err)
	}
	type row struct {
		LotLine
		At          int         `db:"at"` // its place on the page
		AllLots     int         `db:"all_lots"`
		AllWaiting  int         `db:"all_waiting"`
		AllAside    int         `db:"all_aside"`
		AllPieces   int         `db:"all_pieces"`
		AllFree     length.Area `db:"all_free"`
		AllPromised length.Area `db:"all_promised"`
	}
	found, err := collect(rows, "lots", pgx.RowToStructByName[row])
	if err != nil {
		return LotsList{}, err
	}
	list := LotsList{Lots: make([]LotLine, len(found))}
	for i, r := range found {
		list.Lots[i] = r.LotLine
		list.Total, list.Waiting, list.Aside, list.Pieces, list.Free, list.Promised = r.AllLots, r.AllWaiting, r.AllAside, r.AllPieces, r.AllFree, r.AllPromised
	}
	return list, nil
}

// lotDonor is the name of who gave a lot l.
const lotDonor = `(SELECT d.name FROM donors d WHERE d.drive_id = l.drive_id AND d.number = l.donor)`

// allLots are the lots l of a drive: what is not narrowed by anything.
const allLots = `l.drive_id = $1 AND l.untagged_at IS NULL`

// wanted says which lots l match, whatever is left of them, and gives what that asks for, the
// drive first. What is left open does not stand there: each row would be asked it.
func (l LotsQuery) wanted(driveID string) (where string, args []any) {
	where, args = allLots, []any{driveID}
	for _, by := range []struct {
		asked bool
		is    string
		what  any
	}{
		{l.Q != "", `(l.number::text = $%[1]d OR holds(concat_ws(' ', l.tag, ` + lotDonor + `, l.kind, l.fibre, l.weight, l.print, l.shelf, l.note, l.set_aside,
			array_to_string(l.colours, ' '), array_to_string(l.themes, ' ')), $%[1]d))`, l.Q},
		{l.Print != "", `l.print = $%d`, l.Print},
		{l.Weight != "", `l.weight = $%d`, l.Weight},
		{l.Donor != 0, `l.donor = $%d`, l.Donor},
		{l.Fibre != "", `l.fibre = $%d`, l.Fibre},
		{l.Colour != "", `$%d = ANY(l.colours)`, l.Colour},
		{l.Shelf != "", `lower(l.shelf) = lower($%d)`, l.Shelf},
	} {
		if by.asked {
			args = append(args, by.what)
			where += fmt.Sprintf(` AND `+by.is, len(args))
		}
	}
	return where, args
}

// stand keeps the lots of the state that is wanted; s is what is left of a lot l.
func (s LotsState) stand() string {
	switch s {
	case LotsAll:
		return `true`
	case LotsWaiting:
		return `l.measured_at IS NULL AND l.set_aside = ''`
	case LotsFree:
		return `s.free > 0 AND l.set_aside = ''`
	case LotsLeft:
		return `(l.measured_at IS NULL OR s.free > 0)`
	case LotsAside:
		return `l.set_aside <> ''`
	case LotsUsed:
		return `l.measured_at IS NOT NULL AND coalesce(s.free, 0) = 0 AND coalesce(s.promised, 0) = 0`
	}
	return `(l.measured_at IS NULL OR s.free > 0 OR s.promised > 0)`
}

// lotsFound looks the pieces of each lot up by their key: joined as a whole they are summed once for
// each lot where Postgres takes the tables for small, as it does right after many came in. Of a lot
// that waits to be measured there are none to look for.
func lotsFound(wanted string, state LotsState) string {
	return `SELECT ` + lotColumns + `, coalesce(` + lotDonor + `, '') AS donor_name,
			coalesce(s.pieces, 0) AS pieces, coalesce(s.width, 0) AS width, coalesce(s.length, 0) AS length,
			coalesce(s.free, 0)::bigint AS free, coalesce(s.promised, 0)::bigint AS promised
		FROM lots l
		CROSS JOIN LATERAL (
			SELECT count(*) FILTER (WHERE p.free > 0) AS pieces, sum(p.free) AS free, sum(p.promised) AS promised,
				coalesce((array_agg(p.width ORDER BY p.free DESC, p.piece) FILTER (WHERE p.free > 0))[1], 0) AS width,
				coalesce((array_agg(p.free_length ORDER BY p.free DESC, p.piece) FILTER (WHERE p.free > 0))[1], 0) AS length
			FROM pieces p WHERE p.drive_id = l.drive_id AND p.lot = l.number AND l.measured_at IS NOT NULL) s
		WHERE ` + wanted + ` AND ` + state.stand()
}

// lotsTotals adds up what is left of the lots that are wanted, without a join, whose cost would hang on
// how many rows Postgres takes the tables to have. Of the usual list, and of all lots, lots are
// counted and pieces summed each by themselves: what lies there has been measured, which
// checkMeasured holds. Else it lays both one under the other and adds them up by lot.
func lotsTotals(wanted string, state LotsState) string {
	if wanted == allLots && (state == LotsHere || state == LotsAll) {
		lots := `w.waiting + c.lots`
		if state == LotsAll {
			lots = `w.lots`
		}
		return `SELECT ` + lots + ` AS all_lots, w.waiting AS all_waiting, w.aside AS all_aside, c.pieces AS all_pieces, c.free AS all_free, c.promised AS all_promised
			FROM (SELECT count(*) AS lots, count(*) FILTER (WHERE l.measured_at IS NULL) AS waiting,
				count(*) FILTER (WHERE l.measured_at IS NULL AND l.set_aside <> '') AS aside FROM lots l WHERE ` + wanted + `) w
			CROSS JOIN (SELECT count(DISTINCT lot) AS lots, count(*) FILTER (WHERE free > 0) AS pieces, coalesce(sum(free), 0)::bigint AS free,
				coalesce(sum(promised), 0)::bigint AS promised FROM pieces WHERE drive_id = $1 AND (free > 0 OR promised > 0)) c`
	}
	return `SELECT count(*) AS all_lots, count(*) FILTER (WHERE l.measured_at IS NULL) AS all_waiting,
			count(*) FILTER (WHERE l.measured_at IS NULL AND l.set_aside <> '') AS all_aside, coalesce(sum(s.pieces), 0)::bigint AS all_pieces,
			coalesce(sum(s.free), 0)::bigint AS all_free, coalesce(sum(s.promised), 0)::bigint AS all_promised
		FROM (SELECT number, bool_or(lot) AS lot, max(measured_at) AS measured_at, max(set_aside) AS set_aside,
				sum(pieces) AS pieces, sum(free) AS free, sum(promised) AS promised
			FROM (SELECT l.number, true AS lot, l.measured_at, l.set_aside, 0 AS pieces, 0 AS free, 0 AS promised FROM lots l WHERE ` + wanted + `
				UNION ALL
				SELECT p.lot, false, NULL, '', (p.free > 0)::int, p.free, p.promised FROM pieces p WHERE p.drive_id = $1 AND (p.free > 0 OR p.promised > 0)) each
			GROUP BY number) l
		CROSS JOIN LATERAL (SELECT l.pieces, l.free, l.promised) s
		WHERE l.lot AND ` + state.stand()
}

// lotsOrder gives the order for a sort that a page offers.
func lotsOrder(sort string, desc bool) string {
	way := ""
	if desc {
		way = " DESC"
	}
	const last = `, l.number`
	switch sort {
	case "tag":
		return `lower(l.tag)` + way + ` NULLS LAST` + last
	case "donor":
		return `lower(` + lotDonor + `)` + way + ` NULLS LAST` + last
	case "received":
		return `l.received_on` + way + last
	case "kind", "shelf":
		return `lower(l.` + sort + `)` + way + last
	case "width":
		return `coalesce(s.width, 0)` + way + last
	case "free":
		return `coalesce(s.free, 0)` + way + last
	}
	return `l.number` + way
}

// WaitingToMeasure counts the lots that wait to be measured.
func (s *Store) WaitingToMeasure(ctx context.Context, driveID string) (int, error) {
	const q = `SELECT count(*) FROM lots WHERE drive_id = $1 AND measured_at IS NULL AND set_aside = ''`
	var n int
	if err := s.pool.QueryRow(ctx, q, driveID).Scan(&n); err != nil {
		return 0, fmt.Errorf("lots to measure: %w", err)
	}
	return n, nil
}

// OnShelf gives the free cloth of the lots that match, piece by piece.
func (s *Store) OnShelf(ctx context.Context, driveID string, l LotsQuery) ([]drive.Shelved, error) {
	wanted, args := l.wanted(driveID)
	rows, err := s.pool.Query(ctx, `SELECT number FROM (`+lotsFound(wanted, l.State)+`) found`, args...)
	if err != nil {
		return nil, fmt.Errorf("lots on the shelf: %w", err)
	}
	lots, err := collect(rows, "lots on the shelf", pgx.RowTo[int64])
	if err != nil || len(lots) == 0 {
		return nil, err
	}
	return shelved(ctx, s.pool, driveID, lots)
}

// PiecesOf gives the free cloth of these lots, piece by piece.
func (s *Store) PiecesOf(ctx context.Context, driveID string, lots []int64) ([]drive.Shelved, error) {
	if len(lots) == 0 {
		return nil, nil
	}
	return shelved(ctx, s.pool, driveID, lots)
}

// Colours gives the colours of a drive's lots, for a filter.
func (s *Store) Colours(ctx context.Context, driveID string) ([]string, error) {
	const q = `SELECT DISTINCT colour FROM (SELECT DISTINCT colours FROM lots WHERE drive_id = $1 AND colours <> '{}') alike
		CROSS JOIN LATERAL unnest(colours) AS colour ORDER BY colour LIMIT 100`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("colours: %w", err)
	}
	return collect(rows, "colours", pgx.RowTo[string])
}

// Shelves gives the names of shelves in use, for forms.
func (s *Store) Shelves(ctx context.Context, driveID string) ([]string, error) {
	const q = `SELECT DISTINCT shelf FROM lots WHERE drive_id = $1 AND shelf <> '' ORDER BY shelf LIMIT 200`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("shelves: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, fmt.Errorf("shelves: %w", err)
	}
	return list, nil
}
