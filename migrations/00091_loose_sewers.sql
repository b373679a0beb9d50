-- Who may have sewn pillowcases that came without a kit is found from their newest steps, each time the
-- returns table is looked at; the statement names this condition.
-- +goose Up
CREATE INDEX case_entries_loose ON case_entries (drive_id, id)
    WHERE to_kit = 0 AND to_state IN ('sewn', 'to mend') OR kit = 0 AND from_state IN ('sewn', 'to mend');
