-- Initials of helpers, and photos and notes of cloth and kits, go after a time too, where a
-- drive says so. Counts and the numbers of who did what stay.
-- +goose Up
ALTER TABLE keeping
    ADD COLUMN initials integer,
    ADD COLUMN things integer,
    ADD CONSTRAINT keeping_initials_range CHECK (initials BETWEEN 1 AND 240),
    ADD CONSTRAINT keeping_things_range CHECK (things BETWEEN 1 AND 240);

-- Several helpers of one pass may have none any more.
ALTER TABLE pass_hands
    DROP CONSTRAINT pass_hands_once,
    DROP CONSTRAINT pass_hands_initials_short,
    ADD CONSTRAINT pass_hands_initials_short CHECK (length(initials) <= 4);
CREATE UNIQUE INDEX pass_hands_once ON pass_hands (drive_id, pass, initials) WHERE initials <> '';
CREATE OR REPLACE VIEW signers AS
    SELECT id, name, initials FROM accounts
    UNION ALL
    SELECT h.id, coalesce(nullif(h.initials, ''), 'a helper') || ' (pass ' || p.number || ', ' || p.place || ')', h.initials
    FROM pass_hands h JOIN passes p ON p.drive_id = h.drive_id AND p.number = h.pass;

GRANT UPDATE (initials, things) ON keeping TO boltward_server;
GRANT UPDATE (initials) ON pass_hands TO boltward_server;
GRANT UPDATE (started_by) ON laundry TO boltward_server;
GRANT UPDATE (packed_by, checked_by) ON boxes TO boltward_server;
