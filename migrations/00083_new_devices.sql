-- Somebody whose password was found out should hear of it: signing in at a browser that they did
-- not use before is told by mail where mail is set up, and on their page always. A browser is
-- known by a cookie that it keeps; here stands its keyed fingerprint alone.
-- +goose Up
CREATE TABLE devices (
    account_id bigint      NOT NULL,
    mark       bytea       NOT NULL,
    first_at   timestamptz NOT NULL,
    seen_at    timestamptz NOT NULL, -- when somebody last signed in there
    CONSTRAINT devices_pkey PRIMARY KEY (account_id, mark),
    CONSTRAINT devices_account_fkey FOREIGN KEY (account_id) REFERENCES accounts (id),
    CONSTRAINT devices_mark_whole CHECK (length(mark) = 32)
);
CREATE INDEX devices_seen ON devices (seen_at);

ALTER TABLE sign_ins
    ADD COLUMN told    text, -- none where the browser was known
    ADD COLUMN told_at timestamptz, -- since when the mail is on its way
    ADD CONSTRAINT sign_ins_told_known CHECK (told IN ('on the page', 'queued', 'sending', 'sent', 'failed', 'perhaps sent'));
CREATE INDEX sign_ins_told ON sign_ins (told_at) WHERE told = 'sending';

GRANT SELECT, INSERT, UPDATE (seen_at), DELETE ON devices TO boltward_server;
GRANT UPDATE (told, told_at) ON sign_ins TO boltward_server;
