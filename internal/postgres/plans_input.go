package postgres

import (
	"context"
	"fmt"
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
)

// planInput gives what a plan of the drive is made from, without cloth: its
// rules, the sizes that are asked for and the lines that are still to plan.
func planInput(ctx context.Context, db querier, d drive.Drive) (drive.PlanInput, error) {
	in, asked, err := planWants(ctx, db, d, func(line drive.AskedLine) (int, bool) { return line.ToPlan, line.ToPlan > 0 })
	if err != nil {
		return in, err
	}
	in.Sizes, err = planSizes(ctx, db, d.ID, asked)
	return in, err
}

// planWants gives the same without sizes: the lines that toPlan takes, with as many as it
// says, and the sizes that they ask for.
func planWants(ctx context.Context, db querier, d drive.Drive, toPlan func(drive.AskedLine) (n int, takes bool)) (drive.PlanInput, map[int64]bool, error) {
	in := drive.PlanInput{Washing: d.Washing, KitCases: d.KitCases, KeepWidth: d.KeepWidth, KeepLength: d.KeepLength}
	asked := map[int64]bool{}
	lines, err := askedLines(ctx, db, d.ID)
	if err != nil {
		return in, asked, err
	}
	fibres, err := recipientFibres(ctx, db, d.ID)
	if err != nil {
		return in, asked, err
	}
	for _, line := range lines {
		n, takes := toPlan(line)
		if !takes {
			continue
		}
		want := drive.Want{
			ID: drive.NumberID(line.Number), Recipient: drive.NumberID(line.Recipient), Name: line.RecipientName + ", " + strings.Join(line.SizeNames, " or "),
			Wanted: n, Weight: line.Weight, ThemesWanted: line.ThemesWanted, ThemesAvoid: line.ThemesAvoid,
			Fibres: fibres[line.Recipient], KitCases: orZero(line.KitCases),
		}
		for _, size := range line.Sizes {
			want.Sizes = append(want.Sizes, drive.NumberID(size))
			asked[size] = true
		}
		in.Wants = append(in.Wants, want)
	}
	return in, asked, nil
}

