-- Where a whole ledger went wrong, every balance differs: of each drive the first are kept,
-- and how many there were.
-- +goose Up
ALTER TABLE ledger_checks
    ADD COLUMN differing jsonb NOT NULL DEFAULT '{}', -- how many differed, by drive
    ADD CONSTRAINT ledger_checks_differing CHECK (jsonb_typeof(differing) = 'object');
UPDATE ledger_checks c SET
    differing = (SELECT jsonb_object_agg(drive, n) FROM (SELECT d ->> 'drive' AS drive, count(*) AS n FROM jsonb_array_elements(c.differences) AS d GROUP BY 1) AS x),
    differences = (SELECT jsonb_agg(d ORDER BY i) FROM (
        SELECT d, i, row_number() OVER (PARTITION BY d ->> 'drive' ORDER BY i) AS nth FROM jsonb_array_elements(c.differences) WITH ORDINALITY AS e (d, i)) AS y WHERE nth <= 50)
WHERE jsonb_array_length(differences) > 0;
ALTER TABLE ledger_checks ADD CONSTRAINT ledger_checks_counted CHECK ((differences = '[]') = (differing = '{}'));
GRANT INSERT (differing) ON ledger_checks TO boltward_server;
