-- A drive, what it is asked for and the people around it. drive_id leads every
-- key so that tables can be split over machines by drive.
-- +goose Up
CREATE TABLE drives (
    id           text        NOT NULL,
    name         text        NOT NULL,
    zone         text        NOT NULL,
    unit         text        NOT NULL DEFAULT 'in',
    washing      text        NOT NULL DEFAULT 'washed first',
    kit_cases    integer     NOT NULL DEFAULT 4,
    spare_share  integer     NOT NULL DEFAULT 0,
    keep_width   bigint      NOT NULL DEFAULT 365760,
    keep_length  bigint      NOT NULL DEFAULT 731520,
    created_at   timestamptz NOT NULL,
    version      integer     NOT NULL DEFAULT 1,
    CONSTRAINT drives_pkey PRIMARY KEY (id),
    CONSTRAINT drives_id_form CHECK (id ~ '^[a-z0-9](-?[a-z0-9]){1,39}$'),
    CONSTRAINT drives_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 120),
    CONSTRAINT drives_unit_known CHECK (unit IN ('in', 'cm')),
    CONSTRAINT drives_washing_known CHECK (washing IN ('washed first', 'cut larger')),
    CONSTRAINT drives_kit_cases_range CHECK (kit_cases BETWEEN 1 AND 50),
    CONSTRAINT drives_spare_share_range CHECK (spare_share BETWEEN 0 AND 50),
    CONSTRAINT drives_keep_range CHECK (keep_width > 0 AND keep_length > 0)
);

ALTER TABLE memberships
    ADD CONSTRAINT memberships_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id);

-- Numbers people see (lot 42, kit 107) count up within a drive.
CREATE TABLE counters (
    drive_id text   NOT NULL,
    kind     text   NOT NULL,
    last     bigint NOT NULL,
    CONSTRAINT counters_pkey PRIMARY KEY (drive_id, kind),
    CONSTRAINT counters_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id)
);

-- One row a wish: a repeat of the same key answers what the first answered.
-- drive_id is empty where a drive is being made, so it has no foreign key.
CREATE TABLE once (
    drive_id  text        NOT NULL,
    who       bigint      NOT NULL,
    key       text        NOT NULL,
    operation text        NOT NULL,
    hash      bytea       NOT NULL,
    answer    jsonb,
    at        timestamptz NOT NULL,
    CONSTRAINT once_pkey PRIMARY KEY (drive_id, who, key),
    CONSTRAINT once_key_length CHECK (length(key) BETWEEN 8 AND 200)
);
CREATE INDEX once_at ON once (at);

-- Who changed what. People are named by id; personal fields say "changed".
CREATE TABLE audit (
    drive_id text        NOT NULL,
    id       bigint      GENERATED ALWAYS AS IDENTITY,
    at       timestamptz NOT NULL,
    who      bigint      NOT NULL,
    initials text        NOT NULL DEFAULT '',
    request  text        NOT NULL DEFAULT '',
    act      text        NOT NULL,
    kind     text        NOT NULL,
    subject  text        NOT NULL,
    changes  jsonb       NOT NULL DEFAULT '{}',
    CONSTRAINT audit_pkey PRIMARY KEY (drive_id, id)
);
CREATE INDEX audit_subject ON audit (drive_id, kind, subject);

CREATE TABLE donors (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    name       text        NOT NULL,
    email      text        NOT NULL DEFAULT '',
    phone      text        NOT NULL DEFAULT '',
    address    text        NOT NULL DEFAULT '',
    letter     boolean     NOT NULL DEFAULT false,
    note       text        NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL,
    version    integer     NOT NULL DEFAULT 1,
    CONSTRAINT donors_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT donors_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT donors_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 120)
);
CREATE UNIQUE INDEX donors_name_once ON donors (drive_id, lower(name));

-- Who sews: a volunteer, or a group with one contact and no children's names.
CREATE TABLE people (
    drive_id    text        NOT NULL,
    number      bigint      NOT NULL,
    kind        text        NOT NULL,
    name        text        NOT NULL,
    contact     text        NOT NULL DEFAULT '',
    email       text        NOT NULL DEFAULT '',
    phone       text        NOT NULL DEFAULT '',
    address     text        NOT NULL DEFAULT '',
    pickup      text        NOT NULL DEFAULT '',
    heads       integer     NOT NULL DEFAULT 1,
    french_seam boolean     NOT NULL DEFAULT false,
    overlocker  boolean     NOT NULL DEFAULT false,
    pace        integer,
    note        text        NOT NULL DEFAULT '',
    active      boolean     NOT NULL DEFAULT true,
    created_at  timestamptz NOT NULL,
    version     integer     NOT NULL DEFAULT 1,
    CONSTRAINT people_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT people_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT people_kind_known CHECK (kind IN ('volunteer', 'school', 'chapter', 'sewing day')),
    CONSTRAINT people_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 120),
    CONSTRAINT people_heads_range CHECK (heads BETWEEN 1 AND 5000),
    CONSTRAINT people_pace_range CHECK (pace BETWEEN 1 AND 1000)
);
CREATE UNIQUE INDEX people_name_once ON people (drive_id, lower(name));

