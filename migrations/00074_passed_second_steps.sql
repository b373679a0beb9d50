-- Which sessions have passed the second step of signing in. A session from before it was
-- turned on has not; of those there are now, the ones begun since could only begin by a code.
-- +goose Up
ALTER TABLE sign_ins ADD COLUMN second boolean NOT NULL DEFAULT false;
UPDATE sign_ins i SET second = true FROM second_steps t WHERE t.account_id = i.account_id AND t.on_at <= i.began_at;
GRANT UPDATE (second) ON sign_ins TO boltward_server;
