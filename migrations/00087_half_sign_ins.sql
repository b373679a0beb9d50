-- Who gives somebody's right password and then not the code of their second step knows the
-- password: whose it is should hear of it. A row stands from the password on and goes with the
-- right code; what is left when the code can come no more is told of, as a new browser is.
-- A mail about a sign-in whose job is gone is found without reading all of them.
-- +goose Up
CREATE TABLE half_sign_ins (
    id         bigint      GENERATED ALWAYS AS IDENTITY,
    account_id bigint      NOT NULL,
    epoch      integer     NOT NULL,
    device     text        NOT NULL,
    mark       bytea       NOT NULL, -- of the browser, as in devices
    began_at   timestamptz NOT NULL,
    until      timestamptz NOT NULL, -- the code can come so long
    wrong      integer     NOT NULL DEFAULT 0, -- codes that were refused
    told       text, -- none while the code can come
    told_at    timestamptz, -- since when it is told of, or the mail is on its way
    CONSTRAINT half_sign_ins_pkey PRIMARY KEY (id),
    CONSTRAINT half_sign_ins_account_fkey FOREIGN KEY (account_id) REFERENCES accounts (id),
    CONSTRAINT half_sign_ins_mark_whole CHECK (length(mark) = 32),
    CONSTRAINT half_sign_ins_wrong_counts CHECK (wrong >= 0),
    CONSTRAINT half_sign_ins_told_known CHECK (told IN ('on the page', 'queued', 'sending', 'sent', 'failed', 'perhaps sent')),
    CONSTRAINT half_sign_ins_told_when CHECK ((told IS NULL) = (told_at IS NULL))
);
CREATE INDEX half_sign_ins_account_began ON half_sign_ins (account_id, began_at DESC);
CREATE INDEX half_sign_ins_open ON half_sign_ins (until) WHERE told IS NULL;
CREATE INDEX half_sign_ins_told ON half_sign_ins (told_at) WHERE told IN ('queued', 'sending');
CREATE INDEX half_sign_ins_began ON half_sign_ins (began_at);
GRANT SELECT, INSERT, UPDATE (until, wrong, told, told_at), DELETE ON half_sign_ins TO boltward_server;

CREATE INDEX sign_ins_waiting ON sign_ins (id) WHERE told = 'queued';
