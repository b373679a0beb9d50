package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
)

// mayUndoBack says whether the taking back of a kit can be undone, as UndoTakeBack would decide, so that
// no page offers what is refused. kits are all parts of its number.
func (s *Store) mayUndoBack(ctx context.Context, driveID string, page *KitPage, history []drive.KitStep, kits map[drive.KitRef]drive.Kit) error {
	written, err := takenBack(ctx, s.pool, driveID, page.KitRef)
	if err != nil {
		return err
	}
	k := kits[page.KitRef]
	var parent *drive.Kit
	if k.Parent != nil {
		of := kits[drive.KitRef{Number: k.Number, Part: *k.Parent}]
		parent = &of
		_, _, _, err = undoRest(ctx, s.pool, driveID, history, parent)
	}
	var m drive.KitMoves
	if err == nil {
		m, _, err = k.UndoTakeBack(history, written, parent)
	}
	if apperr.Is(err, apperr.KindConflict) {
		return nil
	}
	if err != nil {
		return err
	}
	page.MayUndo = true
	for _, e := range m.Kits {
		page.LostAgain = page.LostAgain || e.To == drive.KitLost
		if e.To != drive.KitOut {
			continue
		}
		if page.MayUndo, err = s.known(ctx, driveID, e.Holder); err != nil {
			return err
		}
	}
	return nil
}

// takenBack gives the entries by which pillowcases of one part of a kit came back, as undoing that needs them.
func takenBack(ctx context.Context, db querier, driveID string, ref drive.KitRef) ([]drive.WrittenCase, error) {
	var all []drive.WrittenCase
	for _, to := range []drive.CaseState{drive.CaseSewn, drive.CaseToMend, drive.CaseCut} {
		written, err := writtenCases(ctx, db, driveID, ref, to)
		if err != nil {
			return nil, err
		}
		all = append(all, written...)
	}
	return all, nil
}

// undoRest gives the moves that undo with a part, whose history this is, what came back or turned up
// unsewn of its kit in the same act, and says of that rest that it is out, or lost, again. Nothing came
// so: no moves. since is the day from which it is there, day the one on which it was booked as back.
func undoRest(ctx context.Context, db querier, driveID string, history []drive.KitStep, rest *drive.Kit) (m drive.KitMoves, since, day time.Time, err error) {
	steps, err := kitHistory(ctx, db, driveID, rest.KitRef)
	if err != nil || !drive.BackAtOnce(history, steps) {
		return m, since, day, err
	}
	written, err := takenBack(ctx, db, driveID, rest.KitRef)
	if err != nil {
		return m, since, day, err
	}
	if m, since, err = rest.UndoTakeBack(steps, written, nil); err != nil {
		return m, since, day, err
	}
	rest.State, rest.Holder, rest.Due, rest.Since = m.Kits[0].To, m.Kits[0].Holder, m.Kits[0].Due, &since
	return m, since, steps[len(steps)-1].Day, nil
}

// known says whether a kit can be with a holder again: nobody, or somebody who is not forgotten.
func (s *Store) known(ctx context.Context, driveID string, holder *int64) (bool, error) {
	if holder == nil {
		return true, nil
	}
	const q = `SELECT erased_at IS NULL FROM people WHERE drive_id = $1 AND number = $2`
	var known bool
	err := s.pool.QueryRow(ctx, q, driveID, *holder).Scan(&known)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return false, fmt.Errorf("who had the kit: %w", err)
	}
	return known, nil
}

// withSaid puts among the events of a kit what its holders said they had finished when it moved from
// them, where something else was counted then.
func (s *Store) withSaid(ctx context.Context, driveID string, number int64, events []KitEvent) ([]KitEvent, error) {
	const q = `SELECT r.part, (r.at AT TIME ZONE d.zone)::date AS day, r.at, '' AS from_state, '' AS to_state, false AS of_cases, true AS is_said,
			r.cases, r.person AS holder, p.name, NULL::date AS due, '' AS reason, '' AS initials
		FROM kit_reports r
		JOIN drives d ON d.id = r.drive_id
		JOIN people p ON p.drive_id = r.drive_id AND p.number = r.person
		WHERE r.drive_id = $1 AND r.kit = $2 AND r.ended = 'moved' AND r.kind = 'finished'
		ORDER BY r.number DESC`
	rows, err := s.pool.Query(ctx, q, driveID, number)
	if err != nil {
		return nil, fmt.Errorf("what holders said of a kit: %w", err)
	}
	said, err := collect(rows, "what holders said of a kit", pgx.RowToStructByName[KitEvent])
	if err != nil {
		return nil, err
	}
	for _, r := range said {
		if countedAfter(events, r) == r.Cases {
			continue
		}
		at := slices.IndexFunc(events, func(e KitEvent) bool { return !e.At.After(r.At) })
		if at < 0 {
			at = len(events)
		}
		events = slices.Insert(events, at, r)
	}
	return events, nil
}

// countedAfter gives how many were counted sewn when a kit moved from whoever had said something of it.
// events are those of all its parts, the newest first.
func countedAfter(events []KitEvent, said KitEvent) int {
	held := 0
	for _, e := range slices.Backward(events) {
		if e.IsSaid || e.OfCases || e.Part != said.Part {
			continue
		}
		before := held
		held = e.Cases
		sameHands := e.To == string(drive.KitOut) && e.Holder != nil && *e.Holder == *said.Holder
		if e.At.Before(said.At) || e.From != string(drive.KitOut) || sameHands && e.Cases == before {
			continue
		}
		switch {
		case e.To == string(drive.KitBack):
			return e.Cases
		case sameHands && e.Reason == "":
			return before - e.Cases
		}
		return 0
	}
	return 0
}
