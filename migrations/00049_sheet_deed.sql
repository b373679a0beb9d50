-- What was booked of the cloth of a sheet that was found narrow or flawed is known by its number,
-- so that it is that which is undone, whatever else was booked in the same moment.
-- +goose Up
ALTER TABLE sheets ADD COLUMN short_deed bigint;
GRANT UPDATE (short_deed) ON sheets TO boltward_server;
