-- An alarm about a password without the code ends with that password, not with the sessions: an
-- account knows in which epoch its password was set. Of passwords set before nobody knows; there
-- the epoch now stands, as it was taken until now. And whose password it is may say that it was them.
-- +goose Up
ALTER TABLE accounts ADD COLUMN password_epoch integer NOT NULL DEFAULT 1;
UPDATE accounts SET password_epoch = epoch;
ALTER TABLE accounts ADD CONSTRAINT accounts_password_epoch_begun CHECK (password_epoch BETWEEN 1 AND epoch);

ALTER TABLE half_sign_ins
    ADD COLUMN mine_at timestamptz, -- since when whose password it is says that it was them
    ADD CONSTRAINT half_sign_ins_mine_told CHECK (mine_at IS NULL OR told IS NOT NULL);
GRANT UPDATE (mine_at) ON half_sign_ins TO boltward_server;
