-- How a spreadsheet is to be read and what becomes of it: the sheet and the line of
-- headings that somebody chose, and the taking in of a long list as background
-- work, whose progress is a row that every process can read. What headings mean in
-- a drive is kept for the next file. No value is put on anything here, and a report
-- holds numbers only: the rows themselves are personal and stay in the file.
-- +goose Up
ALTER TABLE uploads
    ADD COLUMN sheet     text        NOT NULL DEFAULT '',
    ADD COLUMN heading   integer     NOT NULL DEFAULT 0,
    ADD COLUMN state     text        NOT NULL DEFAULT 'waiting',
    ADD COLUMN good      boolean     NOT NULL DEFAULT false,
    ADD COLUMN take_key  text        NOT NULL DEFAULT '',
    ADD COLUMN take_who  bigint      NOT NULL DEFAULT 0,
    ADD COLUMN take_at   timestamptz,
    ADD COLUMN request   text        NOT NULL DEFAULT '',
    ADD COLUMN done      integer     NOT NULL DEFAULT 0,
    ADD COLUMN total     integer     NOT NULL DEFAULT 0,
    ADD COLUMN stopping  boolean     NOT NULL DEFAULT false,
    ADD COLUMN trouble   text        NOT NULL DEFAULT '',
    ADD COLUMN taken     integer     NOT NULL DEFAULT 0,
    ADD COLUMN unchanged integer     NOT NULL DEFAULT 0,
    ADD COLUMN refused   integer     NOT NULL DEFAULT 0,
    ADD CONSTRAINT uploads_sheet_length CHECK (length(sheet) <= 200),
    ADD CONSTRAINT uploads_state_known CHECK (state IN ('waiting', 'asked', 'running', 'taken', 'stopped', 'failed'));
GRANT UPDATE (sheet, heading, state, good, take_key, take_who, take_at, request, done, total, stopping, trouble, taken, unchanged, refused)
    ON uploads TO boltward_server;

CREATE TABLE heading_choices (
    drive_id text NOT NULL,
    kind     text NOT NULL,
    heading  text NOT NULL,
    means    text NOT NULL,
    CONSTRAINT heading_choices_pkey PRIMARY KEY (drive_id, kind, heading),
    CONSTRAINT heading_choices_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT heading_choices_kind_known CHECK (kind IN ('fabric', 'people', 'asked', 'donors')),
    CONSTRAINT heading_choices_heading_length CHECK (length(heading) BETWEEN 1 AND 120),
    CONSTRAINT heading_choices_means_length CHECK (length(means) <= 40)
);
GRANT SELECT, INSERT, UPDATE (means), DELETE ON heading_choices TO boltward_server;
