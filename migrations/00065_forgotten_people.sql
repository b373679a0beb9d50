-- Somebody who sews may ask to be forgotten, as donors may: a number and what was
-- sewn stay, so that the books add up; who it was, and what they wrote, goes.
-- +goose Up
ALTER TABLE people ADD COLUMN erased_at timestamptz,
    ADD CONSTRAINT people_erased_whole CHECK (erased_at IS NULL OR (contact = '' AND email = '' AND phone = '' AND address = '' AND pickup = '' AND note = '' AND NOT active));
GRANT UPDATE (note) ON kit_reports TO boltward_server;
