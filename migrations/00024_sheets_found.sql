-- A sheet's cloth may be narrower or flawed, not only shorter: what was found stands in
-- words beside the length that was good.
-- +goose Up
ALTER TABLE sheets ADD COLUMN short_why text NOT NULL DEFAULT '';
GRANT UPDATE (short_why) ON sheets TO boltward_server;
