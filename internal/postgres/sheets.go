package postgres

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
)

const sheetColumns = `s.number, s.revision, s.plan, s.lot, s.piece, s.state, s.used, p.width, s.helper, s.out_at, s.cut_at, s.short_at, s.short_length, s.short_why, s.narrow, s.created_at, s.version`

const sheetFrom = ` FROM sheets s JOIN pieces p ON p.drive_id = s.drive_id AND p.lot = s.lot AND p.piece = s.piece`

// SheetsQuery is how a list of cut sheets is looked at.
type SheetsQuery struct {
	Q      string           // a sheet's or lot's number, or part of a shelf, helper, colour or theme
	State  drive.SheetState // empty: those still to cut, waiting, on the table or short
	All    bool
	Plan   int64  // 0: any
	Sort   string // shelf, number, lot, helper; anything else is shelf
	Desc   bool
	Limit  int // 0: all
	Offset int
}

// SheetLine is one sheet with what people read beside it.
type SheetLine struct {
	drive.Sheet
	drive.SheetLot
	Panels int      `db:"panels"`
	Kits   []string `db:"kits"` // by name
}

const sheetLotColumns = `l.shelf, coalesce(l.tag, '') AS tag, l.kind, l.fibre, l.weight, l.print, l.turn, l.border, l.ends, l.colours, l.themes`

const sheetLotFrom = sheetFrom + ` JOIN lots l ON l.drive_id = s.drive_id AND l.number = s.lot`

// SheetsList is one page of the list with the totals of all that match.
type SheetsList struct {
	Sheets []SheetLine
	Total  int
	Panels int
	Used   length.Length
}

// Sheets gives cut sheets, in the order of the shelves unless something else is wished.
func (s *Store) Sheets(ctx context.Context, driveID string, k SheetsQuery) (SheetsList, error) {
	number, err := strconv.ParseInt(k.Q, 10, 64)
	if err != nil {
		number = 0
	}
	const found = `SELECT ` + sheetColumns + `, ` + sheetLotColumns + `, n.panels,
			ARRAY(SELECT k.kit || CASE WHEN k.part = 1 THEN '' ELSE '-' || k.part END
				FROM (SELECT DISTINCT kit, part FROM panels WHERE drive_id = s.drive_id AND sheet = s.number) k ORDER BY k.kit, k.part) AS kits,
			count(*) OVER () AS all_sheets, sum(n.panels) OVER () AS all_panels, sum(s.used) OVER ()::bigint AS all_used` + sheetLotFrom + `
		CROSS JOIN LATERAL (SELECT count(*) AS panels FROM panels n WHERE n.drive_id = s.drive_id AND n.sheet = s.number) n
		WHERE s.drive_id = $1
			AND ($2 OR $3 = '' AND s.state IN ('waiting', 'on the table', 'came up short') OR s.state = $3)
			AND ($4 = 0 OR s.plan = $4)
			AND ($5 = '' OR s.number = $6 OR s.lot = $6 OR lower(coalesce(l.tag, '')) = lower($5) OR strpos(lower(l.shelf), lower($5)) > 0
				OR strpos(lower(s.helper), lower($5)) > 0 OR lower($5) = ANY(l.colours || l.themes))`
	q := found + ` ORDER BY ` + sheetsOrder(k.Sort, k.Desc) + ` LIMIT nullif($7, 0) OFFSET $8`
	rows, err := s.pool.Query(ctx, q, driveID, k.All, k.State, k.Plan, k.Q, number, k.Limit, k.Offset)
	if err != nil {
		return SheetsList{}, fmt.Errorf("sheets: %w", err)
	}
	type row struct {
		SheetLine
		AllSheets int           `db:"all_sheets"`
		AllPanels int           `db:"all_panels"`
		AllUsed   length.Length `db:"all_used"`
	}
	lines, err := collect(rows, "sheets", pgx.RowToStructByName[row])
	if err != nil {
		return SheetsList{}, err
	}
	list := SheetsList{Sheets: make([]SheetLine, len(lines))}
	for i, r := range lines {
		list.Sheets[i] = r.SheetLine
		list.Total, list.Panels, list.Used = r.AllSheets, r.AllPanels, r.AllUsed
	}
	return list, nil
}

func sheetsOrder(sort string, desc bool) string {
	way := ""
	if desc {
		way = " DESC"
	}
	switch sort {
	case "number":
		return `s.number` + way
	case "lot":
		return `s.lot` + way + `, s.piece, s.number`
	case "helper":
		return `lower(s.helper)` + way + `, s.number`
	}
	return `lower(l.shelf)` + way + `, s.lot, s.piece, s.number`
}

// PlanBegun says whether a sheet of the plan is on the table or cut, so that the
// plan cannot be withdrawn whole any more.
func (s *Store) PlanBegun(ctx context.Context, driveID string, plan int64) (bool, error) {
	const q = `SELECT EXISTS (SELECT FROM sheets WHERE drive_id = $1 AND plan = $2 AND state IN ('on the table', 'cut'))`
	var begun bool
	if err := s.pool.QueryRow(ctx, q, driveID, plan).Scan(&begun); err != nil {
		return false, fmt.Errorf("sheets of the plan: %w", err)
	}
	return begun, nil
}

// Sheet gives one sheet; not found where the drive has none of that number.
func (s *Store) Sheet(ctx context.Context, driveID string, number int64) (drive.WholeSheet, error) {
	pages, err := s.sheetPages(ctx, driveID, `s.number = $2`, number)
	if err != nil {
		return drive.WholeSheet{}, err
	}
	if len(pages) == 0 {
		return drive.WholeSheet{}, apperr.NotFound("There is no sheet %d here.", number)
	}
	return pages[0], nil
}

