-- The last good backup is the one that was made last, whatever a clock said meanwhile.
-- +goose Up
DROP INDEX backups_good;
CREATE INDEX backups_good ON backups (id) WHERE state = 'good';
