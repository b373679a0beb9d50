-- Pillowcases that are laundered together before they are packed: a batch with its
-- number, which they are by line, size and kit, and when it was done. The ledger does
-- not know of it: a pillowcase that was laundered is good as before.
-- +goose Up
CREATE TABLE laundry (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    started_on date        NOT NULL,
    started_by text        NOT NULL DEFAULT '', -- initials
    done_on    date,
    done_by    text        NOT NULL DEFAULT '',
    note       text        NOT NULL DEFAULT '',
    undone_at  timestamptz,
    at         timestamptz NOT NULL,
    who        bigint      NOT NULL,
    CONSTRAINT laundry_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT laundry_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT laundry_done_after CHECK (done_on >= started_on)
);
CREATE INDEX laundry_open ON laundry (drive_id) WHERE done_on IS NULL AND undone_at IS NULL;

-- n goes down, and another line up, where pillowcases of the batch are promised to
-- another line later: they are the same pillowcases.
CREATE TABLE laundry_lines (
    drive_id text    NOT NULL,
    batch    bigint  NOT NULL,
    line     integer NOT NULL,
    asked    bigint  NOT NULL,
    size     bigint  NOT NULL,
    kit      bigint  NOT NULL,
    part     integer NOT NULL,
    n        integer NOT NULL,
    CONSTRAINT laundry_lines_pkey PRIMARY KEY (drive_id, batch, line),
    CONSTRAINT laundry_lines_batch_fkey FOREIGN KEY (drive_id, batch) REFERENCES laundry (drive_id, number),
    CONSTRAINT laundry_lines_size_fkey FOREIGN KEY (drive_id, size) REFERENCES sizes (drive_id, number),
    CONSTRAINT laundry_lines_n CHECK (n >= 0)
);
CREATE INDEX laundry_lines_stack ON laundry_lines (drive_id, size, kit, part);

GRANT SELECT, INSERT, UPDATE (done_on, done_by, note, undone_at) ON laundry TO boltward_server;
GRANT SELECT, INSERT, UPDATE (n) ON laundry_lines TO boltward_server;
