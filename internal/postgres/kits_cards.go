package postgres

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// KitsToSew gives these kits in order with what their cards and labels say; those
// the drive does not have are left out.
func (s *Store) KitsToSew(ctx context.Context, d drive.Drive, refs []drive.KitRef) ([]drive.KitToSew, error) {
	numbers := make([]int64, len(refs))
	for i, ref := range refs {
		numbers[i] = ref.Number
	}
	var cards []KitCard
	var panels map[int64][]drive.KitPanels
	var parted map[int64]bool
	var lessons []drive.Lesson
	err := s.Together(ctx,
		func(ctx context.Context) (err error) { cards, err = s.KitCards(ctx, d.ID, refs); return err },
		func(ctx context.Context) (err error) { panels, err = s.kitPanels(ctx, d.ID, numbers); return err },
		func(ctx context.Context) (err error) { parted, err = s.kitsParted(ctx, d.ID, numbers); return err },
		func(ctx context.Context) (err error) { lessons, err = s.Lessons(ctx, d); return err })
	if err != nil {
		return nil, err
	}
	kits := make([]drive.KitToSew, len(cards))
	for i, c := range cards {
		kits[i] = drive.KitToSew{
			KitRef: c.KitRef, Cases: c.Cases, State: c.State, Holder: c.Holder, Due: c.Due, OwnFabric: c.OwnFabric, Note: c.Note, SizeName: c.SizeName,
			Spec: c.Spec, ForWhom: c.ForWhom, Fibres: c.Fibres, Rules: c.Rules, Whole: !parted[c.Number], Cloth: panels[c.Number],
			Lessons: lessons,
		}
	}
	return kits, nil
}

// A list that stands in a SELECT of its own is as long to Postgres as any other: it keeps one plan for
// all, where it would plan for each length anew.

// kitPanels gives the panels of kits by number.
func (s *Store) kitPanels(ctx context.Context, driveID string, numbers []int64) (map[int64][]drive.KitPanels, error) {
	const q = `SELECT n.kit AS number, 1 AS part, n.role, h.lot,
			array_to_string(array_remove(ARRAY[l.print], '') || l.colours || l.themes, ', ') AS look, l.turn <> 'either' AS one_way, count(*) AS n
		FROM panels n
		JOIN sheets h ON h.drive_id = n.drive_id AND h.number = n.sheet AND h.state <> 'withdrawn'
		JOIN lots l ON l.drive_id = h.drive_id AND l.number = h.lot
		WHERE n.drive_id = $1 AND n.kit = ANY((SELECT $2::bigint[])::bigint[])
		GROUP BY n.kit, n.role, h.lot, l.print, l.colours, l.themes, l.turn
		ORDER BY n.kit, n.role, h.lot`
	rows, err := s.pool.Query(ctx, q, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("panels of kits: %w", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.KitPanels])
	if err != nil {
		return nil, fmt.Errorf("panels of kits: %w", err)
	}
	panels := map[int64][]drive.KitPanels{}
	for _, p := range list {
		panels[p.Number] = append(panels[p.Number], p)
	}
	return panels, nil
}

// kitsParted says which kits of these numbers have parted.
func (s *Store) kitsParted(ctx context.Context, driveID string, numbers []int64) (map[int64]bool, error) {
	const q = `SELECT DISTINCT number FROM kits WHERE drive_id = $1 AND number = ANY((SELECT $2::bigint[])::bigint[]) AND part > 1`
	rows, err := s.pool.Query(ctx, q, driveID, numbers)
	if err != nil {
		return nil, fmt.Errorf("parted kits: %w", err)
	}
	more, err := collect(rows, "parted kits", pgx.RowTo[int64])
	if err != nil {
		return nil, err
	}
	parted := map[int64]bool{}
	for _, n := range more {
		parted[n] = true
	}
	return parted, nil
}

// KitsOfPlan gives the kits of a plan that still hold pillowcases. A plan that made
// none, or that the drive does not have, is not found.
func (s *Store) KitsOfPlan(ctx context.Context, driveID string, plan int64) ([]drive.KitRef, error) {
	const q = `SELECT number, part FROM kits WHERE drive_id = $1 AND plan = $2 AND state <> 'taken apart' ORDER BY number, part`
	rows, err := s.pool.Query(ctx, q, driveID, plan)
	if err != nil {
		return nil, fmt.Errorf("kits of a plan: %w", err)
	}
	refs, err := pgx.CollectRows(rows, pgx.RowToStructByName[drive.KitRef])
	if err != nil {
		return nil, fmt.Errorf("kits of a plan: %w", err)
	}
	if len(refs) == 0 {
		return nil, apperr.NotFound("Plan %d has no kits: it was never accepted, or all of them were taken apart.", plan)
	}
	return refs, nil
}