// SheetsToPrint gives the sheets of a plan, of every plan where it is 0, in shelf
// order, each whole: those that are still to cut, or all that were not withdrawn.
func (s *Store) SheetsToPrint(ctx context.Context, driveID string, plan int64, all bool) ([]drive.WholeSheet, error) {
	if all {
		return s.sheetPages(ctx, driveID, `$2::bigint IN (0, s.plan) AND s.state <> 'withdrawn'`, plan)
	}
	return s.sheetPages(ctx, driveID, `$2::bigint IN (0, s.plan) AND s.state IN ('waiting', 'on the table')`, plan)
}

func (s *Store) sheetPages(ctx context.Context, driveID, which string, arg any) ([]drive.WholeSheet, error) {
	q := `SELECT ` + sheetColumns + `, ` + sheetLotColumns + `, 0 AS panels, '{}'::text[] AS kits, p.free_length` + sheetLotFrom + `
		WHERE s.drive_id = $1 AND ` + which + ` ORDER BY ` + sheetsOrder("", false)
	rows, err := s.pool.Query(ctx, q, driveID, arg)
	if err != nil {
		return nil, fmt.Errorf("sheets: %w", err)
	}
	type row struct {
		SheetLine
		FreeLength length.Length `db:"free_length"`
	}
	found, err := collect(rows, "sheets", pgx.RowToStructByName[row])
	if err != nil {
		return nil, err
	}
	numbers := make([]int64, len(found))
	for i, r := range found {
		numbers[i] = r.Number
	}
	panels, err := s.sheetPanels(ctx, driveID, numbers)
	if err != nil {
		return nil, err
	}
	remnants, err := sheetRemnants(ctx, s.pool, driveID, numbers)
	if err != nil {
		return nil, err
	}
	pages := make([]drive.WholeSheet, len(found))
	for i, r := range found {
		pages[i] = drive.WholeSheet{Sheet: r.Sheet, SheetLot: r.SheetLot, Panels: panels[r.Number], Remnants: r.Sheet.Left(remnants[r.Number]), Left: r.FreeLength}
	}
	return pages, nil
}

func (s *Store) sheetPanels(ctx context.Context, driveID string, numbers []int64) (map[int64][]drive.SheetPanel, error) {
	const q = `SELECT n.sheet, n.panel, n.role, n.size, n.x, n.y, n.w, n.h, n.kit, n.part, n.pillowcase, z.name, z.spec, coalesce(r.name, '')
		FROM panels n
		JOIN sizes z ON z.drive_id = n.drive_id AND z.number = n.size
		JOIN kits k ON k.drive_id = n.drive_id AND k.number = n.kit AND k.part = n.part
		LEFT JOIN asked a ON a.drive_id = k.drive_id AND a.number = k.asked
		LEFT JOIN recipients r ON r.drive_id = a.drive_id AND r.number = a.recipient
		WHERE n.drive_id = $1 AND n.sheet = ANY($2) ORDER BY n.sheet, n.panel`
	rows, err := s.pool.Query(ctx, q, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("panels: %w", err)
	}
	panels := map[int64][]drive.SheetPanel{}
	_, err = collect(rows, "panels", func(row pgx.CollectableRow) (struct{}, error) {
		var sheet int64
		var p drive.SheetPanel
		var spec sizing.Spec
		err := row.Scan(&sheet, &p.Panel.Panel, &p.Role, &p.Size, &p.X, &p.Y, &p.W, &p.H, &p.Kit.Number, &p.Kit.Part, &p.Pillowcase,
			&p.SizeName, &spec, &p.ForWhom)
		if err != nil {
			return struct{}{}, err
		}
		cuts, _, err := sizing.Cuts(spec)
		for _, c := range cuts {
			if c.Role == p.Role {
				p.Around = c.Around
			}
		}
		panels[sheet] = append(panels[sheet], p)
		return struct{}{}, err
	})
	return panels, err
}

func sheetRemnants(ctx context.Context, db querier, driveID string, numbers []int64) (map[int64][]drive.Remnant, error) {
	const q = `SELECT sheet, remnant, x, y, w, h, label, new_piece FROM sheet_remnants WHERE drive_id = $1 AND sheet = ANY($2) ORDER BY sheet, remnant`
	rows, err := db.Query(ctx, q, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("remnants: %w", err)
	}
	remnants := map[int64][]drive.Remnant{}
	_, err = collect(rows, "remnants", func(row pgx.CollectableRow) (struct{}, error) {
		var sheet int64
		var r drive.Remnant
		err := row.Scan(&sheet, &r.Remnant, &r.X, &r.Y, &r.W, &r.H, &r.Label, &r.NewPiece)
		remnants[sheet] = append(remnants[sheet], r)
		return struct{}{}, err
	})
	return remnants, err
}

func lockSheet(ctx context.Context, tx pgx.Tx, driveID string, number int64) (drive.Sheet, error) {
	const q = `SELECT ` + sheetColumns + sheetFrom + ` WHERE s.drive_id = $1 AND s.number = $2 FOR NO KEY UPDATE OF s`
	rows, err := tx.Query(ctx, q, driveID, number)
	if err != nil {
		return drive.Sheet{}, fmt.Errorf("sheet: %w", err)
	}
	sheet, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[drive.Sheet])
	if errors.Is(err, pgx.ErrNoRows) {
		return drive.Sheet{}, apperr.NotFound("There is no sheet %d here.", number)
	}
	if err != nil {
		return drive.Sheet{}, fmt.Errorf("sheet: %w", err)
	}
	return sheet, nil
}
