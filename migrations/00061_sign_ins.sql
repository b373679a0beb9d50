-- Where somebody is signed in, so that they see it and can end one of several; the second
-- step of signing in; and whether a drive asks it of its organisers.
-- +goose Up
-- A session holds the id of its row here and nothing else of who it is. The epoch is that
-- of the account when it began.
CREATE TABLE sign_ins (
    id         bigint      GENERATED ALWAYS AS IDENTITY,
    account_id bigint,
    epoch      integer     NOT NULL DEFAULT 0,
    device     text        NOT NULL DEFAULT '', -- in words, such as "Firefox on Android"
    began_at   timestamptz NOT NULL,
    seen_at    timestamptz NOT NULL,
    ended_at   timestamptz,
    CONSTRAINT sign_ins_pkey PRIMARY KEY (id),
    CONSTRAINT sign_ins_account_fkey FOREIGN KEY (account_id) REFERENCES accounts (id),
    CONSTRAINT sign_ins_device_short CHECK (length(device) <= 60)
);
CREATE INDEX sign_ins_account ON sign_ins (account_id) WHERE ended_at IS NULL;
CREATE INDEX sign_ins_began ON sign_ins (began_at);

-- The secret is sealed with the installation's key, so that the table alone gives no code.
CREATE TABLE second_steps (
    account_id bigint      NOT NULL,
    secret     bytea       NOT NULL,
    begun_at   timestamptz NOT NULL,
    on_at      timestamptz, -- none until a code of it was typed
    -- the thirty seconds of the last code taken: none is taken twice, nor an earlier one
    last_step  bigint      NOT NULL DEFAULT 0,
    CONSTRAINT second_steps_pkey PRIMARY KEY (account_id),
    CONSTRAINT second_steps_account_fkey FOREIGN KEY (account_id) REFERENCES accounts (id)
);

CREATE TABLE recovery_codes (
    account_id bigint      NOT NULL,
    number     integer     NOT NULL,
    hash       bytea       NOT NULL,
    used_at    timestamptz,
    CONSTRAINT recovery_codes_pkey PRIMARY KEY (account_id, number),
    CONSTRAINT recovery_codes_account_fkey FOREIGN KEY (account_id) REFERENCES accounts (id)
);

ALTER TABLE memberships
    ADD COLUMN version integer NOT NULL DEFAULT 1,
    ADD COLUMN seen_at timestamptz; -- when this person last opened something of the drive

ALTER TABLE drives ADD COLUMN second_step boolean NOT NULL DEFAULT false;

GRANT SELECT, INSERT, UPDATE (epoch, seen_at, ended_at), DELETE ON sign_ins TO boltward_server;
GRANT SELECT, INSERT, UPDATE, DELETE ON second_steps TO boltward_server;
GRANT SELECT, INSERT, UPDATE (used_at), DELETE ON recovery_codes TO boltward_server;
