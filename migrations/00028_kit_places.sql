-- Where the bag of a kit that can be handed out lies: a shelf, or a place where kits
-- change hands. It moves nothing, so it is no entry of the ledger.
-- +goose Up
ALTER TABLE kits ADD COLUMN place text NOT NULL DEFAULT '',
    ADD CONSTRAINT kits_place_short CHECK (length(place) <= 120);
GRANT UPDATE (place) ON kits TO boltward_server;
