-- Backups: what was made when, how large, and whether it was good; and what the processes
-- that make them by themselves were told, so that every page can say it.
-- +goose Up

-- Where counting has got to is part of a backup. Reading it does not count on.
GRANT SELECT ON ALL SEQUENCES IN SCHEMA public TO boltward_server;
ALTER DEFAULT PRIVILEGES IN SCHEMA public GRANT SELECT ON SEQUENCES TO boltward_server;

CREATE TABLE backups (
    id        bigint      GENERATED ALWAYS AS IDENTITY,
    by_itself boolean     NOT NULL, -- by the settings, else by hand
    state     text        NOT NULL DEFAULT 'running',
    began_at  timestamptz NOT NULL,
    ended_at  timestamptz,
    folder    text        NOT NULL,
    file      text        NOT NULL,
    bytes     bigint      NOT NULL DEFAULT 0,
    sha256    text        NOT NULL DEFAULT '',
    counts    jsonb       NOT NULL DEFAULT '{}', -- rows by table
    trouble   text        NOT NULL DEFAULT '',
    gone_at   timestamptz, -- since when the file lies in its folder no more
    CONSTRAINT backups_pkey PRIMARY KEY (id),
    -- stopped: the process that made it ended, which is no fault of the backup
    CONSTRAINT backups_state_known CHECK (state IN ('running', 'good', 'failed', 'stopped')),
    CONSTRAINT backups_good_whole CHECK (state <> 'good' OR (ended_at IS NOT NULL AND bytes > 0 AND length(sha256) = 64)),
    CONSTRAINT backups_failed_why CHECK (state <> 'failed' OR trouble <> '')
);
CREATE INDEX backups_good ON backups (began_at) WHERE state = 'good';
CREATE INDEX backups_by_itself ON backups (id) WHERE by_itself;

CREATE TABLE backup_settings (
    one           boolean     NOT NULL DEFAULT true,
    folder        text        NOT NULL,
    recipients    text[]      NOT NULL, -- public keys
    every_seconds bigint      NOT NULL,
    keep_days     integer     NOT NULL,
    keep_weeks    integer     NOT NULL,
    keep_months   integer     NOT NULL,
    since         timestamptz NOT NULL,
    CONSTRAINT backup_settings_pkey PRIMARY KEY (one),
    CONSTRAINT backup_settings_once CHECK (one),
    CONSTRAINT backup_settings_every CHECK (every_seconds > 0)
);

GRANT SELECT, INSERT, UPDATE (state, ended_at, bytes, sha256, counts, trouble, gone_at) ON backups TO boltward_server;
GRANT SELECT, INSERT, UPDATE (folder, recipients, every_seconds, keep_days, keep_weeks, keep_months, since) ON backup_settings TO boltward_server;
