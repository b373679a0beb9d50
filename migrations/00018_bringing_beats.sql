-- Whoever takes a list in says several times a second that it is at it, so that one
-- who died over it is known after half a minute and another takes it up, and so
-- that it can be stopped although nobody is at it.
-- +goose Up
ALTER TABLE uploads ADD COLUMN beat timestamptz;
GRANT UPDATE (beat) ON uploads TO boltward_server;
