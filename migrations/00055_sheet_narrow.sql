-- Cloth that is narrower than booked may still hold all panels of its sheet: the sheet stays as
-- it is drawn and knows how wide its cloth really is, so that what it leaves has its true width.
-- +goose Up
ALTER TABLE sheets ADD COLUMN narrow bigint;
ALTER TABLE sheets ADD CONSTRAINT sheets_narrow_range CHECK (narrow > 0);
GRANT UPDATE (narrow) ON sheets TO boltward_server;
