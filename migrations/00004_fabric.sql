-- Fabric: lots as they were given, pieces as they lie on the shelf, and the
-- ledger that every length goes through. Lengths are whole 1/1600 mm, areas
-- their square. A piece's balances are moved by the ledger's trigger alone: the
-- server role may not write them.
-- +goose Up
CREATE TABLE lots (
    drive_id    text        NOT NULL,
    number      bigint      NOT NULL,
    donor       bigint,
    tag         text,
    received_on date        NOT NULL,
    pieces_told integer     NOT NULL DEFAULT 1,
    kind        text        NOT NULL DEFAULT '',
    set_aside   text        NOT NULL DEFAULT '',
    shelf       text        NOT NULL DEFAULT '',
    fibre       text        NOT NULL DEFAULT '',
    weight      text        NOT NULL DEFAULT '',
    washed      boolean     NOT NULL DEFAULT false,
    print       text        NOT NULL DEFAULT '',
    turn        text        NOT NULL DEFAULT 'either',
    border      text        NOT NULL DEFAULT '',
    trim_ok     boolean     NOT NULL DEFAULT false,
    colours     text[]      NOT NULL DEFAULT '{}',
    themes      text[]      NOT NULL DEFAULT '{}',
    ends        text        NOT NULL DEFAULT 'cut',
    raw_length  bigint,
    raw_width   bigint,
    note        text        NOT NULL DEFAULT '',
    created_at  timestamptz NOT NULL,
    measured_at timestamptz,
    version     integer     NOT NULL DEFAULT 1,
    CONSTRAINT lots_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT lots_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT lots_donor_fkey FOREIGN KEY (drive_id, donor) REFERENCES donors (drive_id, number),
    CONSTRAINT lots_pieces_told_range CHECK (pieces_told BETWEEN 1 AND 500),
    CONSTRAINT lots_fibre_known CHECK (fibre IN ('', 'cotton', 'linen', 'poly-cotton', 'other', 'not sure')),
    CONSTRAINT lots_weight_known CHECK (weight IN ('', 'quilting', 'flannel', 'sheeting', 'heavy')),
    CONSTRAINT lots_print_known CHECK (print IN ('', 'solid', 'tonal', 'feature')),
    CONSTRAINT lots_turn_known CHECK (turn IN ('either', 'across', 'along')),
    CONSTRAINT lots_border_known CHECK (border IN ('', 'one selvedge', 'both selvedges')),
    CONSTRAINT lots_ends_known CHECK (ends IN ('cut', 'torn')),
    CONSTRAINT lots_measured_whole CHECK (measured_at IS NULL OR
        (raw_length > 0 AND raw_width > 0 AND fibre <> '' AND weight <> '' AND print <> ''))
);
CREATE UNIQUE INDEX lots_tag_once ON lots (drive_id, lower(tag)) WHERE tag IS NOT NULL;

CREATE TABLE pieces (
    drive_id    text    NOT NULL,
    lot         bigint  NOT NULL,
    piece       integer NOT NULL,
    kind        text    NOT NULL,
    origin      integer,
    width       bigint  NOT NULL,
    free_length bigint  NOT NULL DEFAULT 0,
    received    bigint  NOT NULL DEFAULT 0,
    free        bigint  NOT NULL DEFAULT 0,
    promised    bigint  NOT NULL DEFAULT 0,
    cut         bigint  NOT NULL DEFAULT 0,
    out         bigint  NOT NULL DEFAULT 0,
    parted      bigint  NOT NULL DEFAULT 0,
    CONSTRAINT pieces_pkey PRIMARY KEY (drive_id, lot, piece),
    CONSTRAINT pieces_lot_fkey FOREIGN KEY (drive_id, lot) REFERENCES lots (drive_id, number),
    CONSTRAINT pieces_origin_fkey FOREIGN KEY (drive_id, lot, origin) REFERENCES pieces (drive_id, lot, piece),
    CONSTRAINT pieces_kind_known CHECK (kind IN ('whole', 'flaw part', 'border strip', 'remnant')),
    CONSTRAINT pieces_size_range CHECK (width > 0 AND width <= 16000000 AND free_length >= 0 AND free_length <= 16000000000),
    CONSTRAINT pieces_balance CHECK (received = free + promised + cut + out + parted),
    CONSTRAINT pieces_nothing_below_zero CHECK (received >= 0 AND free >= 0 AND promised >= 0 AND cut >= 0 AND out >= 0 AND parted >= 0),
    CONSTRAINT pieces_free_is_a_rectangle CHECK (free = width * free_length)
);

