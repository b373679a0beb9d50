-- What pages that are opened all day look for, found by an index.
-- +goose Up
-- What was checked in the last weeks stands on each card; what came before is not looked at.
CREATE INDEX checks_day ON checks (drive_id, day);
