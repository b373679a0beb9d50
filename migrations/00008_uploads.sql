-- A spreadsheet waits here between its preview and the person's word, so that
-- any process can take it and a form sent twice finds it again. It holds personal
-- data, so it is gone once it is left, and after a day in any case.
-- +goose Up
CREATE TABLE uploads (
    drive_id text        NOT NULL,
    number   bigint      NOT NULL,
    kind     text        NOT NULL,
    name     text        NOT NULL,
    content  bytea       NOT NULL,
    who      bigint      NOT NULL,
    at       timestamptz NOT NULL,
    CONSTRAINT uploads_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT uploads_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT uploads_kind_known CHECK (kind IN ('fabric', 'people', 'asked', 'donors')),
    CONSTRAINT uploads_name_length CHECK (length(name) <= 200),
    CONSTRAINT uploads_size CHECK (length(content) BETWEEN 1 AND 10485760)
);
CREATE INDEX uploads_at ON uploads (at);

GRANT SELECT, INSERT, DELETE ON uploads TO boltward_server;
