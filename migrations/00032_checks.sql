-- What the checking table looks at, and what it found: a check is one stack looked
-- through by one person, its lines say how many passed and what was wrong with the
-- others. Each line stands beside the entry of the pillowcases ledger that it became,
-- so a line whose entry was undone counts no more.
-- +goose Up
CREATE TABLE check_lists (
    drive_id  text    NOT NULL,
    tolerance bigint  NOT NULL, -- of a finished size, either way, in 1/1600 mm
    launders  boolean NOT NULL DEFAULT false, -- pillowcases are laundered here before they are packed
    points    jsonb   NOT NULL,
    version   integer NOT NULL DEFAULT 1,
    CONSTRAINT check_lists_pkey PRIMARY KEY (drive_id),
    CONSTRAINT check_lists_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT check_lists_tolerance_range CHECK (tolerance > 0 AND tolerance <= 160000)
);

-- looked is which points of the list every one was looked at for; pins and needles
-- always are, and stand in no list.
CREATE TABLE checks (
    drive_id text        NOT NULL,
    number   bigint      NOT NULL,
    asked    bigint      NOT NULL,
    size     bigint      NOT NULL,
    kit      bigint      NOT NULL,
    part     integer     NOT NULL,
    looked   text[]      NOT NULL,
    width    bigint, -- of the one that is furthest off, laid flat; null: not measured
    length   bigint,
    washed   boolean     NOT NULL DEFAULT true,
    initials text        NOT NULL DEFAULT '', -- of who checked
    note     text        NOT NULL DEFAULT '',
    day      date        NOT NULL,
    at       timestamptz NOT NULL,
    who      bigint      NOT NULL,
    CONSTRAINT checks_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT checks_size_fkey FOREIGN KEY (drive_id, size) REFERENCES sizes (drive_id, number),
    CONSTRAINT checks_measured_whole CHECK ((width IS NULL) = (length IS NULL))
);

CREATE TABLE check_lines (
    drive_id text    NOT NULL,
    "check"  bigint  NOT NULL,
    line     integer NOT NULL,
    n        integer NOT NULL,
    outcome  text    NOT NULL,
    reasons  text[]  NOT NULL,
    entry    bigint  NOT NULL,
    CONSTRAINT check_lines_pkey PRIMARY KEY (drive_id, "check", line),
    CONSTRAINT check_lines_check_fkey FOREIGN KEY (drive_id, "check") REFERENCES checks (drive_id, number),
    CONSTRAINT check_lines_entry_fkey FOREIGN KEY (drive_id, entry) REFERENCES case_entries (drive_id, id),
    CONSTRAINT check_lines_n CHECK (n > 0),
    CONSTRAINT check_lines_outcome_known CHECK (outcome IN ('good', 'to mend', 'not usable'))
);
CREATE UNIQUE INDEX check_lines_entry_once ON check_lines (drive_id, entry);

-- What somebody wrote beside an entry. People write names into notes, so these can
-- be emptied, which the ledger cannot.
CREATE TABLE case_notes (
    drive_id text   NOT NULL,
    entry    bigint NOT NULL,
    note     text   NOT NULL,
    CONSTRAINT case_notes_pkey PRIMARY KEY (drive_id, entry),
    CONSTRAINT case_notes_entry_fkey FOREIGN KEY (drive_id, entry) REFERENCES case_entries (drive_id, id)
);

GRANT SELECT, INSERT, UPDATE (tolerance, launders, points, version) ON check_lists TO boltward_server;
GRANT SELECT, INSERT, UPDATE (note, initials) ON checks TO boltward_server;
GRANT SELECT, INSERT ON check_lines TO boltward_server;
GRANT SELECT, INSERT, UPDATE (note) ON case_notes TO boltward_server;
