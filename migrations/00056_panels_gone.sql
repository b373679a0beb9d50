-- Of the panels that lie loose a single one can be of no use, and some of them can be put into a
-- kit by hand: which lies there is said of each panel, not of its kit.
-- +goose Up
ALTER TABLE panels ADD COLUMN gone boolean NOT NULL DEFAULT false;
GRANT UPDATE (gone, kit, part, pillowcase) ON panels TO boltward_server;
