-- People watch a plan being worked out: how long that has taken moves with the
-- other figures, and shows that somebody is still at it.
-- +goose Up
ALTER TABLE plans ADD COLUMN seconds double precision NOT NULL DEFAULT 0;
GRANT UPDATE (seconds) ON plans TO boltward_server;
