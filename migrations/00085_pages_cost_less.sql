-- What pages that are opened all day look for, found by an index. Each has a condition that the
-- statement which wants it names: else Postgres might take it for whatever names the drive, as keys that
-- are looked up while thousands of rows come in, and go through all of them for each.
-- +goose Up
-- What was checked in the last weeks stands on each card; what came before is not looked at.
CREATE INDEX checks_day ON checks (drive_id, day) WHERE day > '-infinity';
-- How many lots came from whom is counted for each page of the tag queue; nothing found lots by their donor.
CREATE INDEX lots_donor ON lots (drive_id, donor) WHERE donor IS NOT NULL;
-- Shelves in use, for forms.
CREATE INDEX lots_shelf ON lots (drive_id, shelf) WHERE shelf <> '';
