-- Plans, cut sheets and kits. A kit's place and holder are moved by the
-- whereabouts ledger's trigger alone.
-- +goose Up
CREATE TABLE plans (
    drive_id    text        NOT NULL,
    number      bigint      NOT NULL,
    state       text        NOT NULL,
    problem     jsonb       NOT NULL,
    plan        jsonb,
    made        numeric     NOT NULL DEFAULT 0,
    bound       numeric     NOT NULL DEFAULT 0,
    cases       integer     NOT NULL DEFAULT 0,
    cases_bound integer     NOT NULL DEFAULT 0,
    phase       text        NOT NULL DEFAULT '',
    trouble     text        NOT NULL DEFAULT '',
    who         bigint      NOT NULL,
    created_at  timestamptz NOT NULL,
    ended_at    timestamptz,
    accepted_at timestamptz,
    version     integer     NOT NULL DEFAULT 1,
    CONSTRAINT plans_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT plans_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT plans_state_known CHECK (state IN ('waiting', 'running', 'ready', 'failed', 'accepted', 'dropped')),
    CONSTRAINT plans_ready_has_plan CHECK (state NOT IN ('ready', 'accepted') OR plan IS NOT NULL)
);

-- A kit is (number, part): 107 is part 1, what parts from it is 107-2 and so on.
CREATE TABLE kits (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    part       integer     NOT NULL DEFAULT 1,
    parent     integer,
    asked      bigint,
    size       bigint      NOT NULL,
    plan       bigint,
    own_fabric boolean     NOT NULL DEFAULT false,
    cases      integer     NOT NULL DEFAULT 0,
    state      text        NOT NULL DEFAULT 'born',
    holder     bigint,
    since      date,
    due        date,
    note       text        NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL,
    CONSTRAINT kits_pkey PRIMARY KEY (drive_id, number, part),
    CONSTRAINT kits_asked_fkey FOREIGN KEY (drive_id, asked) REFERENCES asked (drive_id, number),
    CONSTRAINT kits_size_fkey FOREIGN KEY (drive_id, size) REFERENCES sizes (drive_id, number),
    CONSTRAINT kits_plan_fkey FOREIGN KEY (drive_id, plan) REFERENCES plans (drive_id, number),
    CONSTRAINT kits_holder_fkey FOREIGN KEY (drive_id, holder) REFERENCES people (drive_id, number),
    CONSTRAINT kits_parent_fkey FOREIGN KEY (drive_id, number, parent) REFERENCES kits (drive_id, number, part),
    CONSTRAINT kits_number_counts CHECK (number > 0 AND part > 0),
    CONSTRAINT kits_cases_range CHECK (cases BETWEEN 0 AND 500),
    CONSTRAINT kits_state_known CHECK (state IN ('born', 'planned', 'on the table', 'cut', 'ready', 'out', 'back', 'lost', 'found', 'taken apart')),
    CONSTRAINT kits_out_has_holder CHECK ((state = 'out') = (holder IS NOT NULL))
);
CREATE INDEX kits_state ON kits (drive_id, state);
CREATE INDEX kits_holder ON kits (drive_id, holder) WHERE holder IS NOT NULL;

-- cases: how many pillowcases the kit holds after the entry.
CREATE TABLE kit_entries (
    drive_id   text        NOT NULL,
    id         bigint      GENERATED ALWAYS AS IDENTITY,
    kit        bigint      NOT NULL,
    part       integer     NOT NULL,
    from_state text        NOT NULL,
    to_state   text        NOT NULL,
    holder     bigint,
    due        date,
    day        date        NOT NULL,
    cases      integer     NOT NULL,
    reason     text        NOT NULL DEFAULT '',
    at         timestamptz NOT NULL,
    who        bigint      NOT NULL,
    request    text        NOT NULL DEFAULT '',
    CONSTRAINT kit_entries_pkey PRIMARY KEY (drive_id, id),
    CONSTRAINT kit_entries_kit_fkey FOREIGN KEY (drive_id, kit, part) REFERENCES kits (drive_id, number, part),
    CONSTRAINT kit_entries_cases_range CHECK (cases BETWEEN 0 AND 500),
    CONSTRAINT kit_entries_born_once CHECK (to_state <> 'born'),
    CONSTRAINT kit_entries_held_when_out CHECK (to_state = 'out' OR (holder IS NULL AND due IS NULL))
);
CREATE INDEX kit_entries_kit ON kit_entries (drive_id, kit, part, id);
CREATE INDEX kit_entries_holder ON kit_entries (drive_id, holder) WHERE holder IS NOT NULL;

-- +goose StatementBegin
CREATE FUNCTION kit_entry_applies() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    UPDATE kits k SET
        state = NEW.to_state,
        cases = NEW.cases,
        holder = NEW.holder,
        due = NEW.due,
        since = CASE WHEN k.state = NEW.to_state AND k.holder IS NOT DISTINCT FROM NEW.holder THEN k.since ELSE NEW.day END
    -- IS TRUE keeps the search on the primary key: before the first ANALYZE the planner would
    -- go through every kit that ever was in this state.
    WHERE k.drive_id = NEW.drive_id AND k.number = NEW.kit AND k.part = NEW.part AND (k.state = NEW.from_state) IS TRUE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'kit % is not % any more', NEW.kit, NEW.from_state
            USING ERRCODE = 'check_violation', CONSTRAINT = 'kit_entries_from_where_it_is';
    END IF;
    RETURN NULL;
