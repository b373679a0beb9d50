-- Whoever looks after the program can end backups by themselves; then nobody is told that
-- none comes any more.
-- +goose Up
GRANT DELETE ON backup_settings TO boltward_server;
