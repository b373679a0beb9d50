-- Tries at the digits of passes, which are counted over all addresses as well.
-- +goose Up
ALTER TABLE sign_in_attempts ADD COLUMN digits boolean NOT NULL DEFAULT false;
CREATE INDEX sign_in_attempts_digits ON sign_in_attempts (at) WHERE digits AND NOT good;
