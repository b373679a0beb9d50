-- Which laundered pillowcases have left is kept as it happens: what lies here laundered
-- cannot be worked out from what was packed, since pillowcases are packed unlaundered
-- too, and leave in other ways than in boxes.
-- +goose Up
ALTER TABLE laundry_lines
    ADD COLUMN gone integer NOT NULL DEFAULT 0,
    ADD CONSTRAINT laundry_lines_gone CHECK (gone BETWEEN 0 AND n);

-- Until now laundered was what was washed less what went into boxes. So it stays for what
-- was washed before, as far as that lies here.
UPDATE laundry_lines l SET gone = least(l.n, greatest(0, x.washed - x.clean - x.earlier))
FROM (
    SELECT w.drive_id, w.batch, w.line, w.washed, w.earlier, least(greatest(w.washed - b.boxed, 0), b.here) AS clean
    FROM (
        SELECT i.*, sum(i.n) OVER (PARTITION BY i.drive_id, i.asked, i.size, i.kit, i.part) AS washed,
            sum(i.n) OVER (PARTITION BY i.drive_id, i.asked, i.size, i.kit, i.part ORDER BY i.batch, i.line) - i.n AS earlier
        FROM laundry_lines i
        JOIN laundry y ON y.drive_id = i.drive_id AND y.number = i.batch
        WHERE y.done_on IS NOT NULL AND y.undone_at IS NULL) w
    CROSS JOIN LATERAL (
        SELECT coalesce(sum(c.n) FILTER (WHERE c.state IN ('sewn', 'good')), 0) AS here,
            coalesce(sum(c.n) FILTER (WHERE c.state IN ('packed', 'delivered', 'confirmed', 'not received')), 0) AS boxed
        FROM case_balances c
        WHERE c.drive_id = w.drive_id AND c.asked = w.asked AND c.size = w.size AND c.kit = w.kit AND c.part = w.part) b) x
WHERE l.drive_id = x.drive_id AND l.batch = x.batch AND l.line = x.line;

-- How many laundered pillowcases of a line an entry of the ledger took away, as long as
-- they are not put back: what is undone or unpacked is laundered as before.
CREATE TABLE laundry_left (
    drive_id text    NOT NULL,
    entry    bigint  NOT NULL,
    batch    bigint  NOT NULL,
    line     integer NOT NULL,
    n        integer NOT NULL,
    CONSTRAINT laundry_left_pkey PRIMARY KEY (drive_id, entry, batch, line),
    CONSTRAINT laundry_left_entry_fkey FOREIGN KEY (drive_id, entry) REFERENCES case_entries (drive_id, id),
    CONSTRAINT laundry_left_line_fkey FOREIGN KEY (drive_id, batch, line) REFERENCES laundry_lines (drive_id, batch, line),
    CONSTRAINT laundry_left_n CHECK (n >= 0)
);

GRANT UPDATE (gone) ON laundry_lines TO boltward_server;
GRANT SELECT, INSERT, UPDATE (n) ON laundry_left TO boltward_server;