CREATE TABLE recipients (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    kind       text        NOT NULL,
    name       text        NOT NULL,
    ages       text        NOT NULL DEFAULT '',
    contact    text        NOT NULL DEFAULT '',
    email      text        NOT NULL DEFAULT '',
    phone      text        NOT NULL DEFAULT '',
    address    text        NOT NULL DEFAULT '',
    fibres     text[]      NOT NULL DEFAULT '{}',
    rules      text[]      NOT NULL DEFAULT '{}',
    note       text        NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL,
    version    integer     NOT NULL DEFAULT 1,
    CONSTRAINT recipients_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT recipients_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT recipients_kind_known CHECK (kind IN ('ward', 'hospice', 'shelter', 'other')),
    CONSTRAINT recipients_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 120)
);
CREATE UNIQUE INDEX recipients_name_once ON recipients (drive_id, lower(name));

-- Case specs. The spec itself is one value with its own rules (package sizing).
CREATE TABLE sizes (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    name       text        NOT NULL,
    spec       jsonb       NOT NULL,
    retired    boolean     NOT NULL DEFAULT false,
    created_at timestamptz NOT NULL,
    version    integer     NOT NULL DEFAULT 1,
    CONSTRAINT sizes_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT sizes_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT sizes_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 80)
);
CREATE UNIQUE INDEX sizes_name_once ON sizes (drive_id, lower(name));

-- Quotas: what a recipient asks for, by when. number 0 never exists: it stands
-- in the pillowcases ledger for "not promised yet".
CREATE TABLE asked (
    drive_id      text        NOT NULL,
    number        bigint      NOT NULL,
    recipient     bigint      NOT NULL,
    wanted        integer     NOT NULL,
    due           date,
    matter        text        NOT NULL DEFAULT 'should',
    weight        integer     NOT NULL,
    themes_wanted text[]      NOT NULL DEFAULT '{}',
    themes_avoid  text[]      NOT NULL DEFAULT '{}',
    kit_cases     integer,
    note          text        NOT NULL DEFAULT '',
    closed        boolean     NOT NULL DEFAULT false,
    created_at    timestamptz NOT NULL,
    version       integer     NOT NULL DEFAULT 1,
    CONSTRAINT asked_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT asked_recipient_fkey FOREIGN KEY (drive_id, recipient) REFERENCES recipients (drive_id, number),
    CONSTRAINT asked_number_counts CHECK (number > 0),
    CONSTRAINT asked_wanted_range CHECK (wanted BETWEEN 1 AND 100000),
    CONSTRAINT asked_matter_known CHECK (matter IN ('must', 'should', 'if there is enough', 'own')),
    CONSTRAINT asked_weight_range CHECK (weight BETWEEN 1 AND 10000),
    CONSTRAINT asked_kit_cases_range CHECK (kit_cases BETWEEN 1 AND 50)
);

-- Any of these sizes fills the quota.
CREATE TABLE asked_sizes (
    drive_id text   NOT NULL,
    asked    bigint NOT NULL,
    size     bigint NOT NULL,
    CONSTRAINT asked_sizes_pkey PRIMARY KEY (drive_id, asked, size),
    CONSTRAINT asked_sizes_asked_fkey FOREIGN KEY (drive_id, asked) REFERENCES asked (drive_id, number),
    CONSTRAINT asked_sizes_size_fkey FOREIGN KEY (drive_id, size) REFERENCES sizes (drive_id, number)
);

GRANT SELECT, INSERT, UPDATE ON drives, donors, people, recipients, sizes, asked TO boltward_server;
GRANT SELECT, INSERT, UPDATE (last) ON counters TO boltward_server;
GRANT SELECT, INSERT, DELETE ON asked_sizes TO boltward_server;
GRANT SELECT, INSERT, UPDATE (answer), DELETE ON once TO boltward_server;
-- Of what only grows, the server does not choose the ids: their order is what happened first.
GRANT SELECT, INSERT (drive_id, at, who, initials, request, act, kind, subject, changes) ON audit TO boltward_server;

-- Ledgers and the audit trail only ever grow, for the owner too.
-- +goose StatementBegin
CREATE FUNCTION only_append() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% only grows: % is refused', TG_TABLE_NAME, TG_OP
        USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_TABLE_NAME || '_only_append';
END $$;
-- +goose StatementEnd
-- Whoever may run a trigger's function may hang it on a table of their own.
REVOKE EXECUTE ON FUNCTION only_append FROM PUBLIC;

CREATE TRIGGER audit_rows_stay BEFORE UPDATE OR DELETE ON audit
    FOR EACH ROW EXECUTE FUNCTION only_append();
CREATE TRIGGER audit_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON audit
    FOR EACH STATEMENT EXECUTE FUNCTION only_append();
