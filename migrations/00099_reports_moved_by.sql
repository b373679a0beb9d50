-- What a holder said of a kit ends when the kit moves. By which entry it ended is kept, so that it stands
-- again where that entry was a mistake and is undone.
-- +goose Up
ALTER TABLE kit_reports ADD COLUMN moved_by bigint,
    ADD CONSTRAINT kit_reports_moved_by_fkey FOREIGN KEY (drive_id, moved_by) REFERENCES kit_entries (drive_id, id);

-- +goose StatementBegin
CREATE OR REPLACE FUNCTION kit_reports_end() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    UPDATE kit_reports r SET ended_at = now(), ended = 'moved',
        moved_by = (SELECT max(e.id) FROM kit_entries e WHERE e.drive_id = NEW.drive_id AND e.kit = NEW.number AND e.part = NEW.part)
    WHERE r.drive_id = NEW.drive_id AND r.kit = NEW.number AND r.part = NEW.part AND r.ended_at IS NULL
        AND (r.kind = 'longer' OR NEW.state <> OLD.state OR NEW.holder IS DISTINCT FROM OLD.holder OR NEW.cases <> OLD.cases);
    RETURN NULL;
END $$;
-- +goose StatementEnd
