-- How far each line has come is asked for by nearly every page: the pillowcases that stand
-- somewhere are found by their line, without reading those that long moved on.
-- +goose Up
CREATE INDEX case_balances_standing ON case_balances (drive_id, asked, state) INCLUDE (n) WHERE n > 0;
