-- A spreadsheet that was brought in by mistake is taken back as a whole: what it made is written
-- down by number, and at which version it left it, so that whatever nobody has touched since is
-- known and the rest stays. Cloth goes by counter-entries. Who or what else was only written down,
-- and nothing came of it, goes as a row; everything that came of it keeps it by its keys.
-- +goose Up
CREATE TABLE imports (
    drive_id text        NOT NULL,
    number   bigint      NOT NULL,
    kind     text        NOT NULL,
    taken    integer     NOT NULL, -- rows of the file
    at       timestamptz NOT NULL,
    who      bigint      NOT NULL,
    CONSTRAINT imports_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT imports_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT imports_kind_known CHECK (kind IN ('fabric', 'people', 'asked', 'donors')),
    CONSTRAINT imports_taken_some CHECK (taken > 0)
);
GRANT SELECT, INSERT ON imports TO boltward_server;

CREATE TABLE import_rows (
    drive_id  text    NOT NULL,
    import    bigint  NOT NULL,
    kind      text    NOT NULL,
    number    bigint  NOT NULL,
    version   integer NOT NULL, -- at which the file left it
    undone_at timestamptz,
    CONSTRAINT import_rows_pkey PRIMARY KEY (drive_id, import, kind, number),
    CONSTRAINT import_rows_import_fkey FOREIGN KEY (drive_id, import) REFERENCES imports (drive_id, number),
    CONSTRAINT import_rows_kind_known CHECK (kind IN ('lot', 'lot size', 'donor', 'person', 'recipient', 'asked'))
);
GRANT SELECT, INSERT, UPDATE (undone_at) ON import_rows TO boltward_server;

GRANT DELETE ON people, donors, recipients, asked TO boltward_server;

-- The tagging of a lot is taken back while it holds no cloth, also where a size that came with it
-- was taken back before: its history then says both.
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION fabric_entry_applies() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
    stretch bigint := 0;
BEGIN
    IF NEW.piece = 0 AND NEW.kind NOT IN ('tagged', 'undone') THEN
        RAISE EXCEPTION 'a lot that is not measured holds no cloth to move'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'fabric_entries_measured_first';
    END IF;
    IF NEW.undoes IS NOT NULL AND NOT EXISTS (
        SELECT FROM fabric_entries e WHERE e.drive_id = NEW.drive_id AND e.id = NEW.undoes AND e.undoes IS NULL
            AND (e.lot, e.piece, e.to_account, e.from_account, e.length, e.area)
              = (NEW.lot, NEW.piece, NEW.from_account, NEW.to_account, NEW.length, NEW.area)) THEN
        RAISE EXCEPTION 'a counter-entry is the way back of the entry it undoes'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'fabric_entries_undoes_the_same';
    END IF;
    IF NEW.piece = 0 THEN
        IF NEW.undoes IS NOT NULL AND EXISTS (SELECT FROM pieces p WHERE p.drive_id = NEW.drive_id AND p.lot = NEW.lot AND p.received <> 0) THEN
            RAISE EXCEPTION 'a lot that holds cloth stays a lot'
                USING ERRCODE = 'check_violation', CONSTRAINT = 'fabric_entries_untagged_bare';
        END IF;
        RETURN NULL;
    END IF;
    IF NEW.to_account = 'free' THEN stretch := NEW.length; END IF;
    IF NEW.from_account = 'free' THEN stretch := -NEW.length; END IF;
    UPDATE pieces p SET
        free_length = p.free_length + stretch,
        received = p.received + CASE WHEN NEW.from_account IN ('outside', 'origin') THEN NEW.area ELSE 0 END
                              - CASE WHEN NEW.to_account IN ('outside', 'origin') THEN NEW.area ELSE 0 END,
        free     = p.free     + CASE WHEN NEW.to_account = 'free' THEN NEW.area ELSE 0 END - CASE WHEN NEW.from_account = 'free' THEN NEW.area ELSE 0 END,
        promised = p.promised + CASE WHEN NEW.to_account = 'promised' THEN NEW.area ELSE 0 END - CASE WHEN NEW.from_account = 'promised' THEN NEW.area ELSE 0 END,
        cut      = p.cut      + CASE WHEN NEW.to_account = 'cut' THEN NEW.area ELSE 0 END - CASE WHEN NEW.from_account = 'cut' THEN NEW.area ELSE 0 END,
        out      = p.out      + CASE WHEN NEW.to_account = 'out' THEN NEW.area ELSE 0 END - CASE WHEN NEW.from_account = 'out' THEN NEW.area ELSE 0 END,
        parted   = p.parted   + CASE WHEN NEW.to_account = 'parted' THEN NEW.area ELSE 0 END - CASE WHEN NEW.from_account = 'parted' THEN NEW.area ELSE 0 END
    WHERE p.drive_id = NEW.drive_id AND p.lot = NEW.lot AND p.piece = NEW.piece;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'no piece %/%', NEW.lot, NEW.piece
            USING ERRCODE = 'foreign_key_violation', CONSTRAINT = 'fabric_entries_piece_fkey';
    END IF;
    RETURN NULL;
END $$;
-- +goose StatementEnd
REVOKE EXECUTE ON FUNCTION fabric_entry_applies FROM PUBLIC;
