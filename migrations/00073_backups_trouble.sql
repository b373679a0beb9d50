-- What went wrong unexpectedly stands in the log; the rows are for every organiser to read.
-- +goose Up
UPDATE backups SET trouble = 'something unexpected happened; the log of the program that made it says what'
WHERE state = 'failed' AND trouble LIKE 'backup to %';
