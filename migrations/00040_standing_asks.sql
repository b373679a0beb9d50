-- What a recipient asks for every month: each month's line comes by itself, once, some days
-- before it is due, until an end date. What was made stays a line of its own.
-- +goose Up
CREATE TABLE standing_asks (
    drive_id      text        NOT NULL,
    number        bigint      NOT NULL,
    recipient     bigint      NOT NULL,
    sizes         bigint[]    NOT NULL,
    wanted        integer     NOT NULL,
    due           date        NOT NULL,
    lead_days     integer     NOT NULL,
    until         date,
    matter        text        NOT NULL,
    weight        integer     NOT NULL,
    themes_wanted text[]      NOT NULL DEFAULT '{}',
    themes_avoid  text[]      NOT NULL DEFAULT '{}',
    kit_cases     integer,
    note          text        NOT NULL DEFAULT '',
    created_at    timestamptz NOT NULL,
    ended_at      timestamptz,
    version       integer     NOT NULL DEFAULT 1,
    CONSTRAINT standing_asks_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT standing_asks_recipient_fkey FOREIGN KEY (drive_id, recipient) REFERENCES recipients (drive_id, number),
    CONSTRAINT standing_asks_wanted_range CHECK (wanted BETWEEN 1 AND 100000),
    CONSTRAINT standing_asks_lead_range CHECK (lead_days BETWEEN 0 AND 180),
    CONSTRAINT standing_asks_until_after CHECK (until >= due),
    CONSTRAINT standing_asks_weight_range CHECK (weight BETWEEN 1 AND 10000)
);

-- month is the first day of the month that the line is for.
ALTER TABLE asked
    ADD COLUMN standing bigint,
    ADD COLUMN month date,
    ADD CONSTRAINT asked_standing_fkey FOREIGN KEY (drive_id, standing) REFERENCES standing_asks (drive_id, number),
    ADD CONSTRAINT asked_standing_month CHECK ((standing IS NULL) = (month IS NULL));
CREATE UNIQUE INDEX asked_standing_once ON asked (drive_id, standing, month) WHERE standing IS NOT NULL;

GRANT SELECT, INSERT, UPDATE (wanted, until, ended_at, version) ON standing_asks TO boltward_server;
