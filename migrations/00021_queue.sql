-- The queue at the door and at the measuring table. A lot that was tagged by
-- mistake, by one Enter too many, is taken back: its number stays in the ledger with
-- a counter-entry and is nobody's any more. And a lot that somebody has on the table
-- is offered to nobody else for a while, so that two who measure one pile do not meet.
-- +goose Up
ALTER TABLE lots ADD COLUMN untagged_at timestamptz,
    ADD CONSTRAINT lots_untagged_bare CHECK (untagged_at IS NULL OR
        (measured_at IS NULL AND donor IS NULL AND tag IS NULL AND photo IS NULL AND set_aside <> ''));

-- Before a lot is measured nothing moves: it is tagged, and that is undone at most.
ALTER TABLE fabric_entries
    DROP CONSTRAINT fabric_entries_area,
    ADD CONSTRAINT fabric_entries_area CHECK (area > 0 OR (area = 0 AND piece = 0 AND kind IN ('tagged', 'undone'))),
    DROP CONSTRAINT fabric_entries_moves,
    ADD CONSTRAINT fabric_entries_moves CHECK (from_account <> to_account OR (piece = 0 AND kind IN ('tagged', 'undone')));

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
        IF NEW.undoes IS NOT NULL AND EXISTS (SELECT FROM pieces p WHERE p.drive_id = NEW.drive_id AND p.lot = NEW.lot) THEN
            RAISE EXCEPTION 'a lot that was measured stays a lot'
                USING ERRCODE = 'check_violation', CONSTRAINT = 'fabric_entries_untagged_unmeasured';
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

-- Who has which lot on the table: one row a lot, of one tablet, forgotten soon.
CREATE TABLE lots_in_hand (
    drive_id text        NOT NULL,
    lot      bigint      NOT NULL,
    tablet   text        NOT NULL,
    who      bigint      NOT NULL,
    at       timestamptz NOT NULL,
    CONSTRAINT lots_in_hand_pkey PRIMARY KEY (drive_id, lot),
    CONSTRAINT lots_in_hand_lot_fkey FOREIGN KEY (drive_id, lot) REFERENCES lots (drive_id, number)
);
CREATE INDEX lots_in_hand_at ON lots_in_hand (at);
GRANT SELECT, INSERT, UPDATE (tablet, who, at), DELETE ON lots_in_hand TO boltward_server;
