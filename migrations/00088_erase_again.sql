-- Whoever was erased after a backup was made is in the database again once that is put back, until
-- they are erased anew. That they are still to be erased is kept in the transaction that puts the
-- rows in, so that a restore which is cut off just then lets nobody in. A restore makes this table
-- before all others that an older backup lacks: it names none of them, and no later file changes it.
-- +goose Up
CREATE TABLE erase_again (
    kind       text        NOT NULL,
    drive      text        NOT NULL, -- '' of an account
    number     bigint      NOT NULL,
    created_at timestamptz, -- when the number was given, where that is known
    erased_at  timestamptz NOT NULL,
    CONSTRAINT erase_again_kind_known CHECK (kind IN ('person', 'donor', 'account')),
    CONSTRAINT erase_again_once UNIQUE NULLS NOT DISTINCT (kind, drive, number, created_at, erased_at)
);
GRANT SELECT, DELETE ON erase_again TO boltward_server;
