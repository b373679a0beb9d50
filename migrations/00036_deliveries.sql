-- A delivery is made, leaves, arrives, and may be undone while nobody has said that it
-- arrived. What a recipient says arrived is kept as it was said, box by box, beside what
-- was sent; where the two differ it stays open until somebody settles it, and how it was
-- settled is kept too. Who said something, and the reasons people type, are personal: they
-- stand here, where they can be erased, and in no ledger.
-- +goose Up
ALTER TABLE deliveries
    ALTER COLUMN sent_on DROP NOT NULL, -- none: made, and still here
    ADD COLUMN undone_at timestamptz,
    ADD CONSTRAINT deliveries_confirmed_sent CHECK (confirmed_on IS NULL OR sent_on IS NOT NULL),
    ADD CONSTRAINT deliveries_undone_empty CHECK (undone_at IS NULL OR sent_on IS NULL);

-- returned came back from the recipient. added came to light when the recipient counted: it
-- was in the box and stands on no delivery note.
ALTER TABLE box_lines
    ADD COLUMN returned integer NOT NULL DEFAULT 0,
    ADD COLUMN added    boolean NOT NULL DEFAULT false,
    DROP CONSTRAINT box_lines_confirmed,
    ADD CONSTRAINT box_lines_confirmed CHECK (confirmed >= 0 AND missing >= 0 AND returned >= 0 AND confirmed + missing + returned <= n);

-- What somebody said of a delivery at one time. read_at stands once somebody of the drive
-- has read what came by the recipient's own page.
CREATE TABLE delivery_answers (
    drive_id text        NOT NULL,
    delivery bigint      NOT NULL,
    answer   integer     NOT NULL,
    how      text        NOT NULL,
    said_by  text        NOT NULL DEFAULT '',
    said_on  date        NOT NULL,
    note     text        NOT NULL DEFAULT '',
    at       timestamptz NOT NULL,
    who      bigint      NOT NULL,
    request  text        NOT NULL DEFAULT '',
    read_at  timestamptz,
    CONSTRAINT delivery_answers_pkey PRIMARY KEY (drive_id, delivery, answer),
    CONSTRAINT delivery_answers_delivery_fkey FOREIGN KEY (drive_id, delivery) REFERENCES deliveries (drive_id, number),
    CONSTRAINT delivery_answers_how_known CHECK (how IN ('by phone', 'signed note', 'in person', 'own page')),
    CONSTRAINT delivery_answers_said_by_short CHECK (length(said_by) <= 120),
    CONSTRAINT delivery_answers_note_short CHECK (length(note) <= 1000)
);
CREATE INDEX delivery_answers_unread ON delivery_answers (drive_id, delivery) WHERE how = 'own page' AND note <> '' AND read_at IS NULL;

-- What was said of one size in one box. more is what was said above the count that was
-- sent, as long as it is neither settled nor said otherwise.
CREATE TABLE delivery_counts (
    drive_id text    NOT NULL,
    delivery bigint  NOT NULL,
    answer   integer NOT NULL,
    box      bigint  NOT NULL,
    size     bigint  NOT NULL,
    sent     integer NOT NULL,
    arrived  integer NOT NULL,
    more     integer NOT NULL DEFAULT 0,
    CONSTRAINT delivery_counts_pkey PRIMARY KEY (drive_id, delivery, answer, box, size),
    CONSTRAINT delivery_counts_answer_fkey FOREIGN KEY (drive_id, delivery, answer) REFERENCES delivery_answers (drive_id, delivery, answer),
    CONSTRAINT delivery_counts_box_fkey FOREIGN KEY (drive_id, box) REFERENCES boxes (drive_id, number),
    CONSTRAINT delivery_counts_counts CHECK (sent > 0 AND arrived >= 0 AND more BETWEEN 0 AND arrived)
);
CREATE INDEX delivery_counts_more ON delivery_counts (drive_id, delivery) WHERE more > 0;

-- How a difference was settled.
CREATE TABLE delivery_settled (
    drive_id text        NOT NULL,
    delivery bigint      NOT NULL,
    settled  integer     NOT NULL,
    box      bigint      NOT NULL,
    size     bigint      NOT NULL,
    way      text        NOT NULL,
    n        integer     NOT NULL,
    reason   text        NOT NULL DEFAULT '',
    day      date        NOT NULL,
    at       timestamptz NOT NULL,
    who      bigint      NOT NULL,
    request  text        NOT NULL DEFAULT '',
    CONSTRAINT delivery_settled_pkey PRIMARY KEY (drive_id, delivery, settled),
    CONSTRAINT delivery_settled_delivery_fkey FOREIGN KEY (drive_id, delivery) REFERENCES deliveries (drive_id, number),
    CONSTRAINT delivery_settled_box_fkey FOREIGN KEY (drive_id, box) REFERENCES boxes (drive_id, number),
    CONSTRAINT delivery_settled_way_known CHECK (way IN ('found', 'not received', 'back good', 'back to check', 'more arrived', 'as the note')),
    CONSTRAINT delivery_settled_n CHECK (n > 0),
    CONSTRAINT delivery_settled_reason_short CHECK (length(reason) <= 500)
);

-- What a delivery and a box did is asked for wherever one is shown, and by the books.
CREATE INDEX case_entries_delivery ON case_entries (drive_id, delivery) WHERE delivery IS NOT NULL;
CREATE INDEX case_entries_box ON case_entries (drive_id, box) WHERE box IS NOT NULL;
CREATE INDEX boxes_delivery ON boxes (drive_id, delivery);

GRANT UPDATE (sent_on, carried_by, undone_at) ON deliveries TO boltward_server;
GRANT UPDATE (returned) ON box_lines TO boltward_server;
GRANT SELECT, INSERT, UPDATE (read_at) ON delivery_answers TO boltward_server;
GRANT SELECT, INSERT, UPDATE (more) ON delivery_counts TO boltward_server;
GRANT SELECT, INSERT ON delivery_settled TO boltward_server;
