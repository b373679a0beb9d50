-- Of cloth that was found narrower several things can be booked, one after the other, and it can
-- come up short besides: each deed is known, so that all of them can be taken back.
-- +goose Up
ALTER TABLE sheets ADD COLUMN narrow_deeds bigint[] NOT NULL DEFAULT '{}';
UPDATE sheets SET narrow_deeds = ARRAY[short_deed], short_deed = NULL WHERE narrow IS NOT NULL AND short_deed IS NOT NULL;
GRANT UPDATE (narrow_deeds) ON sheets TO boltward_server;
