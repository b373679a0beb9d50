-- Thanks: what a drive's letters say and who signs them, and who was thanked for
-- what. A gift is what one donor brought on one day. Thanks that were noted by
-- mistake are undone, not deleted. A donor may not want to be written to, and may
-- ask to be forgotten: then only a number is left, so that the ledger keeps its sums.
-- +goose Up
ALTER TABLE donors ADD COLUMN no_letters boolean NOT NULL DEFAULT false,
    ADD COLUMN erased_at timestamptz,
    ADD CONSTRAINT donors_erased_whole CHECK (erased_at IS NULL OR (email = '' AND phone = '' AND address = '' AND note = '' AND NOT letter));

CREATE TABLE letter_rules (
    drive_id    text    NOT NULL,
    wording     text    NOT NULL,
    paper       text    NOT NULL,
    sender      text    NOT NULL DEFAULT '',
    signed_by   text    NOT NULL DEFAULT '',
    in_return   text    NOT NULL DEFAULT '',
    registered  text    NOT NULL DEFAULT '',
    window_left bigint  NOT NULL,
    window_top  bigint  NOT NULL,
    version     integer NOT NULL DEFAULT 1,
    CONSTRAINT letter_rules_pkey PRIMARY KEY (drive_id),
    CONSTRAINT letter_rules_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT letter_rules_wording_known CHECK (wording IN ('plain', 'US', 'Canada', 'UK')),
    CONSTRAINT letter_rules_paper_known CHECK (paper IN ('A4', 'Letter'))
);

CREATE TABLE thanks (
    drive_id  text        NOT NULL,
    number    bigint      NOT NULL,
    donor     bigint      NOT NULL,
    gift_on   date        NOT NULL,
    way       text        NOT NULL,
    thanked_on date       NOT NULL,
    at        timestamptz NOT NULL,
    who       bigint      NOT NULL,
    undone_at timestamptz,
    CONSTRAINT thanks_pkey PRIMARY KEY (drive_id, number, donor, gift_on),
    CONSTRAINT thanks_donor_fkey FOREIGN KEY (drive_id, donor) REFERENCES donors (drive_id, number),
    CONSTRAINT thanks_way_known CHECK (way IN ('letter', 'e-mail', 'in person'))
);
CREATE UNIQUE INDEX thanks_once ON thanks (drive_id, donor, gift_on) WHERE undone_at IS NULL;

GRANT SELECT, INSERT, UPDATE (wording, paper, sender, signed_by, in_return, registered, window_left, window_top, version) ON letter_rules TO boltward_server;
GRANT SELECT, INSERT, UPDATE (undone_at) ON thanks TO boltward_server;
