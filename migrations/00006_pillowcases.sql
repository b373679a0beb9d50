-- The pillowcases ledger: for each quota line, or 0 for "not promised yet", how
-- many stand in which state. kit and part are 0 for those brought in without a
-- kit. Balances are moved by the ledger's trigger alone.
-- +goose Up
CREATE TABLE case_balances (
    drive_id text    NOT NULL,
    asked    bigint  NOT NULL,
    size     bigint  NOT NULL,
    kit      bigint  NOT NULL,
    part     integer NOT NULL,
    state    text    NOT NULL,
    n        integer NOT NULL,
    CONSTRAINT case_balances_pkey PRIMARY KEY (drive_id, asked, size, kit, part, state),
    CONSTRAINT case_balances_size_fkey FOREIGN KEY (drive_id, size) REFERENCES sizes (drive_id, number),
    CONSTRAINT case_balances_state_known CHECK (state IN ('planned', 'cut', 'out', 'sewn', 'good', 'to mend', 'not usable',
        'packed', 'delivered', 'confirmed', 'lost', 'withdrawn uncut', 'not received')),
    CONSTRAINT case_balances_nothing_below_zero CHECK (n >= 0)
);
CREATE INDEX case_balances_kit ON case_balances (drive_id, kit, part) WHERE kit > 0;

CREATE TABLE deliveries (
    drive_id     text        NOT NULL,
    number       bigint      NOT NULL,
    recipient    bigint      NOT NULL,
    sent_on      date        NOT NULL,
    carried_by   text        NOT NULL DEFAULT '',
    confirmed_on date,
    confirmed_by text        NOT NULL DEFAULT '',
    confirmed_how text       NOT NULL DEFAULT '',
    note         text        NOT NULL DEFAULT '',
    created_at   timestamptz NOT NULL,
    version      integer     NOT NULL DEFAULT 1,
    CONSTRAINT deliveries_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT deliveries_recipient_fkey FOREIGN KEY (drive_id, recipient) REFERENCES recipients (drive_id, number),
    CONSTRAINT deliveries_confirmed_by_whom CHECK ((confirmed_on IS NULL) = (confirmed_by = ''))
);

CREATE TABLE boxes (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    recipient  bigint      NOT NULL,
    delivery   bigint,
    packed_by  text        NOT NULL DEFAULT '',
    checked_by text        NOT NULL DEFAULT '',
    emptied    boolean     NOT NULL DEFAULT false,
    created_at timestamptz NOT NULL,
    version    integer     NOT NULL DEFAULT 1,
    CONSTRAINT boxes_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT boxes_recipient_fkey FOREIGN KEY (drive_id, recipient) REFERENCES recipients (drive_id, number),
    CONSTRAINT boxes_delivery_fkey FOREIGN KEY (drive_id, delivery) REFERENCES deliveries (drive_id, number),
    CONSTRAINT boxes_sent_full CHECK (delivery IS NULL OR NOT emptied)
);

-- What lies in a box, by where it came from, so that cloth can be followed to
-- the ward. confirmed arrived; missing was settled as not received.
CREATE TABLE box_lines (
    drive_id  text    NOT NULL,
    box       bigint  NOT NULL,
    line      integer NOT NULL,
    asked     bigint  NOT NULL,
    size      bigint  NOT NULL,
    kit       bigint  NOT NULL,
    part      integer NOT NULL,
    n         integer NOT NULL,
    confirmed integer NOT NULL DEFAULT 0,
    missing   integer NOT NULL DEFAULT 0,
    CONSTRAINT box_lines_pkey PRIMARY KEY (drive_id, box, line),
    CONSTRAINT box_lines_box_fkey FOREIGN KEY (drive_id, box) REFERENCES boxes (drive_id, number),
    CONSTRAINT box_lines_n CHECK (n > 0),
    CONSTRAINT box_lines_confirmed CHECK (confirmed >= 0 AND missing >= 0 AND confirmed + missing <= n)
);

CREATE TABLE case_entries (
    drive_id   text        NOT NULL,
    id         bigint      GENERATED ALWAYS AS IDENTITY,
    size       bigint      NOT NULL,
    n          integer     NOT NULL,
    asked      bigint      NOT NULL DEFAULT 0,
    kit        bigint      NOT NULL DEFAULT 0,
    part       integer     NOT NULL DEFAULT 0,
    from_state text        NOT NULL,
    to_asked   bigint      NOT NULL DEFAULT 0,
    to_kit     bigint      NOT NULL DEFAULT 0,
    to_part    integer     NOT NULL DEFAULT 0,
    to_state   text        NOT NULL,
    person     bigint,
    box        bigint,
    delivery   bigint,
    reason     text        NOT NULL DEFAULT '',
    undoes     bigint,
    day        date        NOT NULL,
    at         timestamptz NOT NULL,
    who        bigint      NOT NULL,
    request    text        NOT NULL DEFAULT '',
    CONSTRAINT case_entries_pkey PRIMARY KEY (drive_id, id),
    CONSTRAINT case_entries_n CHECK (n > 0),
    CONSTRAINT case_entries_size_fkey FOREIGN KEY (drive_id, size) REFERENCES sizes (drive_id, number),
    CONSTRAINT case_entries_person_fkey FOREIGN KEY (drive_id, person) REFERENCES people (drive_id, number),
    CONSTRAINT case_entries_undoes_fkey FOREIGN KEY (drive_id, undoes) REFERENCES case_entries (drive_id, id),
    CONSTRAINT case_entries_moves CHECK (from_state <> to_state OR asked <> to_asked OR kit <> to_kit OR part <> to_part),
    CONSTRAINT case_entries_part_of_kit CHECK ((kit = 0) = (part = 0) AND (to_kit = 0) = (to_part = 0))
);
CREATE INDEX case_entries_day ON case_entries (drive_id, day);
CREATE INDEX case_entries_person ON case_entries (drive_id, person) WHERE person IS NOT NULL;
CREATE INDEX case_entries_kit ON case_entries (drive_id, to_kit, to_part) WHERE to_kit > 0;
CREATE UNIQUE INDEX case_entries_undone_once ON case_entries (drive_id, undoes) WHERE undoes IS NOT NULL;