func recipientFibres(ctx context.Context, db querier, driveID string) (map[int64][]string, error) {
	const q = `SELECT number, fibres FROM recipients WHERE drive_id = $1`
	rows, err := db.Query(ctx, q, driveID)
	if err != nil {
		return nil, fmt.Errorf("fibres that recipients take: %w", err)
	}
	fibres := map[int64][]string{}
	var number int64
	var list []string
	_, err = pgx.ForEachRow(rows, []any{&number, &list}, func() error {
		fibres[number] = list
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("fibres that recipients take: %w", err)
	}
	return fibres, nil
}

// planSizes gives how the sizes are cut, in the order of their numbers.
func planSizes(ctx context.Context, db querier, driveID string, numbers map[int64]bool) ([]drive.PlanSize, error) {
	list := make([]int64, 0, len(numbers))
	for n := range numbers {
		list = append(list, n)
	}
	const q = `SELECT number, spec FROM sizes WHERE drive_id = $1 AND number = ANY($2) ORDER BY number`
	rows, err := db.Query(ctx, q, driveID, list)
	if err != nil {
		return nil, fmt.Errorf("sizes to plan: %w", err)
	}
	return collect(rows, "sizes to plan", func(row pgx.CollectableRow) (drive.PlanSize, error) {
		var number int64
		var spec sizing.Spec
		if err := row.Scan(&number, &spec); err != nil {
			return drive.PlanSize{}, err
		}
		panels, _, err := sizing.Cuts(spec)
		return drive.PlanSize{ID: drive.NumberID(number), Panels: panels}, err
	})
}

// shelved gives the pieces with free cloth and where they lie, in key order:
// all of the drive where lots is nil, else those of the lots.
func shelved(ctx context.Context, db querier, driveID string, lots []int64) ([]drive.Shelved, error) {
	return shelvedWith(ctx, db, driveID, lots, 0)
}

// shelvedWith gives also those that a sheet of the plan takes of, whatever is free of them.
func shelvedWith(ctx context.Context, db querier, driveID string, lots []int64, plan int64) ([]drive.Shelved, error) {
	// A border strip stays one however often it is cut; the rest of its lot has
	// no border any more.
	of := `$2::bigint[] IS NULL`
	if lots != nil {
		of = `p.lot = ANY((SELECT $2::bigint[])::bigint[])`
	}
	q := `WITH RECURSIVE strips AS (
			SELECT p.drive_id, p.lot, p.piece FROM pieces p WHERE p.drive_id = $1 AND p.kind = 'border strip' AND ` + of + `
			UNION
			SELECT p.drive_id, p.lot, p.piece FROM pieces p JOIN strips s ON s.drive_id = p.drive_id AND s.lot = p.lot AND s.piece = p.origin)
		SELECT p.lot, p.piece, p.width, p.free_length, l.fibre, l.weight, l.washed, l.print, l.turn,
			CASE WHEN b.lot IS NULL THEN l.border ELSE '' END, s.piece IS NOT NULL,
			l.trim_ok, l.colours, l.themes, l.set_aside, l.shelf,
			coalesce((SELECT jsonb_agg(jsonb_build_object('kind', r.kind, 'other', CASE WHEN r.lot = l.number THEN r.other ELSE r.lot END::text,
					'roles', r.roles, 'first', r.lot = l.number) ORDER BY r.number) FROM lot_rules r
				WHERE r.drive_id = $1 AND l.number IN (r.lot, r.other) AND r.other IS NOT NULL AND r.ended_at IS NULL), '[]'),
			coalesce((SELECT r.recipient::text FROM lot_rules r
				WHERE r.drive_id = $1 AND r.lot = l.number AND r.recipient IS NOT NULL AND r.ended_at IS NULL), '')
		FROM pieces p JOIN lots l ON l.drive_id = p.drive_id AND l.number = p.lot
		LEFT JOIN strips s ON s.lot = p.lot AND s.piece = p.piece
		LEFT JOIN (SELECT DISTINCT lot FROM strips) b ON b.lot = p.lot
		WHERE p.drive_id = $1 AND l.measured_at IS NOT NULL AND ` + of + `
			AND (p.free_length > 0 OR EXISTS (SELECT FROM sheets h WHERE h.drive_id = $1 AND h.plan = $3 AND h.lot = p.lot AND h.piece = p.piece))
		ORDER BY p.lot, p.piece`
	rows, err := db.Query(ctx, q, driveID, lots, plan)
	if err != nil {
		return nil, fmt.Errorf("cloth on the shelf: %w", err)
	}
	return collect(rows, "cloth on the shelf", func(row pgx.CollectableRow) (drive.Shelved, error) {
		s := drive.Shelved{Cloth: drive.Cloth{Pieces: 1}}
		err := row.Scan(&s.Lot, &s.Piece, &s.Width, &s.Length, &s.Fibre, &s.Weight, &s.Washed, &s.Print, &s.Turn,
			&s.Border, &s.Strip, &s.TrimOK, &s.Colours, &s.Themes, &s.SetAside, &s.Shelf, &s.Met, &s.Pin)
		s.ID = drive.ClothID(s.Lot, s.Piece)
		return s, err
	})
}

// ShelfSum is what lies on the shelf for the next plan.
type ShelfSum struct {
	Pieces    int
	Area      length.Area
	Waiting   map[drive.Waits][]int64 // lots that wait, by what for
	ToMeasure []int64                 // lots tagged and not yet measured
	ToPlan    int                     // pillowcases still to plan
	Lines     int                     // of how many lines
}

// ShelfForPlan sums up what a plan would be made from now.
func (s *Store) ShelfForPlan(ctx context.Context, driveID string) (ShelfSum, error) {
	sum := ShelfSum{Waiting: map[drive.Waits][]int64{}}
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return sum, err
	}
	cloth, err := shelved(ctx, s.pool, driveID, nil)
	if err != nil {
		return sum, err
	}
	for _, c := range cloth {
		if why := c.Waits(d.Washing); why != "" {
			if list := sum.Waiting[why]; len(list) == 0 || list[len(list)-1] != c.Lot {
				sum.Waiting[why] = append(list, c.Lot)
			}
			continue
		}
		area, err := c.Width.Times(c.Length)
		if err != nil {
			return sum, fmt.Errorf("cloth on the shelf: %w", err)
		}
		if sum.Area, err = sum.Area.Add(area); err != nil {
			return sum, fmt.Errorf("cloth on the shelf: %w", err)
		}
		sum.Pieces++
	}
	lines, err := askedLines(ctx, s.pool, driveID)
	if err != nil {
		return sum, err
	}
	for _, line := range lines {
		if line.ToPlan > 0 {
			sum.Lines++
			sum.ToPlan += line.ToPlan
		}
	}
	const q = `SELECT number FROM lots WHERE drive_id = $1 AND measured_at IS NULL AND set_aside = '' ORDER BY number`
	rows, err := s.pool.Query(ctx, q, driveID)
	if err != nil {
		return sum, fmt.Errorf("lots to measure: %w", err)
	}
	sum.ToMeasure, err = collect(rows, "lots to measure", pgx.RowTo[int64])
	return sum, err
}
