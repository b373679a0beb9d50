-- A kit that is taken apart once its cloth is cut leaves panels behind. Where they are good they
-- lie loose, and a change of the plan sews from them first.
-- +goose Up
ALTER TABLE kits ADD COLUMN loose boolean NOT NULL DEFAULT false;
GRANT UPDATE (loose) ON kits TO boltward_server;