-- +goose StatementBegin
CREATE FUNCTION case_entry_applies() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
    sides text[] := ARRAY['from', 'to'];
    side  text;
BEGIN
    -- Back to born goes only what was brought in by mistake.
    IF NEW.to_state = 'born' AND (NEW.from_state = 'born' OR NEW.undoes IS NULL) THEN
        RAISE EXCEPTION 'only a counter-entry goes back to born'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'case_entries_born_once';
    END IF;
    IF NEW.undoes IS NOT NULL AND NOT EXISTS (
        SELECT FROM case_entries e WHERE e.drive_id = NEW.drive_id AND e.id = NEW.undoes AND e.undoes IS NULL
            AND (e.size, e.n, e.to_asked, e.to_kit, e.to_part, e.to_state, e.asked, e.kit, e.part, e.from_state)
              = (NEW.size, NEW.n, NEW.asked, NEW.kit, NEW.part, NEW.from_state, NEW.to_asked, NEW.to_kit, NEW.to_part, NEW.to_state)) THEN
        RAISE EXCEPTION 'a counter-entry is the way back of the entry it undoes'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'case_entries_undoes_the_same';
    END IF;
    IF NEW.asked > 0 AND NEW.from_state <> 'born' AND NOT EXISTS (SELECT 1 FROM asked a WHERE a.drive_id = NEW.drive_id AND a.number = NEW.asked)
       OR NEW.to_asked > 0 AND NOT EXISTS (SELECT 1 FROM asked a WHERE a.drive_id = NEW.drive_id AND a.number = NEW.to_asked) THEN
        RAISE EXCEPTION 'no such line asked for'
            USING ERRCODE = 'foreign_key_violation', CONSTRAINT = 'case_entries_asked_fkey';
    END IF;
    IF NEW.to_kit > 0 AND NOT EXISTS (SELECT 1 FROM kits k WHERE k.drive_id = NEW.drive_id AND k.number = NEW.to_kit AND k.part = NEW.to_part) THEN
        RAISE EXCEPTION 'no such kit'
            USING ERRCODE = 'foreign_key_violation', CONSTRAINT = 'case_entries_kit_fkey';
    END IF;
    -- Both balances are locked in the order of their keys, so that a step and its way
    -- back at the same moment wait for each other instead of standing in each other's way.
    -- Sewn comes first: a finding leads from there to several others.
    IF (NEW.to_asked, NEW.to_kit, NEW.to_part, NEW.to_state <> 'sewn', NEW.to_state)
       < (NEW.asked, NEW.kit, NEW.part, NEW.from_state <> 'sewn', NEW.from_state) THEN
        sides := ARRAY['to', 'from'];
    END IF;
    FOREACH side IN ARRAY sides LOOP
        IF side = 'from' AND NEW.from_state <> 'born' THEN
            UPDATE case_balances b SET n = b.n - NEW.n
            WHERE b.drive_id = NEW.drive_id AND b.asked = NEW.asked AND b.size = NEW.size
              AND b.kit = NEW.kit AND b.part = NEW.part AND b.state = NEW.from_state;
            IF NOT FOUND THEN
                RAISE EXCEPTION 'no pillowcase is % there', NEW.from_state
                    USING ERRCODE = 'check_violation', CONSTRAINT = 'case_balances_nothing_below_zero';
            END IF;
        ELSIF side = 'to' AND NEW.to_state <> 'born' THEN
            INSERT INTO case_balances AS b (drive_id, asked, size, kit, part, state, n)
            VALUES (NEW.drive_id, NEW.to_asked, NEW.size, NEW.to_kit, NEW.to_part, NEW.to_state, NEW.n)
            ON CONFLICT ON CONSTRAINT case_balances_pkey DO UPDATE SET n = b.n + EXCLUDED.n;
        END IF;
    END LOOP;
    RETURN NULL;
END $$;
-- +goose StatementEnd
REVOKE EXECUTE ON FUNCTION case_entry_applies FROM PUBLIC;

CREATE TRIGGER case_entries_apply AFTER INSERT ON case_entries
    FOR EACH ROW EXECUTE FUNCTION case_entry_applies();
CREATE TRIGGER case_entries_rows_stay BEFORE UPDATE OR DELETE ON case_entries
    FOR EACH ROW EXECUTE FUNCTION only_append();
CREATE TRIGGER case_entries_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON case_entries
    FOR EACH STATEMENT EXECUTE FUNCTION only_append();

GRANT SELECT ON case_balances TO boltward_server;
GRANT SELECT, INSERT (drive_id, size, n, asked, kit, part, from_state, to_asked, to_kit, to_part, to_state, person, box, delivery, reason, undoes,
    day, at, who, request) ON case_entries TO boltward_server;
GRANT SELECT, INSERT, UPDATE (confirmed_on, confirmed_by, confirmed_how, note, version) ON deliveries TO boltward_server;
GRANT SELECT, INSERT, UPDATE (delivery, emptied, version) ON boxes TO boltward_server;
GRANT SELECT, INSERT ON box_lines TO boltward_server;
GRANT UPDATE (confirmed, missing) ON box_lines TO boltward_server;
