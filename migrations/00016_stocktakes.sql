-- Stocktakes: what lay on the shelf beside what was booked, lot by lot, by any
-- number of people at once, over days. Nothing moves until the differences are
-- posted. Supplies are a simple count.
-- +goose Up
CREATE TABLE stocktakes (
    drive_id  text        NOT NULL,
    number    bigint      NOT NULL,
    shelf     text        NOT NULL DEFAULT '',
    state     text        NOT NULL DEFAULT 'open',
    reason    text        NOT NULL DEFAULT '',
    begun_at  timestamptz NOT NULL,
    begun_by  bigint      NOT NULL,
    closed_at timestamptz,
    CONSTRAINT stocktakes_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT stocktakes_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT stocktakes_state_known CHECK (state IN ('open', 'posted', 'dropped')),
    CONSTRAINT stocktakes_closed CHECK ((state = 'open') = (closed_at IS NULL))
);
-- A difference that two stocktakes found would be booked twice.
CREATE UNIQUE INDEX stocktakes_one_open ON stocktakes (drive_id) WHERE state = 'open';

CREATE TABLE stocktake_lots (
    drive_id   text        NOT NULL,
    stocktake  bigint      NOT NULL,
    lot        bigint      NOT NULL,
    counts     jsonb       NOT NULL,
    last_entry bigint      NOT NULL,
    differs    boolean     NOT NULL,
    version    integer     NOT NULL DEFAULT 1,
    at         timestamptz NOT NULL,
    who        bigint      NOT NULL,
    deed       bigint,
    CONSTRAINT stocktake_lots_pkey PRIMARY KEY (drive_id, stocktake, lot),
    CONSTRAINT stocktake_lots_stocktake_fkey FOREIGN KEY (drive_id, stocktake) REFERENCES stocktakes (drive_id, number),
    CONSTRAINT stocktake_lots_lot_fkey FOREIGN KEY (drive_id, lot) REFERENCES lots (drive_id, number),
    CONSTRAINT stocktake_lots_deed_fkey FOREIGN KEY (drive_id, deed) REFERENCES fabric_deeds (drive_id, number)
);

CREATE TABLE supplies (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    name       text        NOT NULL,
    unit       text        NOT NULL DEFAULT '',
    have       integer     NOT NULL,
    used       integer     NOT NULL,
    per_kits   integer     NOT NULL,
    note       text        NOT NULL DEFAULT '',
    retired    boolean     NOT NULL DEFAULT false,
    created_at timestamptz NOT NULL,
    version    integer     NOT NULL DEFAULT 1,
    CONSTRAINT supplies_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT supplies_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT supplies_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 80),
    CONSTRAINT supplies_have_range CHECK (have BETWEEN 0 AND 1000000),
    CONSTRAINT supplies_used_range CHECK (used BETWEEN 0 AND 10000 AND per_kits BETWEEN 1 AND 10000)
);
CREATE UNIQUE INDEX supplies_name_once ON supplies (drive_id, lower(name)) WHERE NOT retired;

GRANT SELECT, INSERT, UPDATE (state, reason, closed_at) ON stocktakes TO boltward_server;
GRANT SELECT, INSERT, DELETE, UPDATE (counts, last_entry, differs, version, at, who, deed) ON stocktake_lots TO boltward_server;
GRANT SELECT, INSERT, UPDATE (name, unit, have, used, per_kits, note, retired, version) ON supplies TO boltward_server;