END $$;
-- +goose StatementEnd
REVOKE EXECUTE ON FUNCTION kit_entry_applies FROM PUBLIC;

CREATE TRIGGER kit_entries_apply AFTER INSERT ON kit_entries
    FOR EACH ROW EXECUTE FUNCTION kit_entry_applies();
CREATE TRIGGER kit_entries_rows_stay BEFORE UPDATE OR DELETE ON kit_entries
    FOR EACH ROW EXECUTE FUNCTION only_append();
CREATE TRIGGER kit_entries_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON kit_entries
    FOR EACH STATEMENT EXECUTE FUNCTION only_append();

-- One sheet a piece of an accepted plan: start is where on the piece it begins
-- (an earlier sheet may lie before it), used how much length it takes.
CREATE TABLE sheets (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    revision   integer     NOT NULL DEFAULT 1,
    plan       bigint      NOT NULL,
    lot        bigint      NOT NULL,
    piece      integer     NOT NULL,
    state      text        NOT NULL DEFAULT 'waiting',
    used       bigint      NOT NULL,
    helper     text        NOT NULL DEFAULT '',
    out_at     timestamptz,
    cut_at     timestamptz,
    created_at timestamptz NOT NULL,
    version    integer     NOT NULL DEFAULT 1,
    CONSTRAINT sheets_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT sheets_plan_fkey FOREIGN KEY (drive_id, plan) REFERENCES plans (drive_id, number),
    CONSTRAINT sheets_piece_fkey FOREIGN KEY (drive_id, lot, piece) REFERENCES pieces (drive_id, lot, piece),
    CONSTRAINT sheets_state_known CHECK (state IN ('waiting', 'on the table', 'cut', 'withdrawn')),
    CONSTRAINT sheets_used_range CHECK (used > 0)
);
CREATE INDEX sheets_piece ON sheets (drive_id, lot, piece);

-- Where each panel lies on its sheet (x, w across the width; y, h along the
-- length from the squared end) and which pillowcase of which kit it is for.
CREATE TABLE panels (
    drive_id   text    NOT NULL,
    sheet      bigint  NOT NULL,
    panel      integer NOT NULL,
    role       text    NOT NULL,
    size       bigint  NOT NULL,
    x          bigint  NOT NULL,
    y          bigint  NOT NULL,
    w          bigint  NOT NULL,
    h          bigint  NOT NULL,
    kit        bigint  NOT NULL,
    part       integer NOT NULL DEFAULT 1,
    pillowcase integer NOT NULL,
    CONSTRAINT panels_pkey PRIMARY KEY (drive_id, sheet, panel),
    CONSTRAINT panels_sheet_fkey FOREIGN KEY (drive_id, sheet) REFERENCES sheets (drive_id, number),
    CONSTRAINT panels_kit_fkey FOREIGN KEY (drive_id, kit, part) REFERENCES kits (drive_id, number, part),
    CONSTRAINT panels_size_fkey FOREIGN KEY (drive_id, size) REFERENCES sizes (drive_id, number),
    CONSTRAINT panels_inside CHECK (x >= 0 AND y >= 0 AND w > 0 AND h > 0)
);
CREATE INDEX panels_kit ON panels (drive_id, kit, part);

-- Rectangles inside the used part that are worth keeping; new_piece once cut.
CREATE TABLE sheet_remnants (
    drive_id  text    NOT NULL,
    sheet     bigint  NOT NULL,
    remnant   integer NOT NULL,
    x         bigint  NOT NULL,
    y         bigint  NOT NULL,
    w         bigint  NOT NULL,
    h         bigint  NOT NULL,
    new_piece integer,
    CONSTRAINT sheet_remnants_pkey PRIMARY KEY (drive_id, sheet, remnant),
    CONSTRAINT sheet_remnants_sheet_fkey FOREIGN KEY (drive_id, sheet) REFERENCES sheets (drive_id, number)
);

-- What a plan was made from and what a sheet takes of which piece stay as they were written.
GRANT SELECT, INSERT, UPDATE (state, plan, made, bound, cases, cases_bound, phase, trouble, ended_at, accepted_at, version) ON plans TO boltward_server;
GRANT SELECT, INSERT, UPDATE (revision, state, helper, out_at, cut_at, version) ON sheets TO boltward_server;
GRANT SELECT, INSERT, UPDATE (new_piece) ON sheet_remnants TO boltward_server;
GRANT SELECT, INSERT ON panels TO boltward_server;
GRANT SELECT, INSERT (drive_id, kit, part, from_state, to_state, holder, due, day, cases, reason, at, who, request) ON kit_entries TO boltward_server;
GRANT SELECT ON kits TO boltward_server;
GRANT INSERT (drive_id, number, part, parent, asked, size, plan, own_fabric, note, created_at) ON kits TO boltward_server;
GRANT UPDATE (note) ON kits TO boltward_server;
