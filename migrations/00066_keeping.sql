-- How long a drive keeps what is personal after it was last of use, in months; no
-- figure: until an organiser forgets it.
-- +goose Up
CREATE TABLE keeping (
    drive_id text    NOT NULL,
    people   integer,
    donors   integer,
    writing  integer,
    version  integer NOT NULL DEFAULT 1,
    CONSTRAINT keeping_pkey PRIMARY KEY (drive_id),
    CONSTRAINT keeping_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT keeping_people_range CHECK (people BETWEEN 1 AND 240),
    CONSTRAINT keeping_donors_range CHECK (donors BETWEEN 1 AND 240),
    CONSTRAINT keeping_writing_range CHECK (writing BETWEEN 1 AND 240)
);
GRANT SELECT, INSERT, UPDATE (people, donors, writing, version) ON keeping TO boltward_server;
