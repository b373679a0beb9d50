-- Letting others in: invitations for people who will sign in, and passes for the tablets of
-- a day, at which helpers say who they are by their initials.
-- +goose Up
ALTER TABLE links
    DROP CONSTRAINT links_purpose_known,
    ADD CONSTRAINT links_purpose_known CHECK (purpose IN ('first', 'account', 'person', 'recipient', 'invite', 'pass')),
    DROP CONSTRAINT links_drive_named,
    ADD CONSTRAINT links_drive_named CHECK ((purpose IN ('person', 'recipient', 'invite', 'pass')) = (drive_id IS NOT NULL));

-- When it runs out, and whether it was used or ended, is said by the link's row.
CREATE TABLE invites (
    drive_id text        NOT NULL,
    number   bigint      NOT NULL,
    role     text        NOT NULL,
    name     text        NOT NULL DEFAULT '', -- for whom it was meant; empty once it was used
    link     text        NOT NULL,
    made_by  bigint      NOT NULL,
    at       timestamptz NOT NULL,
    used_by  bigint,
    CONSTRAINT invites_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT invites_link_once UNIQUE (link),
    CONSTRAINT invites_link_fkey FOREIGN KEY (link) REFERENCES links (id),
    CONSTRAINT invites_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT invites_role_known CHECK (role IN ('organiser', 'desk', 'cutting', 'packing', 'reader')),
    CONSTRAINT invites_name_short CHECK (length(name) <= 100)
);

-- One pass is one tablet. It ends by the clock, or when an organiser ends it.
CREATE TABLE passes (
    drive_id   text        NOT NULL,
    number     bigint      NOT NULL,
    role       text        NOT NULL,
    place      text        NOT NULL,
    link       text        NOT NULL,
    code       bytea       NOT NULL, -- fingerprint of the digits that are said aloud
    code_until timestamptz NOT NULL,
    made_by    bigint      NOT NULL,
    at         timestamptz NOT NULL,
    until      timestamptz NOT NULL,
    opened_at  timestamptz,
    ended_at   timestamptz,
    ended_by   bigint,
    CONSTRAINT passes_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT passes_link_once UNIQUE (link),
    CONSTRAINT passes_link_fkey FOREIGN KEY (link) REFERENCES links (id),
    CONSTRAINT passes_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT passes_role_known CHECK (role IN ('desk', 'cutting', 'packing', 'reader')),
    CONSTRAINT passes_place_said CHECK (length(btrim(place)) BETWEEN 1 AND 40),
    -- the longest day there is has an hour more
    CONSTRAINT passes_for_a_day CHECK (until > at AND until <= at + interval '25 hours'),
    CONSTRAINT passes_ended CHECK ((ended_at IS NULL) = (ended_by IS NULL))
);
CREATE INDEX passes_code ON passes (code) WHERE opened_at IS NULL;
CREATE INDEX passes_until ON passes (drive_id, until);

-- Who is at a tablet. The id is far below zero and stands wherever the id of an account
-- would, so that no helper is ever taken for an account, nor for who has no account at all.
CREATE TABLE pass_hands (
    id       bigint      GENERATED ALWAYS AS IDENTITY (START WITH -1001 INCREMENT BY -1 MINVALUE -9223372036854775807 MAXVALUE -1001),
    drive_id text        NOT NULL,
    pass     bigint      NOT NULL,
    initials text        NOT NULL,
    at       timestamptz NOT NULL,
    CONSTRAINT pass_hands_pkey PRIMARY KEY (id),
    CONSTRAINT pass_hands_once UNIQUE (drive_id, pass, initials),
    CONSTRAINT pass_hands_pass_fkey FOREIGN KEY (drive_id, pass) REFERENCES passes (drive_id, number),
    CONSTRAINT pass_hands_initials_short CHECK (length(initials) BETWEEN 1 AND 4)
);

ALTER TABLE sign_ins
    ADD COLUMN drive_id text,
    ADD COLUMN pass     bigint,
    ADD COLUMN hand     bigint,
    ADD CONSTRAINT sign_ins_pass_fkey FOREIGN KEY (drive_id, pass) REFERENCES passes (drive_id, number),
    ADD CONSTRAINT sign_ins_hand_fkey FOREIGN KEY (hand) REFERENCES pass_hands (id),
    ADD CONSTRAINT sign_ins_account_or_pass CHECK ((account_id IS NULL) <> (pass IS NULL) AND (pass IS NULL) = (drive_id IS NULL));

-- Whoever a row names by who: somebody with an account, or a helper at a tablet.
CREATE VIEW signers AS
    SELECT id, name, initials FROM accounts
    UNION ALL
    SELECT h.id, h.initials || ' (pass ' || p.number || ', ' || p.place || ')', h.initials
    FROM pass_hands h JOIN passes p ON p.drive_id = h.drive_id AND p.number = h.pass;

GRANT SELECT, INSERT, UPDATE (name, used_by) ON invites TO boltward_server;
GRANT SELECT, INSERT, UPDATE (opened_at, ended_at, ended_by) ON passes TO boltward_server;
GRANT SELECT, INSERT ON pass_hands TO boltward_server;
GRANT UPDATE (hand) ON sign_ins TO boltward_server;
GRANT SELECT ON signers TO boltward_server;
