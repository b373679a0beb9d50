-- What people do to cloth by hand: wash it, part it, put a remnant back, give it
-- away, discard it, count it anew. The entries of one act belong together and are
-- undone together, so each act is a deed with a number, and its entries name it.
--
-- Cloth that is parted along its length leaves a piece for two others at once,
-- neither as wide as it. In between, what is free of the piece is no rectangle,
-- so that rule is held when the transaction ends, no longer at each entry.
-- +goose Up
CREATE TABLE fabric_deeds (
    drive_id text        NOT NULL,
    number   bigint      NOT NULL,
    lot      bigint      NOT NULL,
    kind     text        NOT NULL,
    reason   text        NOT NULL DEFAULT '',
    undoes   bigint,
    at       timestamptz NOT NULL,
    who      bigint      NOT NULL,
    CONSTRAINT fabric_deeds_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT fabric_deeds_lot_fkey FOREIGN KEY (drive_id, lot) REFERENCES lots (drive_id, number),
    CONSTRAINT fabric_deeds_kind_known CHECK (kind IN ('washed', 'parted', 'squared off', 'put back', 'given away', 'discarded', 'recounted', 'undone')),
    CONSTRAINT fabric_deeds_undoes_fkey FOREIGN KEY (drive_id, undoes) REFERENCES fabric_deeds (drive_id, number),
    CONSTRAINT fabric_deeds_undoes_said CHECK ((kind = 'undone') = (undoes IS NOT NULL)),
    CONSTRAINT fabric_deeds_undone_once UNIQUE (drive_id, undoes)
);
CREATE INDEX fabric_deeds_lot ON fabric_deeds (drive_id, lot, number);

ALTER TABLE fabric_entries ADD COLUMN deed bigint,
    ADD CONSTRAINT fabric_entries_deed_fkey FOREIGN KEY (drive_id, deed) REFERENCES fabric_deeds (drive_id, number);

-- What a wash did to pieces that were alike: from it the drive learns how much
-- cloth of a fibre shrinks.
CREATE TABLE fabric_washes (
    drive_id      text    NOT NULL,
    deed          bigint  NOT NULL,
    piece         integer NOT NULL,
    fibre         text    NOT NULL,
    weight        text    NOT NULL,
    width_before  bigint  NOT NULL,
    length_before bigint  NOT NULL,
    width_after   bigint  NOT NULL,
    length_after  bigint  NOT NULL,
    CONSTRAINT fabric_washes_pkey PRIMARY KEY (drive_id, deed, piece),
    CONSTRAINT fabric_washes_deed_fkey FOREIGN KEY (drive_id, deed) REFERENCES fabric_deeds (drive_id, number),
    CONSTRAINT fabric_washes_sizes CHECK (width_before > 0 AND length_before > 0 AND width_after > 0 AND length_after > 0)
);

GRANT SELECT, INSERT ON fabric_deeds, fabric_washes TO boltward_server;
GRANT INSERT (deed) ON fabric_entries TO boltward_server;

CREATE TRIGGER fabric_deeds_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON fabric_deeds
    FOR EACH STATEMENT EXECUTE FUNCTION only_append();
CREATE TRIGGER fabric_washes_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON fabric_washes
    FOR EACH STATEMENT EXECUTE FUNCTION only_append();

-- +goose StatementBegin
CREATE FUNCTION piece_is_a_rectangle() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    IF EXISTS (SELECT FROM pieces p WHERE p.drive_id = NEW.drive_id AND p.lot = NEW.lot AND p.piece = NEW.piece
            AND p.free <> p.width * p.free_length) THEN
        RAISE EXCEPTION 'what is free of piece %/% is no rectangle of its width', NEW.lot, NEW.piece
            USING ERRCODE = 'check_violation', CONSTRAINT = 'pieces_free_is_a_rectangle';
    END IF;
    RETURN NULL;
END $$;
-- +goose StatementEnd
REVOKE EXECUTE ON FUNCTION piece_is_a_rectangle FROM PUBLIC;
ALTER TABLE pieces DROP CONSTRAINT pieces_free_is_a_rectangle;
CREATE CONSTRAINT TRIGGER pieces_free_is_a_rectangle AFTER INSERT OR UPDATE ON pieces
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW WHEN (NEW.free <> NEW.width * NEW.free_length)
    EXECUTE FUNCTION piece_is_a_rectangle();
