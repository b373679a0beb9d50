-- Hours given: what a person or a group says they worked, in minutes of all of
-- them together. What was written by mistake is undone, not deleted.
-- +goose Up
CREATE TABLE hours (
    drive_id  text        NOT NULL,
    number    bigint      NOT NULL,
    person    bigint      NOT NULL,
    day       date        NOT NULL,
    doing     text        NOT NULL,
    heads     integer     NOT NULL,
    minutes   integer     NOT NULL,
    at        timestamptz NOT NULL,
    who       bigint      NOT NULL,
    undone_at timestamptz,
    CONSTRAINT hours_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT hours_person_fkey FOREIGN KEY (drive_id, person) REFERENCES people (drive_id, number),
    CONSTRAINT hours_doing_known CHECK (doing IN ('sewing', 'cutting', 'checking', 'at the table', 'other')),
    CONSTRAINT hours_range CHECK (heads BETWEEN 1 AND 5000 AND minutes BETWEEN 1 AND 7200000)
);
CREATE INDEX hours_person ON hours (drive_id, person, day);

GRANT SELECT, INSERT, UPDATE (undone_at) ON hours TO boltward_server;
