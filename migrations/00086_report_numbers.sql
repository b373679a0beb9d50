-- What holders say of their kits is numbered by a sequence, as entries of the ledgers are: nobody
-- counts these numbers, and by the drive's counter everybody who reported from home waited
-- until the one before was on the disk.
-- +goose Up
ALTER TABLE kit_reports ALTER COLUMN number ADD GENERATED ALWAYS AS IDENTITY;
SELECT setval(pg_get_serial_sequence('kit_reports', 'number'), greatest(
    (SELECT coalesce(max(number), 0) FROM kit_reports), (SELECT coalesce(max(last), 0) FROM counters WHERE kind = 'report')) + 1, false);
DELETE FROM counters WHERE kind = 'report';
