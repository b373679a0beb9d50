-- Reminding kindly: by rule of the drive a draft is made for somebody who has kits;
-- a person sends it by their own mail program or phone, or the program by SMTP.
-- +goose Up
CREATE TABLE reminder_rules (
    drive_id    text    NOT NULL,
    on_at       boolean NOT NULL DEFAULT false,
    soon_days   integer NOT NULL, -- before the day; 0: never
    late_days   integer NOT NULL, -- after it; 0: never
    silent_days integer NOT NULL, -- since anything was heard; 0: never
    quiet       integer[] NOT NULL, -- weekdays, 0 is Sunday
    by_itself   boolean NOT NULL DEFAULT false, -- sent by SMTP without a person
    from_name   text    NOT NULL DEFAULT '',
    reply_to    text    NOT NULL DEFAULT '',
    version     integer NOT NULL DEFAULT 1,
    CONSTRAINT reminder_rules_pkey PRIMARY KEY (drive_id),
    CONSTRAINT reminder_rules_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT reminder_rules_days CHECK (soon_days BETWEEN 0 AND 60 AND late_days BETWEEN 0 AND 60 AND silent_days BETWEEN 0 AND 365),
    CONSTRAINT reminder_rules_quiet CHECK (quiet <@ ARRAY[0, 1, 2, 3, 4, 5, 6])
);

-- Who wants no reminders.
CREATE TABLE reminder_stops (
    drive_id text        NOT NULL,
    person   bigint      NOT NULL,
    at       timestamptz NOT NULL,
    CONSTRAINT reminder_stops_pkey PRIMARY KEY (drive_id, person),
    CONSTRAINT reminder_stops_person_fkey FOREIGN KEY (drive_id, person) REFERENCES people (drive_id, number)
);

-- One reminder to one person. Its words are made when it is read or sent, from how
-- the kits stand then; nothing personal is kept here.
CREATE TABLE reminders (
    drive_id text        NOT NULL,
    number   bigint      NOT NULL,
    person   bigint      NOT NULL,
    kind     text        NOT NULL,
    kits     bigint[]    NOT NULL,
    parts    integer[]   NOT NULL,
    state    text        NOT NULL DEFAULT 'draft',
    way      text        NOT NULL DEFAULT '',
    made_at  timestamptz NOT NULL,
    began_at timestamptz,
    ended_at timestamptz,
    trouble  text        NOT NULL DEFAULT '',
    who      bigint      NOT NULL DEFAULT 0,
    CONSTRAINT reminders_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT reminders_person_fkey FOREIGN KEY (drive_id, person) REFERENCES people (drive_id, number),
    CONSTRAINT reminders_kind_known CHECK (kind IN ('due soon', 'late', 'silent')),
    CONSTRAINT reminders_kits_paired CHECK (cardinality(kits) > 0 AND cardinality(kits) = cardinality(parts)),
    CONSTRAINT reminders_state_known CHECK (state IN ('draft', 'queued', 'sending', 'sent', 'perhaps sent', 'failed', 'dropped')),
    CONSTRAINT reminders_way_known CHECK (way IN ('', 'e-mail', 'text message', 'phone', 'in person'))
);
-- However many workers look, one stands for a person at a time.
CREATE UNIQUE INDEX reminders_standing ON reminders (drive_id, person) WHERE state IN ('draft', 'queued', 'sending');
CREATE INDEX reminders_person ON reminders (drive_id, person, number);

GRANT SELECT, INSERT, UPDATE (on_at, soon_days, late_days, silent_days, quiet, by_itself, from_name, reply_to, version) ON reminder_rules TO boltward_server;
GRANT SELECT, INSERT, DELETE ON reminder_stops TO boltward_server;
GRANT SELECT, INSERT, UPDATE (state, way, began_at, ended_at, trouble, who) ON reminders TO boltward_server;
