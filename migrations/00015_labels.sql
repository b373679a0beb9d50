-- Labels for fabric: the sheets and rolls a drive prints them on, and what was
-- printed when, so that those without a label are known and any printing can be
-- repeated as it was. A printing that came to nothing is undone, not deleted.
-- +goose Up
CREATE TABLE label_papers (
    drive_id     text        NOT NULL,
    number       bigint      NOT NULL,
    name         text        NOT NULL,
    paper_width  bigint      NOT NULL,
    paper_height bigint      NOT NULL,
    margin_left  bigint      NOT NULL,
    margin_top   bigint      NOT NULL,
    label_width  bigint      NOT NULL,
    label_height bigint      NOT NULL,
    columns      integer     NOT NULL,
    rows         integer     NOT NULL,
    gap_across   bigint      NOT NULL,
    gap_down     bigint      NOT NULL,
    lines        boolean     NOT NULL DEFAULT false,
    retired      boolean     NOT NULL DEFAULT false,
    created_at   timestamptz NOT NULL,
    version      integer     NOT NULL DEFAULT 1,
    CONSTRAINT label_papers_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT label_papers_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT label_papers_number_counts CHECK (number > 0),
    CONSTRAINT label_papers_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 80),
    CONSTRAINT label_papers_apart CHECK (margin_left >= 0 AND margin_top >= 0 AND gap_across >= 0 AND gap_down >= 0
        AND label_width > 0 AND label_height > 0 AND columns > 0 AND rows > 0),
    CONSTRAINT label_papers_on_paper CHECK (margin_left + columns * label_width + (columns - 1) * gap_across <= paper_width
        AND margin_top + rows * label_height + (rows - 1) * gap_down <= paper_height)
);
CREATE UNIQUE INDEX label_papers_name_once ON label_papers (drive_id, lower(name)) WHERE NOT retired;

-- paper is the paper as it was then: it may be changed later.
CREATE TABLE label_prints (
    drive_id  text        NOT NULL,
    number    bigint      NOT NULL,
    which     text        NOT NULL,
    paper     jsonb       NOT NULL,
    start     integer     NOT NULL,
    at        timestamptz NOT NULL,
    who       bigint      NOT NULL,
    undone_at timestamptz,
    CONSTRAINT label_prints_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT label_prints_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT label_prints_which_known CHECK (which IN ('without a label', 'measured since', 'a drop-off', 'lots', 'all on the shelf')),
    CONSTRAINT label_prints_start CHECK (start > 0)
);

-- One label: piece 0 is the lot, copy counts several that are alike.
CREATE TABLE label_printed (
    drive_id text    NOT NULL,
    print    bigint  NOT NULL,
    position integer NOT NULL,
    lot      bigint  NOT NULL,
    piece    integer NOT NULL,
    copy     integer NOT NULL,
    copies   integer NOT NULL,
    CONSTRAINT label_printed_pkey PRIMARY KEY (drive_id, print, position),
    CONSTRAINT label_printed_print_fkey FOREIGN KEY (drive_id, print) REFERENCES label_prints (drive_id, number),
    CONSTRAINT label_printed_lot_fkey FOREIGN KEY (drive_id, lot) REFERENCES lots (drive_id, number),
    CONSTRAINT label_printed_copies CHECK (copy BETWEEN 1 AND copies)
);
CREATE INDEX label_printed_lot ON label_printed (drive_id, lot, piece);

GRANT SELECT, INSERT, UPDATE (name, paper_width, paper_height, margin_left, margin_top, label_width, label_height, columns, rows,
    gap_across, gap_down, lines, retired, version) ON label_papers TO boltward_server;
GRANT SELECT, INSERT, UPDATE (undone_at) ON label_prints TO boltward_server;
GRANT SELECT, INSERT ON label_printed TO boltward_server;
