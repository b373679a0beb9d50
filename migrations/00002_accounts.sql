-- People who sign in, what they may do in which drive, links, sessions, and the
-- tries at signing in. These stand outside the drives: one person may work for several.
-- +goose Up
CREATE TABLE accounts (
    id          bigint      GENERATED ALWAYS AS IDENTITY,
    email       text        NOT NULL,
    name        text        NOT NULL,
    initials    text        NOT NULL,
    -- empty until the person has chosen one by their link: then nothing opens it
    password    text        NOT NULL DEFAULT '',
    -- counts up to end every session begun before
    epoch       integer     NOT NULL DEFAULT 1,
    opens       boolean     NOT NULL DEFAULT false,
    created_at  timestamptz NOT NULL,
    CONSTRAINT accounts_pkey PRIMARY KEY (id),
    CONSTRAINT accounts_email_once UNIQUE (email),
    CONSTRAINT accounts_email_form CHECK (email = lower(email) AND length(email) BETWEEN 3 AND 254 AND email LIKE '%@%'),
    CONSTRAINT accounts_name_said CHECK (length(btrim(name)) BETWEEN 1 AND 100),
    CONSTRAINT accounts_initials_short CHECK (length(initials) BETWEEN 1 AND 6),
    CONSTRAINT accounts_epoch_counts CHECK (epoch > 0)
);

CREATE TABLE memberships (
    drive_id   text        NOT NULL,
    account_id bigint      NOT NULL,
    role       text        NOT NULL,
    created_at timestamptz NOT NULL,
    CONSTRAINT memberships_pkey PRIMARY KEY (drive_id, account_id),
    CONSTRAINT memberships_account_fkey FOREIGN KEY (account_id) REFERENCES accounts (id),
    CONSTRAINT memberships_role_known CHECK (role IN ('organiser', 'desk', 'cutting', 'packing', 'reader'))
);
CREATE INDEX memberships_account ON memberships (account_id);

-- A link is an id here and a signature that only the installation's key makes,
-- so that the table alone opens nothing. 'first' makes the first organiser;
-- 'account' lets one person choose a password.
CREATE TABLE links (
    id         text        NOT NULL,
    purpose    text        NOT NULL,
    account_id bigint,
    created_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    used_at    timestamptz,
    revoked_at timestamptz,
    CONSTRAINT links_pkey PRIMARY KEY (id),
    CONSTRAINT links_account_fkey FOREIGN KEY (account_id) REFERENCES accounts (id),
    CONSTRAINT links_purpose_known CHECK (purpose IN ('first', 'account')),
    CONSTRAINT links_account_named CHECK ((purpose = 'account') = (account_id IS NOT NULL))
);
-- Several processes that start at once print the same first link.
CREATE UNIQUE INDEX links_first_once ON links (purpose)
    WHERE purpose = 'first' AND used_at IS NULL AND revoked_at IS NULL;
CREATE INDEX links_account ON links (account_id);

-- The token is kept as a hash.
CREATE TABLE sessions (
    token  text        NOT NULL,
    data   bytea       NOT NULL,
    expiry timestamptz NOT NULL,
    CONSTRAINT sessions_pkey PRIMARY KEY (token)
);
CREATE INDEX sessions_expiry ON sessions (expiry);

-- Who tried and from where are keyed fingerprints: enough to count by, nothing
-- to read back.
CREATE TABLE sign_in_attempts (
    id     bigint      GENERATED ALWAYS AS IDENTITY,
    at     timestamptz NOT NULL,
    who    bytea       NOT NULL,
    source bytea       NOT NULL,
    good   boolean     NOT NULL DEFAULT false,
    CONSTRAINT sign_in_attempts_pkey PRIMARY KEY (id)
);
CREATE INDEX sign_in_attempts_who ON sign_in_attempts (who, at);
CREATE INDEX sign_in_attempts_source ON sign_in_attempts (source, at);
CREATE INDEX sign_in_attempts_at ON sign_in_attempts (at);

GRANT SELECT, INSERT, UPDATE ON accounts, links TO boltward_server;
GRANT SELECT, INSERT, UPDATE, DELETE ON memberships, sessions, sign_in_attempts TO boltward_server;