-- An entry moves area from one account of a piece to another. Into or out of
-- free it carries the length at the piece's width. Piece 0 is the lot before it
-- is measured: nothing moves yet.
CREATE TABLE fabric_entries (
    drive_id     text        NOT NULL,
    id           bigint      GENERATED ALWAYS AS IDENTITY,
    lot          bigint      NOT NULL,
    piece        integer     NOT NULL,
    kind         text        NOT NULL,
    from_account text        NOT NULL,
    to_account   text        NOT NULL,
    length       bigint      NOT NULL DEFAULT 0,
    area         bigint      NOT NULL,
    other_piece  integer,
    plan         bigint,
    sheet        bigint,
    reason       text        NOT NULL DEFAULT '',
    undoes       bigint,
    at           timestamptz NOT NULL,
    who          bigint      NOT NULL,
    request      text        NOT NULL DEFAULT '',
    CONSTRAINT fabric_entries_pkey PRIMARY KEY (drive_id, id),
    CONSTRAINT fabric_entries_lot_fkey FOREIGN KEY (drive_id, lot) REFERENCES lots (drive_id, number),
    CONSTRAINT fabric_entries_kind_known CHECK (kind IN ('tagged', 'measured', 'squared off', 'lost in the wash', 'parted',
        'promised', 'released', 'cut for kit', 'offcut', 'put back', 'given away', 'discarded', 'recounted', 'undone')),
    CONSTRAINT fabric_entries_accounts_known CHECK (
        from_account IN ('outside', 'origin', 'free', 'promised', 'cut', 'out', 'parted') AND
        to_account IN ('outside', 'origin', 'free', 'promised', 'cut', 'out', 'parted')),
    CONSTRAINT fabric_entries_area CHECK (area > 0 OR (area = 0 AND kind = 'tagged')),
    CONSTRAINT fabric_entries_moves CHECK (kind = 'tagged' OR from_account <> to_account),
    CONSTRAINT fabric_entries_undoes_fkey FOREIGN KEY (drive_id, undoes) REFERENCES fabric_entries (drive_id, id),
    CONSTRAINT fabric_entries_undoes_said CHECK ((kind = 'undone') = (undoes IS NOT NULL))
);
CREATE INDEX fabric_entries_lot ON fabric_entries (drive_id, lot, piece, id);
CREATE INDEX fabric_entries_at ON fabric_entries (drive_id, at);
CREATE UNIQUE INDEX fabric_entries_undone_once ON fabric_entries (drive_id, undoes) WHERE undoes IS NOT NULL;

-- +goose StatementBegin
CREATE FUNCTION fabric_entry_applies() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
    stretch bigint := 0;
BEGIN
    IF NEW.piece = 0 THEN
        IF NEW.kind <> 'tagged' THEN
            RAISE EXCEPTION 'a lot that is not measured holds no cloth to move'
                USING ERRCODE = 'check_violation', CONSTRAINT = 'fabric_entries_measured_first';
        END IF;
        RETURN NULL;
    END IF;
    IF NEW.undoes IS NOT NULL AND NOT EXISTS (
        SELECT FROM fabric_entries e WHERE e.drive_id = NEW.drive_id AND e.id = NEW.undoes AND e.undoes IS NULL
            AND (e.lot, e.piece, e.to_account, e.from_account, e.length, e.area)
              = (NEW.lot, NEW.piece, NEW.from_account, NEW.to_account, NEW.length, NEW.area)) THEN
        RAISE EXCEPTION 'a counter-entry is the way back of the entry it undoes'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'fabric_entries_undoes_the_same';
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

-- AFTER: an entry that is not kept in the end, as with ON CONFLICT DO NOTHING, moves nothing.
CREATE TRIGGER fabric_entries_apply AFTER INSERT ON fabric_entries
    FOR EACH ROW EXECUTE FUNCTION fabric_entry_applies();
CREATE TRIGGER fabric_entries_rows_stay BEFORE UPDATE OR DELETE ON fabric_entries
    FOR EACH ROW EXECUTE FUNCTION only_append();
CREATE TRIGGER fabric_entries_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON fabric_entries
    FOR EACH STATEMENT EXECUTE FUNCTION only_append();

GRANT SELECT, INSERT, UPDATE ON lots TO boltward_server;
GRANT SELECT ON pieces TO boltward_server;
GRANT INSERT (drive_id, lot, piece, kind, origin, width) ON pieces TO boltward_server;
-- A row lock needs the right to update some column; kind is what intake may correct.
GRANT UPDATE (kind) ON pieces TO boltward_server;
GRANT SELECT, INSERT (drive_id, lot, piece, kind, from_account, to_account, length, area, other_piece, plan, sheet, reason, undoes, at, who, request)
    ON fabric_entries TO boltward_server;
